// The live page: told by server-sent events, a few things to ask, and a clock in between.
import { drawField } from "./field.js";

const root = document.querySelector("[data-live]");
const part = (name) => document.querySelector(`[data-${name}]`);
const json = (id) => JSON.parse(document.getElementById(id)?.textContent || "null");
const SURE = json("sure-words-by-ask") || {};
const KEYS = {
  h: "hold", g: "go-on", r: "explain", p: "practise-again", w: "waive-practice", k: "skip-eye",
  s: "stop",
};
const CAN = {
  hold: ["ready", "practising", "testing", "resting"],
  "go-on": ["held"],
  explain: ["ready", "practising", "testing", "resting"],
  "skip-eye": ["ready", "practising", "testing", "resting", "held"],
  stop: ["ready", "practising", "testing", "resting", "held"],
};
let view = null;
let toldAt = performance.now();
let dimming = 0;

function put(name, words) {
  const found = part(name);
  if (found && found.textContent !== words) found.textContent = words;
}

function clock(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

function showPress() {
  const lamp = part("press");
  if (Number(lamp.dataset.count || 0) === view.presses) return;
  lamp.dataset.count = view.presses;
  lamp.classList.add("lit");
  clearTimeout(dimming);
  dimming = setTimeout(() => lamp.classList.remove("lit"), 500);
}

function show(next) {
  const moved = !view || view.lines !== next.lines || view.running !== next.running;
  view = next;
  if (moved) toldAt = performance.now();
  showPress();
  put("left", left(0));
  if (moved) showAll();
}

function showAll() {
  put("code", view.code);
  put("phase", view.phase);
  put("sentence", view.sentence);
  put("eye-name", `${view.eye} eye`);
  put("last", view.last ? `Shown last: ${view.last.words}` : "Nothing shown yet.");
  put("practice", view.practice);
  put("standing", view.standing);
  part("standing").className = `verdict v-${["fine so far", "re-instruct now"].indexOf(view.standing)}`;
  put("frames", frames());
  part("trouble").hidden = !view.trouble;
  put("trouble", view.trouble);
  part("after").hidden = view.running;
  part("after").querySelector("a").href = `/results/${view.exam}`;
  drawField(part("field"), view);
  showEyes();
  showStrip();
  showAdvice();
  showButtons();
  tick();
}

function frames() {
  const late = `${view.frames_late} of ${view.frames_shown} frames late`;
  return `${late}; ${view.spoiled} of ${view.presentations} presentations spoiled.`;
}

function made(name, words, className) {
  const element = document.createElement(name);
  if (words) element.textContent = words;
  if (className) element.className = className;
  return element;
}

function showEyes() {
  part("eyes").replaceChildren(...view.eyes.map((eye) => {
    const line = made("li");
    line.append(made("span", `${eye.eye} eye, ${eye.status}`, "label"));
    const bar = made("progress");
    bar.max = eye.total;
    bar.value = eye.done;
    bar.setAttribute("aria-label", `Places done, ${eye.eye} eye`);
    line.append(bar, made("span", `${eye.done} of ${eye.total} places`, "value"));
    return line;
  }));
}

function showStrip() {
  part("strip").replaceChildren(...view.strip.map((one) => {
    const line = made("li", "", `d-${Math.min(one.decided, 2)}`);
    const meter = made("progress");
    [meter.max, meter.value] = [1, one.share];
    meter.setAttribute("aria-label", one.title);
    line.append(made("span", one.title, "label"), meter, made("span", one.words, "value"));
    return line;
  }));
}

function showAdvice() {
  part("advice-box").hidden = !view.advice || !view.running;
  put("advice-head", view.advice_head);
  put("advice", view.advice);
  const own = part("advice-own");
  if (own) own.textContent = ownAdvice[view.advice_kind] || "";
}

function showButtons() {
  for (const button of document.querySelectorAll("[data-ask]")) {
    const what = button.dataset.ask;
    const may = { "practise-again": view.may_repeat, "waive-practice": view.may_waive }[what];
    if (may !== undefined) button.hidden = !may;
    button.disabled = !view.running || !(may ?? CAN[what].includes(view.phase));
  }
}

function tick() {
  if (!view) return;
  const going = view.running && ["practising", "testing"].includes(view.phase);
  const since = going ? (performance.now() - toldAt) / 1000 : 0;
  put("elapsed", clock(view.elapsed_s + since));
  put("left", left(since));
}

function left(since) {
  if (!view.running || ["finished", "stopped"].includes(view.phase)) return "–";
  if (!view.left_s) return "not known yet";
  const [low, , high] = view.left_s.map((s) => Math.max(0, s - since));
  if (high < 50) return "less than a minute";
  const [from, to] = [Math.floor(low / 30) / 2, Math.ceil(high / 30) / 2];
  return from === to ? `about ${to} min` : `${from} to ${to} min`;
}

async function ask(what, sure) {
  const form = new URLSearchParams({ do: what, by: "script", sure: sure ? "yes" : "" });
  const answer = await fetch("/live/ask", { method: "POST", body: form }).catch(() => null);
  const done = answer && answer.ok && !answer.redirected;
  put("told", done ? "Asked." : "Not done: the exam does not hear the station.");
}

function askOnce(what) {
  if (!SURE[what]) return ask(what, false);
  const dialog = part("dialog");
  part("dialog-words").textContent = SURE[what][0];
  part("yes").textContent = SURE[what][1];
  part("yes").onclick = () => { dialog.close(); ask(what, true); };
  part("no").onclick = () => dialog.close();
  dialog.showModal();
  part("no").focus();
}

function press(what) {
  const button = document.querySelector(`[data-ask="${what}"]`);
  if (button && !button.disabled) askOnce(what);
}

function onKey(event) {
  const typing = event.target.closest("input:not([type=checkbox]), textarea, select");
  const plain = !event.ctrlKey && !event.metaKey && !event.altKey && !event.repeat;
  const what = KEYS[event.key.toLowerCase()];
  if (!what || typing || !plain || part("dialog").open || !part("keys").checked) return;
  event.preventDefault();
  press(what);
}

async function lookWhetherItFailed() {
  const answer = await fetch("/live/state").catch(() => null);
  if (answer?.ok && !(await answer.json()).running) location.reload();
}

function follow() {
  const source = new EventSource("/live/events");
  source.onmessage = (event) => {
    part("lost").hidden = true;
    const next = JSON.parse(event.data);
    if (next) show(next);
    else lookWhetherItFailed();
  };
  source.onerror = () => {
    part("lost").hidden = false;
    if (source.readyState === EventSource.CLOSED) setTimeout(follow, 1000);
  };
}

const ownAdvice = json("own-advice") || {};

if (root) {
  part("controls").addEventListener("submit", (event) => {
    const what = event.submitter?.dataset.ask;
    if (!what) return;
    event.preventDefault();
    press(what);
  });
  document.addEventListener("keydown", onKey);
  setInterval(tick, 1000);
  const first = json("first");
  if (first) show(first);
  follow();
}
