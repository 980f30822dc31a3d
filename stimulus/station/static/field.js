// The round field in true degrees: x to the right and y up, as the participant sees it.
const SVG = "http://www.w3.org/2000/svg";
const RING_STEP_DEG = 10;

function element(parent, name, attributes, words) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words !== undefined) made.textContent = words;
  parent.append(made);
  return made;
}

export function edgeOf(places) {
  const farthest = Math.max(8, ...places.map((p) => Math.hypot(p.x_deg, p.y_deg)));
  return Math.ceil(farthest + 3.5) + 0.5;
}

export function drawField(svg, view) {
  const edge = edgeOf(view.places);
  const half = edge + 1.2;
  svg.replaceChildren();
  svg.setAttribute("viewBox", `${-half} ${-half} ${2 * half} ${2 * half}`);
  element(svg, "circle", { r: edge, class: "ground" });
  for (let r = RING_STEP_DEG; r < edge; r += RING_STEP_DEG) {
    element(svg, "circle", { r, class: "ring" });
    element(svg, "text", { x: -view.temporal * r, y: -0.4, class: "ring-word" }, `${r}°`);
  }
  drawBlindSpot(svg, view.blind_spot);
  element(svg, "path", { d: "M-0.7 0H0.7M0-0.7V0.7", class: "mark-cross" });
  const corner = { y: half - 0.3, class: "side-word" };
  const sides = view.temporal > 0 ? ["nasal", "temporal"] : ["temporal", "nasal"];
  element(svg, "text", { x: -half, "text-anchor": "start", ...corner }, sides[0]);
  element(svg, "text", { x: half, "text-anchor": "end", ...corner }, sides[1]);
  for (const place of view.places) drawPlace(svg, place);
  if (view.last?.eye === view.eye) drawLast(svg, view.last);
}

function drawBlindSpot(svg, spot) {
  if (!spot) return;
  element(svg, "ellipse", { cx: spot[0], cy: -spot[1], rx: 2.75, ry: 3.75, class: "blind" });
}

function drawPlace(svg, place) {
  const at = { cx: place.x_deg, cy: -place.y_deg };
  if (place.state === "to do") {
    element(svg, "circle", { ...at, r: place.radius_deg, class: "todo-place" });
    return;
  }
  const kind = place.state === "done" ? "done-place" : "begun-place";
  const disc = element(svg, "circle", { ...at, r: place.radius_deg, class: kind, fill: place.colour });
  element(disc, "title", {}, titleOf(place));
  const level = element(svg, "text", {
    x: place.x_deg, y: -place.y_deg + place.radius_deg + 1.5, class: "level",
  }, `${place.unseen ? "<" : ""}${place.estimate_db.toFixed(0)}`);
  if (place.unseen) {
    element(svg, "circle", { ...at, r: 0.7 * place.radius_deg, class: "unseen-ring" });
  } else if (place.give_or_take_db !== null) {
    element(level, "tspan", { class: "sure" }, ` ±${place.give_or_take_db.toFixed(0)}`);
  }
}

function titleOf(place) {
  if (place.give_or_take_db === null) return `Place ${place.number}: ${place.estimate_db} dB`;
  return `Place ${place.number}: ${place.estimate_db} dB, give or take ${place.give_or_take_db}, ` +
    `${place.tries} shown, ${place.state}`;
}

function drawLast(svg, last) {
  const at = { x: last.x_deg, y: -last.y_deg };
  if (last.role === "blank") return;
  element(svg, "circle", { cx: at.x, cy: at.y, r: 3.3, class: `shown-ring ${last.verdict}` });
  const seen = last.verdict === "seen" || (last.verdict === "" && last.pressed);
  const sign = last.verdict === "" && !last.pressed ? "…" : seen ? "✓" : "–";
  element(svg, "text", { x: at.x, y: at.y - 3.8, class: "sign" }, sign);
}
