// The takes that wait in this browser: each in a row, to be sent, listened to or thrown away.
//
// On the page of a player's takes it works by itself; in the practice room it is a part of the take.

import { FRAME_BYTES } from "./kept_takes.js";
import { TakeShelf } from "./take_shelf.js";
import { gettext, locale } from "./words.js";

const FULL = gettext("This browser keeps no more: a take is safe only while this page is open. Send it now, or throw earlier ones away.");
const CUT = gettext("The line is cut. Your take is safe in this browser and goes on by itself.");
const NO_ANSWER = gettext("The program does not answer. Press again in a moment.");
const SURE = gettext("Throw away for good");

let common;

const sectionHere = () => document.getElementById("takes-here");

// What waits here; there is one shelf for all rooms of a visit.
export function shelf() {
  common ??= new TakeShelf(Number(sectionHere()?.dataset.player ?? 0));
  return common;
}

// What the browser says of a cut line is no sentence for a player.
export const worded = (error) => (error instanceof TypeError ? NO_ANSWER : error.message);

function clock(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}

function moment(begun) {
  const time = begun.toLocaleTimeString(locale, { hour: "2-digit", minute: "2-digit" });
  const isToday = begun.toDateString() === new Date().toDateString();
  return isToday ? time : `${begun.toLocaleDateString(locale, { weekday: "short", day: "numeric", month: "short" })}, ${time}`;
}

function state({ about, frames, sending }) {
  const words = [clock(frames / about.sample_rate), sending ? gettext("on its way to your teacher") : gettext("in this browser, not sent")];
  if (about.clipped) words.push(gettext("too loud in places"));
  if (about.gaps?.length) words.push(gettext("with a gap at %(time)s", { time: clock(about.gaps[0].frame / about.sample_rate) }));
  return words.join(", ");
}

export class TakesHere extends EventTarget {
  #section = sectionHere();
  #rows = new Map();
  #hasBand;

  // Where there is a band, a take of its piece can be heard over it: event "over" {take}. What the
  // server has acknowledged is told by "sent" {take, address}. All of it ends with `signal`.
  constructor({ hasBand = () => false, signal } = {}) {
    super();
    this.#hasBand = hasBand;
    this.#part("takes").addEventListener("click", ({ target }) => target.dataset.do && this.#do(target));
    const takes = shelf();
    const hears = {
      changed: () => this.list(),
      full: () => this.fault(FULL),
      cut: ({ line }) => (this.#part("line").textContent = line || CUT),
      moved: (detail) => this.#moved(detail),
      refused: ({ line }) => this.fault(line),
      taken: (detail) => this.taken(detail),
    };
    for (const [name, act] of Object.entries(hears)) takes.addEventListener(name, ({ detail }) => act(detail), { signal });
    this.list();
    takes.goOn();
    addEventListener("online", () => takes.goOn(), { signal });
  }

  #part(name) {
    return this.#section.querySelector(`[data-${name}]`);
  }

  fault(line) {
    this.#part("fault").hidden = !line;
    this.#part("fault").textContent = line;
  }

  // Each take in a row that stays as long as the take does.
  async list() {
    const takes = (await shelf().waiting()).filter(({ frames }) => frames);
    const rows = takes.map((take) => this.#row(take));
    this.#part("takes").replaceChildren(...rows);
    this.#rows = new Map(takes.map(({ key }, place) => [key, rows[place]]));
  }

  #row(take) {
    const row = this.#rows.get(take.key) ?? this.#section.querySelector("template").content.firstElementChild.cloneNode(true);
    const { about, key } = take;
    Object.assign(row.dataset, { key, bytes: take.frames * FRAME_BYTES });
    const [title, tempo] = [about.title || gettext("A take"), about.tempo_bpm ? `, ${gettext("%(tempo)s a minute", { tempo: about.tempo_bpm })}` : ""];
    row.querySelector("[data-what]").textContent = `${title}${tempo}, ${moment(new Date(take.begun))}`;
    row.querySelector("[data-state]").textContent = state(take);
    row.querySelector("[data-do=send]").disabled = Boolean(take.sending);
    row.querySelector("[data-do=over]").hidden = !this.#hasBand(about);
    return row;
  }

  focus(key) {
    this.#rows.get(key)?.querySelector("[data-do=send]").focus();
  }

  #moved({ key, have }) {
    this.#part("line").textContent = "";
    const row = this.#rows.get(key);
    if (!row?.querySelector("[data-do=send]").disabled) return;
    const left = Number(row.dataset.bytes) - have;
    if (left > 0) this.#part("line").textContent = gettext("%(size)s MB of it to go", { size: Math.ceil(left / 1e6) });
  }

  taken({ take, address }) {
    const link = Object.assign(document.createElement("a"), { href: address, textContent: gettext("Your take") });
    this.#part("line").replaceChildren(link, ` ${gettext("is with your teacher.")}`);
    this.dispatchEvent(new CustomEvent("sent", { detail: { take, address } }));
  }

  async #do(button) {
    const { key } = button.closest("li").dataset;
    const acts = { send: () => this.#send(key), listen: () => this.#listen(key), over: () => this.#over(key), discard: () => this.#discard(button, key) };
    try {
      await acts[button.dataset.do]();
    } catch (error) {
      this.fault(worded(error));
    }
  }

  #send(key) {
    this.fault("");
    return shelf().send(key);
  }

  async #listen(key) {
    const player = this.#part("listen");
    URL.revokeObjectURL(player.src);
    player.src = URL.createObjectURL(await shelf().file(key));
    player.hidden = false;
    await player.play();
  }

  async #over(key) {
    const take = (await shelf().waiting()).find((one) => one.key === key);
    this.dispatchEvent(new CustomEvent("over", { detail: { take } }));
  }

  // Pressed twice, for it is gone then.
  async #discard(button, key) {
    if (button.textContent === SURE) return shelf().discard(key);
    button.textContent = SURE;
  }
}

if (sectionHere() && !document.getElementById("room")) new TakesHere();
