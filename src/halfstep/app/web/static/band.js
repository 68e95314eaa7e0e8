// The band of the practice room: every part in stretches of some bars, on one clock.
//
// A stretch begins on its beat, at the frame of the clock that is nearest to it, and rings on into
// the next one. Each round of a loop is reckoned from the first beat of all, never from the round
// before it, so that nothing adds up. Rounds last whole sevenths of a frame, a hundred times finer
// than any clock of a device is right: then no round begins more than three sevenths off, which is
// .0097 ms at 44.1 kHz and .0089 at 48. Stretches are fetched and decoded shortly before they sound.
//
// Bars are places in the form, from 1; choruses and rounds count from 1; beats are quarter notes.

import { Beats, Kept, answerOf, askedFor, pieceOf } from "./piece.js";
import { gettext } from "./words.js";


const AHEAD_S = 5; // what begins within so many seconds is decoded and set to sound
const FETCHED_AHEAD_S = 12; // and within so many it is fetched
const PUMP_MS = 150;
const SOON_S = 0.08;
const LATE_S = 0.03;
const RAMP_S = 0.02;
const STOP_S = 0.05;
const SOFTLY = 0.4;
const FINENESS = 7; // parts of a frame: an odd number, of which none lies halfway
const RATE = 44100; // of the sounds as they are made
const PADDING = 1024; // frames before the first one, where an engine leaves them in
const MOST_DECODED = 8; // stretches of a part; two rounds, where these are fewer
const MOST_BYTES = 24e6;
const UNPLAYABLE = gettext("This browser cannot play the sound of the band; another one can.");
const FORMS = ["m4a", "ogg"]; // the second for an engine that cannot decode the first
const COUNT_IN = "count-in";
const ENDING = "ending";
const USUAL = { drums: true, bass: true, chords: true, line: false, click: false, drone: false };

let usable = 0; // the first of the forms that this engine may decode

// What of a decoded sound is to be heard: frames that an encoder puts before the first one are left
// in by some engines. `frames` is the length as it was made.
export function unpadded(buffer, frames) {
  const ratio = buffer.sampleRate / RATE;
  const spare = buffer.length - frames * ratio;
  return spare > 0.75 * PADDING * ratio ? Math.round(PADDING * ratio) : 0;
}

export class Band extends EventTarget {
  #context;
  #ahead_s;
  #out;
  #gains = new Map();
  #bytes = new Kept();
  #fetched = 0;
  #decoded = new Kept();
  #play = null;
  #base = "";
  #asked = "";
  #parts = { ...USUAL };

  // `ahead_s` is how long before it sounds a stretch is set to; all at once for sound that is only
  // reckoned.
  constructor(context, { ahead_s = AHEAD_S } = {}) {
    super();
    this.#context = context;
    this.#ahead_s = ahead_s;
    this.#out = new GainNode(context, { gain: SOFTLY });
    this.#out.connect(context.destination);
    this.piece = null;
  }

  get parts() {
    return { ...this.#parts };
  }

  get isPlaying() {
    return this.#play !== null;
  }

  get loudness() {
    return this.#out.gain.value;
  }

  set loudness(value) {
    this.#out.gain.setTargetAtTime(value, this.#context.currentTime, RAMP_S);
  }

  // Asks for a piece as it is to be played; the sounds of its first bars are on their way then.
  async load(base, { tempo = null, key = "", feel = "" } = {}) {
    const asked = askedFor({ tempo, key, feel });
    if (this.piece && this.#base === base && this.#asked === asked) return this.piece;
    const piece = await pieceOf(base, asked);
    this.stop();
    this.#decoded.clear();
    [this.#base, this.#asked, this.piece] = [base, asked, piece];
    this.beats = new Beats(piece);
    this.#fetchFirst([1, piece.bars.length]).catch(() => {}); // who starts the band is told
    return piece;
  }

  #sounding() {
    return Object.keys(this.#parts).filter((part) => this.#parts[part]);
  }

  // Stretches of the bars that go round, with the seconds from the first of them.
  #stretches([first, last]) {
    const start = this.beats.seconds(this.#start(first));
    return this.piece.stretches
      .map(([from, to]) => ({ first: Math.max(first, from), last: Math.min(last, to) }))
      .filter((stretch) => stretch.first <= stretch.last)
      .map((stretch) => ({ ...stretch, at_s: this.#fine(this.beats.seconds(this.#start(stretch.first)) - start) }));
  }

  // A length to the nearest seventh of a frame.
  #fine(seconds) {
    const parts = FINENESS * this.#context.sampleRate;
    return Math.round(seconds * parts) / parts;
  }

  // Where a bar begins in a chorus, in beats; the one behind the last too.
  #start(bar) {
    return this.piece.bars[bar - 1]?.start ?? this.piece.chorus_beats;
  }

  #fetchFirst(region) {
    const first = { ...this.#stretches(region)[0], chorus: 1 };
    const wanted = this.#sounding().map((part) => this.#fetch(part, first));
    return Promise.all([this.#fetch("click", { chorus: COUNT_IN }), ...wanted]);
  }

  // Resolves when what sounds first is there.
  ready({ loop = null } = {}) {
    return this.#fetchFirst(loop ?? [1, this.piece.bars.length]);
  }

  // All that the first bars need is there when this comes to its end.
  async #begun(region, [first]) {
    await this.#fetchFirst(region);
    await this.#decode("click", { chorus: COUNT_IN });
    await Promise.all(this.#sounding().map((part) => this.#decode(part, { ...first, chorus: 1 })));
  }

  // `choruses` null plays on until it is stopped; `loop` [first, last] has these bars go round.
  // Nothing sounds for `lead_s` seconds before the count-in.
  async start({ choruses = null, loop = null, lead_s = 0 } = {}) {
    this.#hush();
    const region = loop ?? [1, this.piece.bars.length];
    const stretches = this.#stretches(region);
    const play = { rounds: choruses ?? Infinity, region, stretches, next: 0, sources: new Set(), late: 0 };
    play.round_s = this.#fine(this.beats.seconds(this.#start(region[1] + 1)) - this.beats.seconds(this.#start(region[0])));
    play.has_ending = !loop && this.piece.ending_beats > 0;
    this.#play = play;
    try {
      await this.#begun(region, stretches);
    } catch (fault) {
      if (this.#play === play) this.stop();
      throw fault;
    }
    if (this.#play !== play) return;
    const count_in_s = this.beats.seconds(this.piece.count_in_beats);
    const { sampleRate, currentTime } = this.#context;
    play.zero = Math.ceil((currentTime + SOON_S + this.piece.lead_s + lead_s + count_in_s) * sampleRate) / sampleRate;
    play.count_in_at = play.zero - count_in_s;
    play.end = play.zero + play.rounds * play.round_s;
    await this.#sound(play, "click", { chorus: COUNT_IN }, play.count_in_at, true);
    if (this.#parts.line) this.#sound(play, "line", { chorus: COUNT_IN }, play.count_in_at);
    this.#tell("start", { first_beat_at: play.zero, count_in_at: play.count_in_at });
    this.#pump(play);
    play.timer = setInterval(() => this.#pump(play), PUMP_MS);
  }

  // The so-manieth stretch of all that is played, and when its first beat is.
  #stretchAt(play, number) {
    const round = Math.floor(number / play.stretches.length);
    const stretch = play.stretches[number % play.stretches.length];
    if (round < play.rounds) {
      const chorus = (round % this.piece.block) + 1;
      return { ...stretch, chorus, begins: play.zero + round * play.round_s + stretch.at_s };
    }
    const is_ending = play.has_ending && round === play.rounds && number % play.stretches.length === 0;
    return is_ending ? { chorus: ENDING, begins: play.end } : null;
  }

  #pump(play) {
    if (this.#play !== play) return;
    const now = this.#context.currentTime;
    for (let stretch; (stretch = this.#stretchAt(play, play.next)) && stretch.begins < now + this.#ahead_s; play.next++)
      for (const part of this.#sounding()) this.#sound(play, part, stretch, stretch.begins);
    const stretch = this.#stretchAt(play, play.next);
    if (stretch && stretch.begins < now + FETCHED_AHEAD_S)
      for (const part of this.#sounding()) this.#fetch(part, stretch).catch(() => {});
    this.#decoded.keep(this.#sounding().length * Math.min(MOST_DECODED, 2 * play.stretches.length) + 2);
    this.#tellBar(play);
    if (now >= play.end + (play.has_ending ? this.beats.seconds(this.piece.ending_beats) : 0)) this.#end(play);
  }

  #tellBar(play) {
    const place = this.place;
    if (!place || (place.bar === play.told?.bar && place.chorus === play.told?.chorus)) return;
    play.told = place;
    this.#tell("bar", place);
  }

  async #sound(play, part, stretch, begins, is_count_in = false) {
    try {
      const sound = await this.#decode(part, stretch);
      if (!sound || this.#play !== play || !(is_count_in || this.#parts[part])) return;
      const late_s = this.#set(play, part, sound, begins, is_count_in);
      if (late_s > 0 && stretch.joins_at === undefined) this.#tell("late", { part, seconds: late_s });
    } catch {
      if (this.#play === play) this.#tell("late", { part });
    }
  }

  // Sets a sound to begin; one that came too late begins where it should be by now. Gives how late.
  #set(play, part, { buffer, first }, begins, is_count_in) {
    const { sampleRate, currentTime } = this.#context;
    const lead = Math.round(this.piece.lead_s * sampleRate);
    const at = (Math.round(begins * sampleRate) - lead) / sampleRate;
    const begin = Math.max(at, currentTime >= at ? currentTime + LATE_S : 0);
    const skipped = begin - at;
    if (skipped + first / sampleRate >= buffer.duration) return skipped;
    const source = new AudioBufferSourceNode(this.#context, { buffer });
    source.connect(is_count_in ? this.#out : this.#gain(part));
    source.start(begin, first / sampleRate + skipped);
    play.sources.add(source);
    source.addEventListener("ended", () => play.sources.delete(source));
    return skipped;
  }

  #gain(part) {
    if (!this.#gains.has(part)) {
      const gain = new GainNode(this.#context, { gain: this.#parts[part] ? 1 : 0 });
      gain.connect(this.#out);
      this.#gains.set(part, gain);
    }
    return this.#gains.get(part);
  }

  // Turns parts on and off, `{ drums: false }`; one that is turned on sounds from where the band is.
  setParts(parts) {
    const before = this.#parts;
    this.#parts = { ...before, ...parts };
    for (const part of Object.keys(this.#parts)) {
      if (this.#parts[part] === before[part]) continue;
      this.#gain(part).gain.setTargetAtTime(this.#parts[part] ? 1 : 0, this.#context.currentTime, RAMP_S);
      if (this.#parts[part] && this.#play?.zero !== undefined) this.#join(this.#play, part);
    }
  }

  // Sets what a part has missed: the stretches that sound now or are set already.
  #join(play, part) {
    const now = this.#context.currentTime;
    const set = [...Array(play.next).keys()].slice(-2 * MOST_DECODED).map((number) => this.#stretchAt(play, number));
    set.forEach((stretch, place) => {
      const ends = set[place + 1]?.begins ?? Infinity;
      if (stretch && ends > now) this.#sound(play, part, { ...stretch, joins_at: now }, stretch.begins);
    });
  }

  // Has other bars go round, or all of them: from the count-in on.
  loop(bars) {
    const rounds = this.#play?.rounds;
    return this.start({ choruses: Number.isFinite(rounds) ? rounds : null, loop: bars });
  }

  stop() {
    const play = this.#hush();
    const now = this.#context.currentTime;
    if (play) this.#tell("ended", { last_beat_at: play.zero === undefined ? now : Math.min(now, play.end) });
  }

  // Silence at once, of which nobody is told: something else may begin.
  #hush() {
    const play = this.#play;
    for (const source of play?.sources ?? []) source.stop(this.#context.currentTime + STOP_S);
    clearInterval(play?.timer);
    this.#play = null;
    return play;
  }

  #end(play) {
    clearInterval(play.timer);
    this.#play = null;
    this.#tell("ended", { last_beat_at: play.end });
  }

  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  // Where the music is that is heard now; chorus 0 is the count-in, null where nothing is played.
  // `beat` is counted from the start of its bar, `at` from the start of the chorus.
  get place() {
    const play = this.#play;
    if (play?.zero === undefined) return null;
    const heard = this.#context.currentTime - (this.#context.outputLatency || this.#context.baseLatency || 0);
    const since = heard - play.zero;
    if (since < 0) return { chorus: 0, bar: 0, beat: this.beats.beat(since), at: this.beats.beat(since) };
    const round = Math.min(Math.floor(since / play.round_s), play.rounds - 1);
    const first = this.beats.seconds(this.#start(play.region[0]));
    const at = this.beats.beat(first + since - round * play.round_s);
    const bar = this.#barAt(at);
    return { chorus: round + 1, bar, beat: at - this.#start(bar), at };
  }

  #barAt(at) {
    const behind = this.piece.bars.findIndex(({ start }) => start > at + 1e-9);
    const bars = this.piece.bars.length;
    if (behind < 0) return at < this.piece.chorus_beats || this.piece.ending_beats === 0 ? bars : bars + 1;
    return Math.max(1, behind);
  }

  // When a beat of a bar is meant to sound, in seconds of the clock; its loudspeaker is later.
  beatTime(chorus, bar, beat) {
    const play = this.#play;
    const first = this.beats.seconds(this.#start(play.region[0]));
    return play.zero + (chorus - 1) * play.round_s + this.beats.seconds(this.#start(bar) + beat) - first;
  }

  // Sounds

  #name(part, { chorus, first, last }) {
    const bars = first ? { bars: `${first}-${last}` } : {};
    const alike = ["line", "click", "drone"].includes(part) && Number.isInteger(chorus) ? 1 : chorus;
    const mark = this.piece.marks[part === "line" ? "line" : "band"];
    return `${this.#base}/sound/${part}?${this.#asked}&${new URLSearchParams({ chorus: alike, ...bars, mark, form: FORMS[usable] })}`;
  }

  // The file of a sound: its bytes, and how many frames were made of it; null for silence.
  #fetch(part, stretch) {
    const name = this.#name(part, stretch);
    return this.#bytes.get(name, async () => {
      const answer = await answerOf(name);
      if (answer.status === 204) return null;
      const bytes = await answer.arrayBuffer();
      this.#fetched += bytes.byteLength;
      if (this.#fetched > MOST_BYTES) {
        this.#bytes.keep(this.#bytes.size / 2);
        this.#fetched /= 2;
      }
      return { bytes, frames: Number(answer.headers.get("x-frames")) };
    });
  }

  #decode(part, stretch) {
    return this.#decoded.get(this.#name(part, stretch), () => this.#heard(part, stretch, usable));
  }

  // A sound decoded; where this engine does not know its form, the next form is asked for, for good.
  async #heard(part, stretch, form) {
    usable = Math.max(form, usable);
    const sound = await this.#fetch(part, stretch);
    if (!sound) return null;
    try {
      const buffer = await this.#context.decodeAudioData(sound.bytes.slice(0));
      return { buffer, first: unpadded(buffer, sound.frames) };
    } catch (fault) {
      if (form + 1 >= FORMS.length) throw new Error(UNPLAYABLE, { cause: fault });
      return this.#heard(part, stretch, form + 1);
    }
  }
}
