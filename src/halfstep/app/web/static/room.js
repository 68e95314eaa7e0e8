// The practice room with one piece in it.
//
// Each part of the room is a module of its own that this one joins: `band.js` plays, `tape.js`
// records, `chirp.js` marks a take so that its delay can be found. A part that has controls on the
// page exports `furnish(room)`, which is called once for each `Room` (`enter.js`). Clock and microphone
// are those of the visit (`visit.js`); what listens to them, or elsewhere outside the room, ends with the
// room's `signal`. A module that cannot be loaded is spoken of, and leaves the others whole.
//
// Events of the room (on the `Room` itself): "clock" {context} once, "opening" before the microphone is
// asked for, "playing", "stopped", "recording" {key}, "recorded" {key}, "sent" {take, address}, "options" after a change of what is to be played.

import { gettext } from "./words.js";

const SOON_S = 0.1;
export const LACKS = gettext("A part of the room could not be loaded; load the page again.");

export class Room extends EventTarget {
  #visit;
  #band = null;
  #hasClock = false;
  #leaving = new AbortController();

  constructor(section, visit) {
    super();
    this.#visit = visit;
    this.section = section;
    this.base = section.dataset.base;
    // what is played: each part of the room writes its own choices here; null is as the piece has it
    this.options = { tempo: null, key: "", feel: "", choruses: null, loop: null, parts: null, headphones: false, line: "written" };
    this.recording = null;
  }

  // Ends when another piece takes the place of this one.
  get signal() {
    return this.#leaving.signal;
  }

  // The clock where somebody has pressed in this room; else null.
  get running() {
    return this.#hasClock ? this.#visit.context : null;
  }

  // The clock of the visit, once somebody has pressed.
  async clock() {
    const { context } = this.#visit;
    if (!this.#hasClock) {
      this.#hasClock = true;
      this.tell("clock", { context });
    }
    if (context.state !== "running") await context.resume();
    return context;
  }

  // A line that is cut takes no more than what was on its way.
  async module(name) {
    const address = this.section.dataset[name];
    if (!address) return null;
    const module = await this.#visit.module(name, address);
    if (!module) this.say(LACKS);
    return module;
  }

  async band() {
    const context = await this.clock();
    const module = await this.module("band");
    return module && (this.#band ??= new module.Band(context));
  }

  async tape() {
    await this.clock();
    const module = await this.module("tape");
    return module && this.#visit.tapeOf(module);
  }

  // The tape where its microphone was asked for before, in this room or another; else null.
  get openTape() {
    return this.#visit.tape;
  }

  // True while something sounds or is recorded.
  get isBusy() {
    return Boolean(this.recording || this.#band?.place);
  }

  tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  change(options) {
    Object.assign(this.options, options);
    this.tell("options", options);
  }

  // One plain sentence for everybody, also for who hears the page.
  say(line) {
    if (!this.signal.aborted) document.getElementById("told").textContent = line;
  }

  async play() {
    const band = await this.band();
    if (!band) return;
    await this.#loaded(band);
    await this.#start(band, {});
    this.tell("playing", {});
  }

  async #loaded(band) {
    const { tempo, key, feel, parts } = this.options;
    await band.load(this.base, { tempo, key, feel });
    if (parts) band.setParts(parts);
  }

  // Resolves when all is set to sound; `ended` comes when the last chorus is over or it was stopped.
  async #start(band, { lead_s = 0, choruses = this.options.choruses }) {
    this.signal.throwIfAborted();
    const { loop } = this.options;
    const begun = new Promise((settled) => band.addEventListener("start", ({ detail }) => settled(detail), { once: true }));
    band.addEventListener("ended", () => this.tell("stopped", {}), { once: true });
    await band.start({ choruses, loop, lead_s });
    return begun;
  }

  async record() {
    const [band, tape, chirp] = [await this.band(), await this.tape(), await this.module("chirp")];
    if (!tape) return;
    this.tell("opening", {});
    await tape.open();
    if (band) await this.#loaded(band);
    await band?.ready(this.options); // no take begins with a silence in which sounds are made
    const context = await this.clock();
    this.signal.throwIfAborted();
    const about = this.#about(context, band);
    const key = await tape.record(about);
    this.recording = { key, about, tape };
    if (this.signal.aborted) return this.#drop(key, this.signal.reason);
    this.tell("recording", { key });
    if (!band) return;
    const ended = new Promise((settled) => band.addEventListener("ended", ({ detail }) => settled(detail ?? {}), { once: true }));
    const lead_s = chirp ? chirp.CHIRP_LEAD_S + SOON_S : 0;
    const { first_beat_at, count_in_at } = await this.#start(band, { choruses: about.choruses, lead_s }).catch((fault) => this.#drop(key, fault));
    if (this.recording?.key !== key) return;
    this.tell("playing", {});
    about.first_beat_at = first_beat_at;
    if (chirp) this.#chirp(chirp, context, about, count_in_at - chirp.CHIRP_LEAD_S);
    const { last_beat_at } = await ended;
    if (this.recording?.key !== key) return;
    about.last_beat_at = last_beat_at ?? context.currentTime;
    if (chirp) this.#chirp(chirp, context, about, Math.max(about.last_beat_at + chirp.CHIRP_TAIL_S, context.currentTime + SOON_S));
    const ends = chirp ? about.chirps_at.at(-1) + chirp.CHIRP_REST_S : context.currentTime;
    setTimeout(() => this.#recorded(key), 1000 * Math.max(0, ends - context.currentTime));
  }

  #chirp(chirp, context, about, at) {
    about.chirps_at.push(chirp.playChirp(context, at));
  }

  #about(context, band) {
    const { tempo, key, feel, choruses, loop, parts, headphones, line } = this.options;
    const sounding = Object.entries(parts ?? band?.parts ?? {}).filter(([, is]) => is);
    return {
      piece: this.base,
      line,
      tempo_bpm: tempo ?? band?.piece?.tempo_bpm ?? null,
      key,
      feel,
      choruses: choruses ?? band?.piece?.choruses ?? 1,
      loop: loop ?? [],
      parts: sounding.map(([name]) => name),
      headphones,
      sample_rate: context.sampleRate,
      chirps_at: [],
      output_latency: context.outputLatency || context.baseLatency || 0,
      engine: navigator.userAgent,
    };
  }

  // A take whose band did not come is none.
  async #drop(key, fault) {
    if (this.recording?.key === key) {
      const { tape } = this.recording;
      this.recording = null;
      await tape.discard(key);
      this.tell("recorded", { key });
    }
    throw fault;
  }

  async #recorded(key) {
    if (this.recording?.key !== key) return;
    const { tape, about } = this.recording;
    this.recording = null;
    await tape.stop(about);
    this.tell("recorded", { key });
  }

  // Stops what sounds; a recording ends with it and is kept. It goes on for a second, so that its last
  // chirp is in it, but for who presses again or has lost the sound.
  async stop({ atOnce = false } = {}) {
    const band = this.#band;
    const key = this.recording?.key;
    const isMarked = key && band?.isPlaying && this.recording.about.chirps_at.length && !atOnce;
    band?.stop();
    if (isMarked) this.say(gettext("The take ends in a second."));
    else if (key) await this.#recorded(key);
    this.tell("stopped", {});
  }

  // Another piece takes the place of this one: what sounds stops, and a take is kept as far as it came.
  close() {
    this.#leaving.abort();
    this.stop({ atOnce: true });
    this.openTape?.stop(); // of a take that was about to begin
  }
}
