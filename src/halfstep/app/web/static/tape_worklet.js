// Hands on what the microphone hears: frames of 16 bit in the order of the clock, a piece at a time.
//
// A message is {first, sound, peak, clipped, lost}: the clock's frame that the piece begins with, its
// frames, their greatest level, how many stood at full scale, and how many there was no sound for.

const PIECE_FRAMES = 4096;
const FULL = 0.999;

class TapeProcessor extends AudioWorkletProcessor {
  constructor() {
    super();
    this.#begin();
  }

  #sound;
  #length;
  #facts;

  #begin() {
    this.#sound = new Int16Array(PIECE_FRAMES);
    this.#length = 0;
    this.#facts = { first: 0, peak: 0, clipped: 0, lost: 0 };
  }

  process([[heard]], [[quiet]]) {
    const frames = heard?.length ?? quiet.length;
    if (this.#length && currentFrame !== this.#facts.first + this.#length) this.#handOn();
    if (!this.#length) this.#facts.first = currentFrame;
    if (heard) this.#take(heard);
    else this.#facts.lost += frames;
    this.#length += frames;
    if (this.#length + frames > PIECE_FRAMES) this.#handOn();
    return true;
  }

  #take(heard) {
    for (let place = 0; place < heard.length; place++) {
      const level = Math.max(-1, Math.min(1, heard[place]));
      const height = Math.abs(level);
      if (height > this.#facts.peak) this.#facts.peak = height;
      if (height >= FULL) this.#facts.clipped++;
      this.#sound[this.#length + place] = Math.round(level * 32767);
    }
  }

  #handOn() {
    const sound = this.#sound.slice(0, this.#length).buffer;
    this.port.postMessage({ ...this.#facts, sound }, [sound]);
    this.#begin();
  }
}

registerProcessor("tape", TapeProcessor);
