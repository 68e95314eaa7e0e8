// Puts one part of an answer in the place of the old part, so that a page need not be left.
//
//   <form data-swap="#drawn">            on sending: fetch the answer, take its #drawn for ours
//   <a data-swap="#list">                the same for a link
//   data-swap-on="input" on a form       send by itself, a moment after the last key
//   data-swap-every="2" on an element    fetch `data-swap-from` again each so many seconds
//
// Without this script forms post and links lead as always. A fault comes as a line of text and is
// told in the page; what was typed stays where it is.

import { gettext } from "./words.js";

const told = document.getElementById("told");

export function tell(line) {
  if (told) told.textContent = line;
}

function parts(selector, html) {
  const answer = new DOMParser().parseFromString(html, "text/html");
  return selector.split(",").map((one) => [document.querySelector(one), answer.querySelector(one)]);
}

// Who had the focus before a part was put in its place, and where to look for it again: the same
// control if it can still be pressed, else the smallest part around it that is still there.
function focused() {
  const active = document.activeElement;
  const around = [];
  for (let one = active; one && one !== document.body; one = one.parentElement) if (one.id) around.push(one.id);
  return { around, marks: ["name", "value", "formaction"].map((name) => [name, active?.getAttribute?.(name) ?? null]), tag: active?.tagName };
}

function isSame(one, { marks }) {
  return !one.disabled && marks.every(([name, value]) => one.getAttribute(name) === value);
}

function focusAgain(before) {
  const part = before.around.map((id) => document.getElementById(id)).find(Boolean);
  if (!part || document.activeElement === part || part.contains(document.activeElement)) return;
  const same = part.id === before.around[0] && part.tagName === before.tag ? part : [...part.getElementsByTagName(before.tag)].find((one) => isSame(one, before));
  const next = same ?? part.querySelector(":scope > summary") ?? part;
  if (next === part && next.tabIndex < 0) next.tabIndex = -1;
  next.focus({ preventScroll: true });
}

function put(selector, html) {
  const focus = focused();
  for (const [old, fresh] of parts(selector, html)) {
    if (!old || !fresh) continue;
    const open = [...old.querySelectorAll("details[open][id]")].map((one) => one.id);
    old.replaceWith(document.adoptNode(fresh));
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    document.dispatchEvent(new CustomEvent("swapped", { detail: fresh }));
  }
  focusAgain(focus);
}

const running = new WeakMap();

export async function swap(element, address, options, selector) {
  running.get(element)?.abort();
  const stop = new AbortController();
  running.set(element, stop);
  element.setAttribute("aria-busy", "true");
  try {
    const headers = { "x-swap": selector, ...options.headers };
    const answer = await fetch(address, { ...options, headers, signal: stop.signal });
    const text = await answer.text();
    if (element.dataset.swapFrom && !element.isConnected) return false; // of a part that is gone
    const isPage = (answer.headers.get("content-type") ?? "").startsWith("text/html");
    if (!isPage) {
      tell(text);
      return false;
    }
    put(selector, text);
    tell("");
    if (answer.redirected && element.dataset.swapAddress !== "stay") {
      history.replaceState(null, "", answer.url);
    }
    element.dispatchEvent(new CustomEvent("taken", { bubbles: true }));
    return answer.ok;
  } catch (error) {
    if (error.name !== "AbortError") tell(gettext("The program does not answer; what you typed is kept."));
    return false;
  } finally {
    if (running.get(element) === stop) element.removeAttribute("aria-busy");
  }
}

function send(form, button) {
  const address = button?.formAction && button.hasAttribute("formaction") ? button.formAction : form.action;
  const data = new FormData(form, button);
  const isGet = form.method === "get";
  const target = isGet ? `${address.split("?")[0]}?${new URLSearchParams(data)}` : address;
  const options = isGet ? {} : { method: "post", body: form.enctype === "multipart/form-data" ? data : new URLSearchParams(data) };
  return swap(form, target, options, button?.dataset.swap ?? form.dataset.swap);
}

document.addEventListener("submit", (event) => {
  const { target: form, submitter } = event;
  if (!form.dataset.swap || submitter?.hasAttribute("data-whole")) return;
  event.preventDefault();
  send(form, submitter);
});

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[data-swap]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  swap(link, link.href, {}, link.dataset.swap);
});

// A page that comes with a fault begins at the field that is at fault.
document.querySelector("main [aria-invalid]")?.focus();

const PAUSE_MS = 250;
const waiting = new WeakMap();

document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (form?.dataset.swapOn !== "input") return;
  clearTimeout(waiting.get(form));
  const button = form.querySelector("[data-by-itself]");
  waiting.set(form, setTimeout(() => send(form, button), PAUSE_MS));
});

function askAgain() {
  for (const one of document.querySelectorAll("[data-swap-from]")) {
    const due = Number(one.dataset.swapDue ?? 0);
    if (document.hidden || Date.now() < due) continue;
    one.dataset.swapDue = Date.now() + 1000 * Number(one.dataset.swapEvery ?? 2);
    swap(one, one.dataset.swapFrom, {}, `#${one.id}`);
  }
}

askAgain();
setInterval(askAgain, 250);
