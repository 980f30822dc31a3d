// Print buttons, and loading the page anew while the set-up is being tried out.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}

const box = document.querySelector("[data-trying]");

async function look() {
  const answer = await fetch("/checks/state");
  const now = await answer.json();
  const changed = now.tried !== Number(box.dataset.tried) || !now.trying;
  if (changed) location.reload();
  else setTimeout(look, 500);
}

if (box && box.dataset.trying === "yes") setTimeout(look, 500);
