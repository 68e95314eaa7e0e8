// What goes on through a visit of the practice room, whatever is played in it: one audio clock, one
// tape with its microphone, the modules that came, and which takes were sent.
//
// A microphone that is connected anew is late by another time; so nothing here is made twice.

export class Visit {
  #context = null;
  #tape = null;
  #modules = new Map();
  sent = new Map(); // by the address of a piece, the take of which is told there

  // The one clock; made at a press, since browsers let nothing sound before.
  get context() {
    return (this.#context ??= new AudioContext({ latencyHint: "playback" })); // steadier: a busy phone leaves no holes
  }

  // Null before the first take.
  get tape() {
    return this.#tape;
  }

  tapeOf(module) {
    return (this.#tape ??= new module.Tape(this.context));
  }

  // A part of the program by its name; null where it could not be loaded.
  module(name, address) {
    if (!this.#modules.has(name)) this.#modules.set(name, import(address).catch(() => null));
    return this.#modules.get(name);
  }
}
