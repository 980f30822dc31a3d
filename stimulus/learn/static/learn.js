// Draws the field of the exam that stands on the page.
import { drawField } from "./field.js";

const field = document.querySelector("[data-field]");
const first = document.getElementById("first");
if (field && first) drawField(field, JSON.parse(first.textContent));
