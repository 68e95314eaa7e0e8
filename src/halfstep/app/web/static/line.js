// Edits a line on its staff: a note is chosen and moved by pointer or by key.
//
// The form below the music holds the state: its field `at` names the chosen note, its buttons are
// what can be done, and their `aria-keyshortcuts` the keys. A key presses a button. Presses wait
// for one another; several alike in a row are sent as one.

import { gettext } from "./words.js";

const form = document.getElementById("edit");
const PHONE_PX = 640;
const PHONE_MM = "92";
const DRAG_PX = 6;
const HALF_SPACE = 90; // half a staff space, in the units of the drawings

const music = () => document.getElementById("music");
const chosen = () => document.getElementById("at");

// The chosen note

function drawn(at) {
  return [...music().querySelectorAll(`[data-note="${CSS.escape(at)}"]`)];
}

function show() {
  for (const old of music().querySelectorAll(".cursor")) old.remove();
  for (const old of music().querySelectorAll(".chosen")) old.classList.remove("chosen");
  const parts = drawn(chosen().value);
  for (const part of parts) {
    part.classList.add("chosen");
    const { x, y, width, height } = part.getBBox();
    const box = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    const pad = HALF_SPACE / 2;
    Object.entries({ x: x - pad, y: y - pad, width: width + 2 * pad, height: height + 2 * pad }).forEach(([name, value]) => box.setAttribute(name, value));
    box.setAttribute("class", "cursor");
    part.ownerSVGElement.append(box);
  }
  parts[0]?.closest(".system").scrollIntoView({ block: "nearest" });
}

function say(words) {
  document.getElementById("told").textContent = words;
}

function tell() {
  const option = chosen().selectedOptions[0];
  if (option) say(option.textContent);
}

function choose(at, { quiet = false } = {}) {
  if (![...chosen().options].some((one) => one.value === at)) return;
  const before = chosen().selectedOptions[0]?.parentElement;
  chosen().value = at;
  show();
  if (!quiet) tell();
  if (chosen().selectedOptions[0].parentElement !== before) showBar();
}

function neighbour(way) {
  const options = chosen().options;
  const place = Math.min(options.length - 1, Math.max(0, chosen().selectedIndex + way));
  choose(options[place].value);
}

// The bar of the chosen note: its rhythms come from the server, a moment later

let waiting;

function showBar() {
  clearTimeout(waiting);
  const bar = chosen().selectedOptions[0].parentElement.dataset.barNumber;
  form.elements.bar.value = bar;
  waiting = setTimeout(async () => {
    const answer = await fetch(`${location.pathname}?at=${encodeURIComponent(chosen().value)}&room=${form.elements.room.value}`, { headers: { "x-swap": "#bar-field" } }).catch(() => null);
    if (!answer?.ok || form.elements.bar.value !== bar) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.getElementById("bar-field");
    if (fresh) document.getElementById("bar-field").replaceWith(document.adoptNode(fresh));
  }, 200);
}

// Presses, one after the other

const presses = [];

function press(button, times = 1) {
  if (!button || button.disabled) return;
  const last = presses.at(-1);
  const at = chosen().value;
  if (last?.value === button.value && last.at === at && button.name === "do") last.times += times;
  else presses.push({ value: button.value, action: button.getAttribute("formaction"), name: button.name, at, times });
  form.dataset.presses = presses.length;
  go();
}

function buttonOf({ value, action, name }) {
  return [...form.querySelectorAll("button")].find((one) => one.name === name && one.value === value && one.getAttribute("formaction") === action);
}

function go() {
  if (form.hasAttribute("aria-busy") || !presses.length) return;
  const next = presses.shift();
  form.dataset.presses = presses.length;
  const button = buttonOf(next);
  if (!button || button.disabled) return go();
  if ([...chosen().options].some((one) => one.value === next.at)) chosen().value = next.at;
  form.elements.times.value = next.times;
  form.requestSubmit(button);
  form.elements.times.value = 1;
}

new MutationObserver(() => !form.hasAttribute("aria-busy") && go()).observe(form, { attributeFilter: ["aria-busy"] });

document.addEventListener("swapped", ({ detail }) => {
  if (detail.id === "music") queueMicrotask(show);
});

// After an edit: what could not be done, or the note as it is now and how much is not as the step has it

document.addEventListener("taken", ({ target }) => {
  if (target !== form) return;
  const fault = document.querySelector("#said .fault")?.textContent.trim();
  const count = document.querySelectorAll("#said .said > li").length;
  const aside = count ? `; ${count === 1 ? gettext("1 thing is not as the step has it") : gettext("%(count)s things are not as the step has it", { count })}` : "";
  say(fault ?? `${chosen().selectedOptions[0]?.textContent}${aside}`);
});

// Keys, while the music has the focus

function keyOf(event) {
  const held = [["Control", event.ctrlKey || event.metaKey], ["Alt", event.altKey], ["Shift", event.shiftKey]];
  const letter = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  return [...held.filter(([, is]) => is).map(([name]) => name), letter].join("+");
}

document.addEventListener("keydown", (event) => {
  if (document.activeElement !== music()) return;
  const key = keyOf(event);
  const ways = { ArrowLeft: -1, ArrowRight: 1 };
  const ends = { Home: 0, End: chosen().options.length - 1 };
  const button = [...form.querySelectorAll("[aria-keyshortcuts]")].find((one) => one.getAttribute("aria-keyshortcuts") === key);
  if (key in ways) neighbour(ways[key]);
  else if (key in ends) choose(chosen().options[ends[key]].value);
  else if (button) press(button);
  else return;
  event.preventDefault();
});

// The pointer: a click chooses, moving up and down moves the note by steps

function nearest(svg, x, y) {
  let [best, least] = [null, Infinity];
  for (const note of svg.querySelectorAll("[data-note]")) {
    const box = note.getBoundingClientRect();
    const aside = Math.max(box.left - x, 0, x - box.right);
    const off = Math.max(box.top - y, 0, y - box.bottom);
    if (aside + off / 4 < least) [best, least] = [note, aside + off / 4];
  }
  return best;
}

let held = null;

document.addEventListener("pointerdown", (event) => {
  const svg = event.target.closest?.("#music svg");
  if (!svg || event.button) return;
  const note = nearest(svg, event.clientX, event.clientY);
  if (!note) return;
  choose(note.dataset.note, { quiet: true });
  held = { y: event.clientY, svg, at: note.dataset.note };
});

document.addEventListener("pointermove", (event) => {
  if (!held || event.pointerType === "touch") return;
  const steps = stepsTo(event.clientY);
  for (const note of drawn(held.at)) note.setAttribute("transform", `translate(0 ${-steps * HALF_SPACE})`);
  if (steps) event.preventDefault();
});

function stepsTo(y) {
  const unit = held.svg.getBoundingClientRect().width / held.svg.viewBox.baseVal.width;
  return Math.abs(held.y - y) < DRAG_PX ? 0 : Math.round((held.y - y) / (HALF_SPACE * unit));
}

document.addEventListener("pointerup", (event) => {
  if (!held) return;
  const steps = event.pointerType === "touch" ? 0 : stepsTo(event.clientY);
  for (const note of drawn(held.at)) note.removeAttribute("transform");
  held = null;
  if (steps) press(form.querySelector(`[value="step-${steps > 0 ? "up" : "down"}"]`), Math.abs(steps));
  else tell();
});

document.addEventListener("pointercancel", () => (held = null));

// What is said of a bar leads there; choosing in the field shows the note

document.addEventListener("change", (event) => {
  if (event.target !== chosen()) return;
  show();
  showBar();
});

document.addEventListener("click", (event) => {
  const bar = event.target.closest?.("[data-bar-of]")?.dataset.barOf;
  const first = bar && form.querySelector(`[data-bar-number="${bar}"] option`);
  if (first) choose(first.value);
});

// On a phone the music is set narrower

if (form) {
  show();
  if (innerWidth < PHONE_PX && form.elements.room.value !== PHONE_MM) {
    form.elements.room.value = PHONE_MM;
    const address = new URL(location.href);
    address.searchParams.set("room", PHONE_MM);
    fetch(address, { headers: { "x-swap": "#music" } })
      .then((answer) => answer.text())
      .then((text) => {
        const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("music");
        if (!fresh) return;
        music().replaceWith(document.adoptNode(fresh));
        show();
      })
      .catch(() => {});
  }
}
