// The take on the page of the practice room: its button, how loud it is, and the takes that wait here.

import { TakeShelf } from "./take_shelf.js";

const section = document.getElementById("tape");
const part = (name) => section.querySelector(`[data-${name}]`);

const FULL = "This browser keeps no more: a take is safe only while this page is open. Send it now, or throw earlier ones away.";
const CUT = "The line is cut. Your take is safe in this browser and goes on by itself.";
const LOUD = "too loud: step back, or turn the microphone down";
const LOUD_MS = 2000;
const NO_ANSWER = "The program does not answer. Press again in a moment.";
const QUIETEST_DB = -50;
const FRAME_BYTES = 2;

let common;

// What waits in this browser; there is one shelf on a page.
export function shelf() {
  common ??= new TakeShelf(Number(section?.dataset.player ?? 0));
  return common;
}

function clock(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}

function moment(begun) {
  const time = begun.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  const isToday = begun.toDateString() === new Date().toDateString();
  return isToday ? time : `${begun.toLocaleDateString([], { weekday: "short", day: "numeric", month: "short" })}, ${time}`;
}

// What the browser says of a cut line is no sentence for a player.
const worded = (error) => (error instanceof TypeError ? NO_ANSWER : error.message);

function fault(line, name = "fault") {
  part(name).hidden = !line;
  part(name).textContent = line;
}

class TapePage {
  #room;
  #button = part("record");
  #hand = document.getElementById("at-hand");
  #rows = new Map();
  #level = part("level");
  #loud = part("loud");
  #tape = null;
  #loudUntil = 0;
  #sounding = null;

  constructor(room) {
    this.#room = room;
    part("tape").hidden = false;
    if (room.section.dataset.band) this.#comeToHand();
    this.#button.addEventListener("click", () => this.#press());
    part("headphones").addEventListener("change", ({ target }) => room.change({ headphones: target.checked }));
    part("takes").addEventListener("click", ({ target }) => target.dataset.do && this.#do(target));
    section.querySelector("form").addEventListener("submit", (event) => this.#sendFile(event));
    room.addEventListener("recording", () => this.#recording(true));
    room.addEventListener("recorded", ({ detail }) => this.#recorded(detail.key));
    room.addEventListener("stopped", () => this.#quiet());
    this.#watch(shelf());
    this.#list();
    shelf().goOn();
  }

  // Where the band is played, its controls are at hand: the take's stand beside them, and in the place
  // of its tempo while a take lasts.
  #comeToHand() {
    this.#hand?.querySelector("[data-play]")?.after(this.#button, this.#level);
  }

  #watch(takes) {
    takes.addEventListener("changed", () => this.#list());
    takes.addEventListener("full", () => fault(FULL));
    takes.addEventListener("cut", ({ detail }) => (part("line").textContent = detail.line || CUT));
    takes.addEventListener("moved", ({ detail }) => this.#moved(detail));
    takes.addEventListener("refused", ({ detail }) => fault(detail.line));
    takes.addEventListener("taken", ({ detail }) => this.#taken(detail));
  }

  async #press() {
    fault("");
    if (this.#room.recording) return this.#room.stop();
    this.#button.disabled = true;
    try {
      this.#listenTo(await this.#room.tape());
      await this.#room.record();
    } catch (error) {
      fault(worded(error));
    } finally {
      this.#button.disabled = false;
    }
  }

  #listenTo(tape) {
    if (this.#tape === tape) return;
    this.#tape = tape;
    tape.addEventListener("level", ({ detail }) => this.#show(detail));
    tape.addEventListener("lost", ({ detail }) => {
      this.#room.stop({ atOnce: true });
      fault(detail.line);
    });
  }

  #show({ peak, clipped }) {
    const db = 20 * Math.log10(Math.max(peak, 1e-6));
    this.#level.hidden = false;
    document.getElementById("tape-level").value = Math.max(0, 1 - db / QUIETEST_DB);
    if (clipped) this.#loudUntil = Date.now() + LOUD_MS;
    const words = Date.now() < this.#loudUntil ? LOUD : "";
    if (this.#loud.textContent !== words) this.#loud.textContent = words;
  }

  #recording(is) {
    this.#button.textContent = is ? "Stop" : "Record";
    this.#button.disabled = false;
    this.#button.classList.toggle("first", is);
    this.#hand?.classList.toggle("records", is);
  }

  #recorded(key) {
    this.#recording(false);
    this.#list().then(() => this.#rows.get(key)?.querySelector("[data-do=send]").focus());
  }

  // The takes that wait here, each in a row that stays as long as the take does.
  async #list() {
    const takes = (await shelf().waiting()).filter(({ frames }) => frames);
    const rows = takes.map((take) => this.#row(take));
    part("takes").replaceChildren(...rows);
    this.#rows = new Map(takes.map(({ key }, place) => [key, rows[place]]));
  }

  #row(take) {
    const row = this.#rows.get(take.key) ?? document.getElementById("take-here").content.firstElementChild.cloneNode(true);
    const { about, frames, key } = take;
    Object.assign(row.dataset, { key, bytes: frames * FRAME_BYTES });
    const [title, tempo] = [about.title || "A take", about.tempo_bpm ? `, ${about.tempo_bpm} a minute` : ""];
    row.querySelector("[data-what]").textContent = `${title}${tempo}, ${moment(new Date(take.begun))}`;
    row.querySelector("[data-state]").textContent = `${clock(frames / about.sample_rate)}${this.#state(take)}`;
    row.querySelector("[data-do=send]").disabled = Boolean(take.sending);
    row.querySelector("[data-do=over]").hidden = about.piece !== this.#room.base || !(about.first_beat_at > 0);
    return row;
  }

  #state({ about, sending }) {
    const words = [sending ? "on its way to your teacher" : "in this browser, not sent"];
    if (about.clipped) words.push("too loud in places");
    if (about.gaps?.length) words.push(`with a gap at ${clock(about.gaps[0].frame / about.sample_rate)}`);
    return `, ${words.join(", ")}`;
  }

  #moved({ key, have }) {
    part("line").textContent = "";
    const row = this.#rows.get(key);
    if (!row?.querySelector("[data-do=send]").disabled) return;
    const left = Number(row.dataset.bytes) - have;
    if (left > 0) part("line").textContent = `${Math.ceil(left / 1e6)} MB of it to go`;
  }

  #taken({ take, address }) {
    const link = Object.assign(document.createElement("a"), { href: address, textContent: "Your take" });
    part("line").replaceChildren(link, " is with your teacher.");
    this.#room.tell("sent", { take, address });
  }

  async #do(button) {
    const { key } = button.closest("li").dataset;
    const acts = { send: () => this.#send(key), listen: () => this.#listen(key), over: () => this.#over(key), discard: () => this.#discard(button, key) };
    try {
      await acts[button.dataset.do]();
    } catch (error) {
      fault(worded(error));
    }
  }

  async #send(key) {
    fault("");
    await shelf().send(key);
  }

  async #listen(key) {
    const player = part("listen");
    URL.revokeObjectURL(player.src);
    player.src = URL.createObjectURL(await shelf().file(key));
    player.hidden = false;
    await player.play();
  }

  // The take beside the band that it was played to, as late as it was meant to be.
  async #over(key) {
    this.#quiet();
    const { about } = (await shelf().waiting()).find((take) => take.key === key);
    const [context, file] = [await this.#room.clock(), await shelf().file(key)];
    const buffer = await context.decodeAudioData(await file.arrayBuffer());
    const { tempo_bpm: tempo, key: tonic, feel, choruses, loop, parts } = about;
    const sounding = Object.fromEntries(parts.map((name) => [name, true]));
    this.#room.change({ tempo, key: tonic, feel, choruses, loop: loop.length ? loop : null, parts: { ...this.#room.options.parts, ...sounding } });
    const band = await this.#room.band();
    const late_s = about.first_beat_at - about.begun_at + about.output_latency;
    band.addEventListener("start", ({ detail }) => this.#sound(context, buffer, detail.first_beat_at - late_s), { once: true });
    await this.#room.play();
  }

  #sound(context, buffer, at) {
    this.#sounding = new AudioBufferSourceNode(context, { buffer });
    this.#sounding.connect(context.destination);
    this.#sounding.start(Math.max(at, context.currentTime), Math.max(0, context.currentTime - at));
  }

  #quiet() {
    this.#sounding?.stop();
    this.#sounding = null;
  }

  // Pressed twice, for it is gone then.
  async #discard(button, key) {
    if (button.dataset.sure) return shelf().discard(key);
    button.dataset.sure = "yes";
    button.textContent = "Throw away for good";
  }

  async #sendFile(event) {
    event.preventDefault();
    const form = event.target;
    const { tempo, key, feel, choruses, loop, headphones, line } = this.#room.options;
    form.elements.about.value = JSON.stringify({ tempo_bpm: tempo, key, feel, choruses, loop: loop ?? [], headphones, line, title: section.dataset.title });
    fault("", "file-fault");
    try {
      const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "application/json" } });
      const told = await answer.json();
      if (!answer.ok) return fault(told.error, "file-fault");
      form.reset();
      this.#taken(told);
    } catch {
      fault("The program does not answer. Your file is where it was; send it again.", "file-fault");
    }
  }
}

export function furnish(room) {
  if (section) new TapePage(room);
}
