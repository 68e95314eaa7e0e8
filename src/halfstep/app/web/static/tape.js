// Records what is played in the practice room: one microphone and one graph for the whole visit.
//
// Delay is constant within a graph, and another one after each connection of the microphone: so it
// is connected once. What is heard lies in the browser within a third of a second, goes to the server
// while it is played, and is forgotten here when the server has acknowledged it.
//
// Events: "level" {peak, clipped}, "clipped" where a take is too loud, "gap" {frame, lost} where so many
// frames lack, "lost" {line} where the take has ended without being asked to.

import { FRAME_BYTES } from "./kept_takes.js";
import { shelf } from "./takes_here.js";
import { gettext } from "./words.js";

export { furnish } from "./tape_page.js";

const KEPT_FRAMES = 16384;
const LONGEST_BYTES = 118_000_000;
const STALL_S = 0.1;
const STALL_PIECES = 12;
const STEADY_PIECES = 3;
const MOST_GAPS = 100;

const INSECURE = gettext("Browsers give no microphone to a page without https. You can play along here, and send a file from your phone’s recorder.");
const NO_MICROPHONE = gettext("There is no microphone here. Plug one in and press again, or send a file from your phone’s recorder.");
const FAULTS = {
  NotAllowedError: gettext("This page may not use the microphone. Allow it by the sign beside the address and press again, or send a file from your phone’s recorder."),
  NotFoundError: NO_MICROPHONE,
  OverconstrainedError: NO_MICROPHONE,
  NotReadableError: gettext("Another program has the microphone, a call perhaps. End that and press again."),
};
const TAKEN = gettext("The microphone was taken away, by a call perhaps. What you played up to then is kept.");
const SILENT = gettext("The microphone is silent, by a call or its own switch. End that and press again.");
const LONG = gettext("No take can be longer. It has ended, and is kept.");

const AUDIO = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: { ideal: 1 } };

// Why there is no microphone, in one plain sentence.
export class TapeFault extends Error {}

// How late pieces come at the least: it changes for good where the clock of sound stood still.
class Stalls {
  #late = [];
  #usual = null;

  // Seconds that lack before a piece that ends at `end_s`; 0 for none.
  before(end_s) {
    this.#late.push(performance.now() / 1000 - end_s);
    if (this.#late.length < STALL_PIECES) return 0;
    const least = Math.min(...this.#late);
    const lost = least - (this.#usual ?? least);
    this.#usual = least;
    this.#late = [];
    return lost > STALL_S ? lost : 0;
  }
}

export class Tape extends EventTarget {
  #context;
  #track = null;
  #worklet = null;
  #take = null;
  #held = [];
  #writing = Promise.resolve();
  #next = 0;
  #steady = 0;

  constructor(context) {
    super();
    this.#context = context;
    document.addEventListener("visibilitychange", () => document.hidden && this.#keepHeld());
    addEventListener("pagehide", () => this.#keepHeld());
  }

  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  // Asks for the microphone, once a visit; a `TapeFault` says why there is none.
  async open() {
    if (this.#track?.readyState === "live") {
      if (this.#track.muted) throw new TapeFault(SILENT);
      return;
    }
    if (!navigator.mediaDevices?.getUserMedia) throw new TapeFault(INSECURE);
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: AUDIO });
    } catch (error) {
      throw new TapeFault(FAULTS[error.name] ?? gettext("The microphone did not start (%(fault)s). Press again.", { fault: error.name }));
    }
    [this.#track] = stream.getAudioTracks();
    this.#track.addEventListener("ended", () => this.#lose(TAKEN));
    this.#track.addEventListener("mute", () => this.#lose(TAKEN));
    await this.#connect(stream);
  }

  // A node that leads nowhere is not asked for sound in every browser: it hands on silence.
  async #connect(stream) {
    await this.#context.audioWorklet.addModule(new URL("./tape_worklet.js", import.meta.url));
    const options = { channelCount: 1, channelCountMode: "explicit", outputChannelCount: [1] };
    this.#worklet?.disconnect();
    this.#worklet?.port.close(); // of a microphone that is gone
    this.#worklet = new AudioWorkletNode(this.#context, "tape", options);
    this.#worklet.port.onmessage = ({ data }) => this.#hear(data);
    this.#context.createMediaStreamSource(stream).connect(this.#worklet).connect(this.#context.destination);
  }

  #hear(piece) {
    const { peak, clipped } = piece;
    this.#tell("level", { peak, clipped });
    this.#steady = piece.first === this.#next ? this.#steady + 1 : 0;
    this.#next = piece.first + piece.sound.byteLength / FRAME_BYTES;
    const take = this.#take;
    // the first frames of a graph come with holes
    if (!take || (take.first === null && this.#steady < STEADY_PIECES)) return;
    if (take.first === null) this.#begin(take, piece.first);
    this.#judge(take, piece);
    const place = piece.first - take.first;
    if (place > take.frames) this.#held.push({ place: take.frames, sound: new ArrayBuffer((place - take.frames) * FRAME_BYTES) });
    take.frames = place + piece.sound.byteLength / FRAME_BYTES;
    this.#held.push({ place, sound: piece.sound });
    if (take.frames - this.#held[0].place >= KEPT_FRAMES) this.#keepHeld();
    if (take.frames * FRAME_BYTES > LONGEST_BYTES) this.#lose(LONG);
  }

  #begin(take, first) {
    take.first = first;
    take.about.begun_at = first / this.#context.sampleRate;
    take.isHeard();
  }

  #judge(take, { first, sound, clipped, lost }) {
    const rate = this.#context.sampleRate;
    const place = first - take.first;
    const stalled = take.stalls.before((first + sound.byteLength / FRAME_BYTES) / rate);
    for (const frames of [place - take.frames, lost, Math.round(stalled * rate)]) if (frames > 0) this.#gap(take, place, frames);
    if (!clipped) return;
    take.about.clipped = (take.about.clipped ?? 0) + clipped;
    this.#tell("clipped", {});
  }

  #gap(take, frame, lost) {
    if (take.about.gaps.length < MOST_GAPS) take.about.gaps.push({ frame, lost });
    this.#tell("gap", { frame, lost });
  }

  async #lose(line) {
    if (!this.#take) return;
    this.#gap(this.#take, this.#take.frames, 0);
    await this.stop();
    this.#tell("lost", { line });
  }

  #keepHeld() {
    const [take, held] = [this.#take, this.#held];
    if (!take || !held.length) return;
    this.#held = [];
    const record = this.#record(take);
    const sound = joined(held.map((piece) => piece.sound));
    this.#writing = this.#writing.then(() => shelf().grow(record, held[0].place, sound));
  }

  #record({ key, begun, about, frames }) {
    return { key, begun, about: structuredClone(about), frames };
  }

  // Begins a take, and gives its key when its first sound is there. What is known of the take may
  // still be written into `about` until it ends.
  async record(about) {
    const { title } = document.getElementById("tape")?.dataset ?? {};
    Object.assign(about, { title, gaps: [], sample_rate: this.#context.sampleRate });
    const key = crypto.randomUUID();
    this.#held = [];
    const take = { key, about, begun: Date.now(), first: null, frames: 0, stalls: new Stalls(), free: shelf().hold(key) };
    await new Promise((isHeard, failed) => (this.#take = Object.assign(take, { isHeard, failed })));
    await shelf().begin(this.#record(take));
    return key;
  }

  async stop(about = {}) {
    const take = this.#take;
    if (!take) return;
    Object.assign(take.about, about);
    this.#keepHeld();
    this.#take = null;
    take.free();
    if (take.first === null) return take.failed(new TapeFault(TAKEN));
    await this.#writing;
    await shelf().finish(this.#record(take));
  }

  send(key) {
    return shelf().send(key);
  }

  async discard(key) {
    if (this.#take?.key === key) await this.stop();
    await shelf().discard(key);
  }
}

function joined(buffers) {
  const sound = new Uint8Array(buffers.reduce((size, one) => size + one.byteLength, 0));
  let place = 0;
  for (const one of buffers) {
    sound.set(new Uint8Array(one), place);
    place += one.byteLength;
  }
  return sound.buffer;
}
