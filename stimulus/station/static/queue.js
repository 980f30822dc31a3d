// A chosen file becomes the text of the form, where it can be read before it is sent.
const row = document.querySelector("[data-file-row]");
const file = document.querySelector("#file");
const text = document.querySelector("#csv");

row.hidden = false;
file.addEventListener("change", async () => {
  const chosen = file.files[0];
  if (!chosen) return;
  if (chosen.size > 400000) {
    file.setCustomValidity("This file is too large for a queue: at most 400 kB.");
    file.reportValidity();
    return;
  }
  file.setCustomValidity("");
  text.value = await chosen.text();
  text.focus();
});

// The next exam can begin as soon as the one before has ended: load the page anew, unless
// something was typed into it.
const running = document.querySelector("[data-running]");
let typed = false;
document.addEventListener("input", () => { typed = true; });

async function look() {
  const answer = await fetch("/live/state").catch(() => null);
  const now = answer?.ok ? await answer.json() : null;
  if (!now || now.running) {
    setTimeout(look, 1000);
    return;
  }
  if (!typed) location.reload();
  const start = document.querySelector("[data-start]");
  if (start) start.disabled = false;
  running.textContent = `${running.dataset.running} has ended.`;
}

if (running) setTimeout(look, 500);
