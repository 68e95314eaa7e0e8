// A chart while it is typed: faults lead to their place, files can be dropped on the page.

import { gettext } from "./words.js";

const form = document.getElementById("chart-form");
const field = document.getElementById("text");

function ready(root) {
  for (const button of root.querySelectorAll("button.scripted")) button.hidden = false;
}

function marked() {
  const faults = document.getElementById("faults");
  if (!field || !faults) return;
  if (faults.querySelector(".fault")) field.setAttribute("aria-invalid", "true");
  else field.removeAttribute("aria-invalid");
}

// Each state of the page has a number, so that an older one never goes over a newer one.
const turn = form?.elements.turn;
const page = crypto.randomUUID?.() ?? String(Math.random()).slice(2);
let turns = 0;
function count() {
  if (turn) turn.value = `${page}-${++turns}`;
}
document.addEventListener("input", (event) => event.target.form === form && count(), true);
document.addEventListener("click", (event) => event.target.form === form && count(), true);

// What a reader of the screen is told: the first fault, that it is mended, or a scale that is set.
let told = "";
let chosen = "";
function say() {
  const fault = document.querySelector("#faults .fault p, #faults p.fault")?.textContent ?? "";
  const line = chosen || fault || (told ? gettext("It can be read now.") : "");
  chosen = "";
  if (line !== told) document.getElementById("said").textContent = line;
  told = fault ? line : "";
}
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[name=scale]");
  if (button) chosen = button.value.includes(" ") ? gettext("%(scale)s is your choice.", { scale: button.textContent.trim() }) : gettext("The program chooses again.");
});

// Lines and columns count letters, as readers do; a browser counts halves of some of them.
function select(button) {
  const lines = field.value.split("\n");
  const line = Number(button.dataset.line) - 1;
  const before = [...(lines[line] ?? "")].slice(0, Number(button.dataset.column) - 1).join("");
  const wrong = [...(lines[line] ?? "")].slice(Number(button.dataset.column) - 1).slice(0, Number(button.dataset.length)).join("");
  const start = lines.slice(0, line).join("\n").length + (line ? 1 : 0) + before.length;
  field.focus();
  field.setSelectionRange(start, start + wrong.length);
}

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[data-goes-to]");
  if (button && field) select(button);
});

document.addEventListener("swapped", (event) => {
  ready(event.detail);
  if (event.detail.id === "faults") {
    marked();
    say();
  }
  const kept = document.getElementById("kept");
  if (kept && form) form.dataset.draftOf = kept.dataset.at;
});

ready(document);

// A file that is dropped becomes a chart of its own.
document.addEventListener("dragover", (event) => {
  if (event.dataTransfer?.types.includes("Files")) event.preventDefault();
});
document.addEventListener("drop", (event) => {
  const file = event.dataTransfer?.files[0];
  if (!file) return;
  event.preventDefault();
  const sent = document.createElement("form");
  sent.method = "post";
  sent.action = "/charts";
  sent.enctype = "multipart/form-data";
  sent.hidden = true;
  const input = document.createElement("input");
  input.type = "file";
  input.name = "file";
  const files = new DataTransfer();
  files.items.add(file);
  input.files = files.files;
  sent.append(input);
  document.body.append(sent);
  sent.submit();
});
