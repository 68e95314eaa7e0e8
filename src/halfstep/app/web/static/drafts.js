// Keeps what was typed until the server has it: a closed tab, a fault or a dead line loses nothing.
//
//   <form data-draft="chart-7" data-draft-of="2026-11-28T10:00:00">
//
// What stands in the fields is kept in the browser as it is typed. It is put back when the page
// comes again, unless the server has a newer state (`data-draft-of`), and forgotten when sent. It is
// kept under the address that the form is sent to: a fault may show the form at another page.

const PREFIX = "halfstep draft ";

function fields(form) {
  return [...form.elements].filter((one) => one.name && !["file", "submit", "button", "hidden", "password"].includes(one.type));
}

function state(form) {
  return fields(form).map((one) => [one.name, one.type === "checkbox" || one.type === "radio" ? one.checked : one.value, one.value]);
}

function key(form) {
  return PREFIX + new URL(form.getAttribute("action"), location.href).pathname + " " + form.dataset.draft;
}

function keep(form) {
  try {
    localStorage.setItem(key(form), JSON.stringify({ of: form.dataset.draftOf ?? "", state: state(form) }));
  } catch {
    // a browser that keeps nothing: the page works without
  }
}

function restore(form) {
  let kept;
  try {
    kept = JSON.parse(localStorage.getItem(key(form)) ?? "null");
  } catch {
    return;
  }
  if (!kept || kept.of !== (form.dataset.draftOf ?? "")) return;
  let isOther = false;
  fields(form).forEach((one, place) => {
    const [name, value, marked] = kept.state[place] ?? [];
    if (name !== one.name) return;
    if (one.type === "checkbox" || one.type === "radio") {
      if (marked === one.value && one.checked !== value) [one.checked, isOther] = [value, true];
    } else if (one.value !== value) {
      [one.value, isOther] = [value, true];
    }
  });
  if (isOther) {
    form.dispatchEvent(new Event("input", { bubbles: true }));
    fields(form)[0]?.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

function forget(form) {
  try {
    localStorage.removeItem(key(form));
  } catch {
    // nothing was kept
  }
}

try {
  const sent = sessionStorage.getItem("halfstep sent");
  if (sent && !document.querySelector(".fault")) localStorage.removeItem(sent);
  sessionStorage.removeItem("halfstep sent");
} catch {
  // nothing was kept
}
for (const form of document.querySelectorAll("form[data-draft]")) restore(form);
document.addEventListener("input", (event) => event.target.form?.dataset.draft && keep(event.target.form));
document.addEventListener("taken", (event) => event.target.dataset?.draft && !event.target.dataset.swapOn && forget(event.target));
document.addEventListener("submit", (event) => {
  // a form that leaves the page: forgotten when the next page comes without a fault
  if (event.target.dataset.draft && !event.defaultPrevented) {
    try {
      sessionStorage.setItem("halfstep sent", key(event.target));
    } catch {
      // nothing is kept then
    }
  }
});
