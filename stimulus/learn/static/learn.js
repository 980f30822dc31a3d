// Draws each field that stands on the page from the data beside it.
import { drawField } from "./field.js";

for (const field of document.querySelectorAll("svg[data-field]")) {
  const data = document.getElementById(field.dataset.field);
  if (data) drawField(field, JSON.parse(data.textContent));
}
