// The take on the page of the practice room: its button, how loud it is, and a file in its place.

import * as choices from "./take_choices.js";
import { TakesHere, shelf, worded } from "./takes_here.js";
import { gettext } from "./words.js";

const LOUD = gettext("too loud: step back, or turn the microphone down");
const LOUD_MS = 2000;
const QUIETEST_DB = -50;
const GUESSED = gettext("How late this microphone is cannot be told: the take may stand a little early or late to the band.");
const SOFTLY = 0.4;
const MOST_GAIN = 4;

class TapePage {
  #room;
  #section;
  #takes;
  #button;
  #level;
  #meter;
  #loud;
  #hand = document.getElementById("at-hand");
  #tape = null;
  #loudUntil = 0;
  #sounding = null;

  constructor(room, section) {
    this.#room = room;
    this.#section = section;
    [this.#button, this.#level, this.#loud] = ["record", "level", "loud"].map((name) => this.#part(name));
    this.#meter = this.#level.querySelector("meter");
    this.#part("tape").hidden = false;
    if (room.section.dataset.band) this.#comeToHand();
    this.#button.addEventListener("click", () => this.#press());
    this.#part("headphones").addEventListener("change", ({ target }) => room.change({ headphones: target.checked }));
    section.querySelector("form").addEventListener("submit", (event) => this.#sendFile(event));
    room.addEventListener("recording", () => this.#recording(true));
    room.addEventListener("recorded", ({ detail }) => this.#recorded(detail.key));
    room.addEventListener("stopped", () => this.#quiet());
    const hasBand = (about) => about.piece === room.base && about.first_beat_at > 0;
    this.#takes = new TakesHere({ hasBand, signal: room.signal });
    this.#takes.addEventListener("sent", ({ detail }) => room.tell("sent", detail));
    this.#takes.addEventListener("over", ({ detail }) => this.#over(detail.take).catch((error) => this.#fault(error)));
    if (room.openTape) this.#listenTo(room.openTape);
  }

  #part(name) {
    return this.#section.querySelector(`[data-${name}]`);
  }

  #fault(error) {
    this.#takes.fault(worded(error));
  }

  // Where the band is played, its controls are at hand: the take's stand beside them, and in the place
  // of its tempo while a take lasts.
  #comeToHand() {
    this.#hand?.querySelector("[data-play]")?.after(this.#button, this.#level);
  }

  async #press() {
    this.#takes.fault("");
    if (this.#room.recording) return this.#room.stop();
    if (this.#button.ariaDisabled) return;
    this.#button.ariaDisabled = "true"; // one that is disabled loses the focus of who has no mouse
    try {
      this.#listenTo(await this.#room.tape());
      await this.#room.record();
    } catch (error) {
      this.#fault(error);
    } finally {
      this.#button.ariaDisabled = null;
    }
  }

  #listenTo(tape) {
    if (this.#tape === tape) return;
    this.#tape = tape;
    const { signal } = this.#room;
    tape.addEventListener("level", ({ detail }) => this.#show(detail), { signal });
    const lost = ({ detail }) => {
      this.#room.stop({ atOnce: true });
      this.#takes.fault(detail.line);
    };
    tape.addEventListener("lost", lost, { signal });
  }

  #show({ peak, clipped }) {
    const db = 20 * Math.log10(Math.max(peak, 1e-6));
    this.#level.hidden = false;
    this.#meter.value = Math.max(0, 1 - db / QUIETEST_DB);
    if (clipped) this.#loudUntil = Date.now() + LOUD_MS;
    const words = Date.now() < this.#loudUntil ? LOUD : "";
    if (this.#loud.textContent !== words) this.#loud.textContent = words;
  }

  #recording(is) {
    this.#button.textContent = is ? gettext("Stop") : gettext("Record");
    this.#button.ariaDisabled = null;
    this.#button.classList.toggle("first", is);
    this.#hand?.classList.toggle("records", is);
  }

  #recorded(key) {
    this.#recording(false);
    this.#room.say("");
    this.#takes.list().then(() => this.#takes.focus(key));
  }

  // The take beside the band that it was played to: as late as its chirp, or as the browser believes.
  async #over({ key, about }) {
    this.#quiet();
    const [context, file] = [await this.#room.clock(), await shelf().file(key)];
    const buffer = await context.decodeAudioData(await file.arrayBuffer());
    const { tempo_bpm: tempo, key: tonic, feel, choruses, loop, parts } = about;
    const sounding = Object.fromEntries(parts.map((name) => [name, true]));
    this.#room.change({ tempo, key: tonic, feel, choruses, loop: loop.length ? loop : null, parts: { ...this.#room.options.parts, ...sounding } });
    const band = await this.#room.band();
    const late_s = about.first_beat_at - about.begun_at + (await this.#delay(buffer, about));
    band.addEventListener("start", ({ detail }) => this.#sound(context, buffer, detail.first_beat_at - late_s), { once: true });
    await this.#room.play();
  }

  async #delay(buffer, { begun_at, chirps_at, output_latency }) {
    const [chirp, { delayOf }] = [await this.#room.module("chirp"), await import("./take_delay.js")];
    const { sampleRate: rate } = buffer;
    const sound = buffer.getChannelData(0);
    const delays = chirp ? chirps_at.map((at) => delayOf(sound, rate, chirp.chirpSamples(rate), at - begun_at)) : [];
    const delay = delays.find((one) => one !== null);
    if (delay === undefined) this.#room.say(GUESSED);
    return delay ?? output_latency;
  }

  #sound(context, buffer, at) {
    const peak = buffer.getChannelData(0).reduce((most, level) => Math.max(most, Math.abs(level)), 0);
    const gain = new GainNode(context, { gain: Math.min(MOST_GAIN, SOFTLY / peak) });
    this.#sounding = new AudioBufferSourceNode(context, { buffer });
    this.#sounding.connect(gain).connect(context.destination);
    this.#sounding.start(Math.max(at, context.currentTime), Math.max(0, context.currentTime - at));
  }

  #quiet() {
    this.#sounding?.stop();
    this.#sounding = null;
  }

  async #sendFile(event) {
    event.preventDefault();
    const form = event.target;
    const { tempo, key, feel, choruses, loop, headphones, line } = this.#room.options;
    form.elements.about.value = JSON.stringify({ tempo_bpm: tempo, key, feel, choruses, loop: loop ?? [], headphones, line, title: this.#section.dataset.title });
    this.#fileFault("");
    try {
      const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "application/json" } });
      const told = await answer.json();
      if (!answer.ok) return this.#fileFault(told.error);
      form.reset();
      this.#takes.taken(told);
    } catch {
      this.#fileFault(gettext("The program does not answer. Your file is where it was; send it again."));
    }
  }

  #fileFault(line) {
    const place = this.#part("file-fault");
    place.hidden = !line;
    place.textContent = line;
  }
}

export function furnish(room) {
  choices.furnish(room);
  const section = document.getElementById("tape");
  if (section) new TapePage(room, section);
}
