// The phone's page: round trips all the time, and each press with the time the phone gave it.
const area = document.querySelector("[data-area]");
const state = document.querySelector("[data-state]");
const words = document.querySelector("[data-words]");
const FAST_MS = 60;
const CALM_MS = 250;
let last = null;
let refusal = "measuring";

async function send(path, fields) {
  const body = new URLSearchParams(fields);
  const answer = await fetch(path, { method: "POST", body, cache: "no-store" });
  if (!answer.ok) throw new Error(String(answer.status));
  return answer.json();
}

async function trip() {
  const fields = { sent: performance.now() };
  if (last) Object.assign(fields, last);
  last = null;
  const told = await send("/press/echo", fields);
  last = { trip: told.trip, back: performance.now() };
  show(told);
}

function show(told) {
  refusal = told.refusal;
  area.toggleAttribute("data-refused", Boolean(refusal));
  state.textContent = refusal ? `Not in use: ${refusal}.` : "In use. Press when you notice a flicker.";
  words.textContent = told.words;
}

async function measure() {
  try {
    await trip();
  } catch {
    last = null;
    refusal = "lost";
    area.setAttribute("data-refused", "");
    state.textContent = "The station does not answer. Trying again…";
  }
  setTimeout(measure, refusal ? FAST_MS : CALM_MS);
}

function press(event) {
  event.preventDefault();
  area.classList.add("down");
  setTimeout(() => area.classList.remove("down"), 120);
  send("/press/now", { at: event.timeStamp, sent: performance.now() }).catch(() => {});
}

area.addEventListener("pointerdown", press);
area.addEventListener("keydown", (event) => {
  if (!event.repeat && [" ", "Enter"].includes(event.key)) press(event);
});
area.addEventListener("contextmenu", (event) => event.preventDefault());
navigator.wakeLock?.request("screen").catch(() => {});
measure();
