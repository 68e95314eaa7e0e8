// What is seen of the band: its controls, the chord now and the next one with what changes between
// them, and the mark that follows the music.

import { LACKS } from "./room.js";
import { forgetPieces, pieceOf, turnOf } from "./piece.js";
import { gettext } from "./words.js";

const still = matchMedia("(prefers-reduced-motion: reduce)");
const KEYS_OF_A_FIELD = "input, select, textarea, button, a, summary, audio, [role=slider]";
const TYPING_MS = 500;
const BREATH_MS = 60; // what is drawn and read again while nothing moves

export function furnish(room) {
  const section = document.getElementById("band");
  forgetPieces();
  if (section) new BandView(room, section).open();
}

class BandView {
  #piece = null;
  #chords = [];
  #turn = null;
  #band = null;
  #busy = false;
  #typing = 0;
  #steps = 0;
  #shown = "";

  constructor(room, section) {
    this.room = room;
    this.section = section;
    this.controls = document.getElementById("band-controls");
  }

  async open() {
    this.controls.hidden = false;
    this.#find("[data-play]").addEventListener("click", () => this.#press());
    this.controls.addEventListener("submit", (event) => event.preventDefault());
    this.controls.addEventListener("click", ({ target }) => this.#pressed(target.closest("button")));
    this.controls.addEventListener("change", ({ target }) => this.#changed(target));
    this.controls.addEventListener("input", ({ target }) => target.name === "loudness" && this.#loud());
    document.addEventListener("keydown", (event) => this.#key(event), { signal: this.room.signal });
    for (const name of ["playing", "recording"]) this.room.addEventListener(name, () => this.#join());
    this.room.addEventListener("stopped", () => this.#rest());
    await this.#read();
    const lines = this.#find("[data-more]");
    if (lines) lines.append(...(await this.#lines({ after: lines.children.length })));
  }

  #find(selector) {
    return this.controls.querySelector(selector) ?? this.section.querySelector(selector);
  }

  #field(name) {
    return this.controls.elements[name];
  }

  // The piece as it is asked for just now.
  async #read() {
    const { tempo, key, feel } = this.room.options;
    this.#say(""); // before it is asked for: what is said while it comes, stays
    try {
      this.#piece = await pieceOf(this.room.base, { tempo, key, feel });
    } catch (fault) {
      return this.#say(fault.message);
    }
    this.#chords = chordsOf(this.#piece);
    this.#show(0);
    await this.#readTurn();
  }

  // What changes from the last of the bars that go round into the first one; nobody waits for it.
  async #readTurn() {
    const { loop, key } = this.room.options;
    this.#turn = null;
    if (!loop) return;
    const turn = await turnOf(this.room.base, { bars: loop.join("-"), key }).catch(() => null);
    if (this.room.options.loop !== loop) return;
    this.#turn = turn;
    if (!this.#band?.isPlaying) this.#show(this.#region()[0]);
  }

  // What is pressed and chosen

  async #press() {
    if (this.#busy) return;
    if (this.#band?.isPlaying) return this.room.stop();
    await this.#begin();
  }

  async #begin() {
    this.#busy = true;
    const press = this.#find("[data-play]");
    press.textContent = gettext("Coming …");
    this.#say("");
    try {
      await this.#join();
      if (!this.#band) throw new Error(LACKS);
      await this.room.play();
    } catch (fault) {
      this.#rest();
      this.#say(fault.message);
    }
    this.#busy = false;
  }

  // The band, whoever had it play first.
  async #join() {
    const band = await this.room.band();
    if (!band || this.#band) return;
    this.#band = band;
    this.#loud();
    band.addEventListener("late", () => this.#say(gettext("The line is slow: the band joins in where the music is.")));
    band.addEventListener("start", () => this.#follow());
    if (band.place) this.#follow();
  }

  // A take that is recorded goes on as it began, whatever is chosen meanwhile.
  get #mayBeginAnew() {
    return this.#band?.isPlaying && !this.room.recording;
  }

  #pressed(button) {
    const step = Number(button?.dataset.step ?? 0);
    if (step) this.#faster(step);
    if (button?.dataset.only) this.#only(button.dataset.only.split(" "));
    if (button?.dataset.all !== undefined) this.#allBars();
  }

  #faster(step) {
    const field = this.#field("tempo");
    const tempo = Number(field.value) + step;
    field.value = Math.min(Number(field.max), Math.max(Number(field.min), tempo));
    this.#tempo();
  }

  // A tempo that is pressed or typed; several presses in a row are one.
  #tempo() {
    const field = this.#field("tempo");
    if (!field.checkValidity()) return this.#say(gettext("Give a tempo from %(least)s to %(most)s.", { least: field.min, most: field.max }));
    clearTimeout(this.#typing);
    this.#typing = setTimeout(() => this.#ask({ tempo: Number(field.value) }), this.#band?.isPlaying ? TYPING_MS : 0);
  }

  #only(parts) {
    for (const tick of this.controls.querySelectorAll("[data-part]")) tick.checked = parts.includes(tick.dataset.part);
    this.#parts();
  }

  #parts() {
    const ticks = [...this.controls.querySelectorAll("[data-part]")];
    const parts = Object.fromEntries(ticks.map((tick) => [tick.dataset.part, tick.checked]));
    this.room.change({ parts });
    this.#band?.setParts(parts);
  }

  #changed(field) {
    if (field.dataset.part) this.#parts();
    else if (field.name === "tempo") this.#tempo();
    else if (field.name === "key") this.#ask({ key: field.value }).then(() => this.#draw());
    else if (field.name === "feel") this.#ask({ feel: field.value });
    else if (field.name === "choruses") this.#again({ choruses: Number(field.value) || null });
    else if (field.name === "from" || field.name === "to") this.#bars(field);
  }

  // Has something else played; while the band plays it begins anew with it.
  async #ask(options) {
    const mayBeginAnew = this.#mayBeginAnew;
    this.room.change(options);
    await this.#read();
    if (mayBeginAnew) await this.#begin();
  }

  async #again(options) {
    this.room.change(options);
    if (this.#mayBeginAnew) await this.#begin();
  }

  #bars(changed) {
    const [from, to] = ["from", "to"].map((name) => this.#field(name));
    if (Number(from.value) > Number(to.value)) (changed === from ? to : from).value = changed.value;
    const loop = [Number(from.value), Number(to.value)];
    const isAll = loop[0] === 1 && loop[1] === this.#piece.bars.length;
    this.#again({ loop: isAll ? null : loop });
    this.#show(this.#piece.bars[loop[0] - 1].start);
    this.#readTurn();
  }

  #allBars() {
    this.#field("from").selectedIndex = 0;
    this.#field("to").selectedIndex = this.#field("to").length - 1;
    this.#bars(this.#field("from"));
  }

  #loud() {
    if (this.#band) this.#band.loudness = Number(this.#field("loudness").value) / 100;
  }

  #key(event) {
    if (event.key !== " " || event.target.closest?.(KEYS_OF_A_FIELD)) return;
    event.preventDefault();
    this.#press();
  }

  #say(line) {
    this.#find("[data-said]").textContent = line;
  }

  async #draw() {
    const lines = this.#find("[data-lines]");
    lines.setAttribute("aria-busy", "true");
    const drawn = await this.#lines({ key: this.room.options.key });
    if (drawn.length) lines.replaceChildren(...drawn);
    lines.removeAttribute("aria-busy");
  }

  async #lines(asked) {
    const answer = await fetch(`${this.room.base}/systems?${new URLSearchParams(asked)}`);
    return answer.ok ? (await answer.json()).map(systemOf) : [];
  }

  // What moves

  #follow() {
    this.#find("[data-play]").textContent = gettext("Stop");
    this.section.classList.add("playing");
    this.#step(++this.#steps);
  }

  #rest() {
    if (this.#band?.isPlaying) return;
    this.#find("[data-play]").textContent = gettext("Play");
    this.section.classList.remove("playing");
    this.#say("");
    this.section.querySelector(".here")?.remove();
  }

  // Until the band is over or begins anew.
  #step(number) {
    const place = this.#band.place;
    if (place) this.#move(place);
    if (!this.#band.isPlaying || number !== this.#steps) return;
    if (still.matches) setTimeout(() => this.#step(number), BREATH_MS);
    else requestAnimationFrame(() => this.#step(number));
  }

  #move(place) {
    if (place.chorus === 0) return this.#count(place);
    const { loop } = this.room.options;
    const told = loop ? gettext("time %(number)s", { number: place.chorus }) : gettext("chorus %(number)s", { number: place.chorus });
    this.#find("[data-place]").textContent = `${this.#piece.bars[place.bar - 1]?.number ?? gettext("the end")}, ${told}`;
    this.#show(place.at);
    this.#mark(place);
  }

  #count(place) {
    const pulse = this.#piece.pulse_beats;
    const count = Math.floor((place.beat + this.#piece.count_in_beats) / pulse) + 1;
    this.#find("[data-place]").textContent = count > 0 ? gettext("counting in: %(count)s", { count }) : "";
    this.#show(this.#piece.bars[(this.room.options.loop?.[0] ?? 1) - 1].start);
  }

  // The chord that sounds, and what changes into the one after it.
  #show(at) {
    const [first, end] = this.#region();
    const before = Math.max(0, this.#chords.findLastIndex((chord) => chord.at <= first + 1e-6));
    const chords = this.#chords.slice(before).filter((chord) => chord.at < end);
    const now = Math.max(0, chords.findLastIndex((chord) => chord.at <= at + 1e-6));
    const sounding = chords[now];
    const next = chords[now + 1] ?? chords[0];
    const isWhole = first === 0 && end === this.#piece.chorus_beats;
    const moves = now + 1 < chords.length || isWhole ? next : this.#turn;
    const shown = `${first} ${end} ${now} ${sounding?.name} ${moves?.words}`;
    if (!sounding || shown === this.#shown) return;
    this.#shown = shown;
    this.#find(".now").hidden = false;
    this.#find("[data-now]").textContent = sounding.name;
    this.#find("[data-next]").textContent = next.name;
    this.#find("[data-line]").classList.toggle("changes", Boolean(moves?.moves.length));
    this.#find("[data-moves]").replaceChildren(...movesOf(moves));
  }

  #region() {
    const { loop } = this.room.options;
    const { bars, chorus_beats } = this.#piece;
    return loop ? [bars[loop[0] - 1].start, bars[loop[1]]?.start ?? chorus_beats] : [0, chorus_beats];
  }

  #mark(place) {
    const systems = [...this.section.querySelectorAll(".system")];
    const system = systems.findLast(({ dataset }) => Number(dataset.from) <= place.at + 1e-6) ?? systems[0];
    const at = still.matches ? (this.#piece.bars[place.bar - 1]?.start ?? this.#piece.chorus_beats) : place.at;
    const share = shareAt(anchorsOf(system), at) * Number(system.dataset.share);
    const mark = this.section.querySelector(".here") ?? newMark();
    if (mark.parentElement !== system) {
      system.append(mark);
      inView(system);
    }
    mark.style.left = `${(100 * share).toFixed(2)}%`;
  }
}

function newMark() {
  const mark = document.createElement("span");
  mark.className = "here";
  mark.setAttribute("aria-hidden", "true");
  return mark;
}

function inView(system) {
  const box = system.getBoundingClientRect();
  const low = document.getElementById("at-hand")?.getBoundingClientRect().top ?? innerHeight;
  const high = document.querySelector(".now").getBoundingClientRect().height;
  if (box.top >= high && box.bottom <= Math.min(low, innerHeight)) return;
  system.scrollIntoView({ block: "center", behavior: still.matches ? "instant" : "smooth" });
}

// All chords of a chorus, each with its place in it.
const chordsOf = ({ bars }) => bars.flatMap((bar) => bar.chords.map((chord) => ({ ...chord, at: bar.start + chord.beat })));

function movesOf(chord) {
  const moves = (chord?.moves ?? []).map(([old, name]) => moveOf(old, name));
  return chord?.more ? [...moves, moveOf("…", "…")] : moves;
}

function moveOf(old, name) {
  const move = document.createElement("span");
  move.className = "move";
  for (const [kind, text] of [["old", old], ["new", name]]) {
    const note = document.createElement("span");
    [note.className, note.textContent] = [kind, text];
    move.append(note);
  }
  return move;
}

function systemOf({ svg, share, from, anchors }) {
  const system = document.createElement("div");
  system.className = "system";
  system.innerHTML = svg;
  Object.assign(system.dataset, { share, from, anchors });
  return system;
}

// Beats and where they stand, as the page has them: `0:.12 1:.2`.
const anchorsOf = ({ dataset }) => dataset.anchors.split(" ").map((anchor) => anchor.split(":").map(Number));

function shareAt(anchors, beat) {
  const after = anchors.findIndex(([at]) => at > beat);
  if (after === 0) return anchors[0][1];
  if (after < 0) return anchors.at(-1)[1];
  const [[from, left], [to, right]] = [anchors[after - 1], anchors[after]];
  return left + ((beat - from) / (to - from)) * (right - left);
}
