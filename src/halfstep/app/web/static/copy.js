// Copies what stands in a field: <button data-copy="ID-OF-THE-FIELD" hidden>, shown where it can.

import { gettext } from "./words.js";

function tell(line) {
  document.getElementById("told").textContent = line;
}

for (const button of document.querySelectorAll("[data-copy]")) {
  button.hidden = !navigator.clipboard;
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("[data-copy]");
  if (!button) return;
  const field = document.getElementById(button.dataset.copy);
  try {
    await navigator.clipboard.writeText(field.value);
    tell("Copied.");
  } catch {
    field.select();
    tell(gettext("Copy what is marked now."));
  }
});
