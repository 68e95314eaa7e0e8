// A chart while it is typed: faults lead to their place, files can be dropped on the page.

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
  marked();
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
