// What a phone does while somebody plays: its screen goes dark, its switch for silence mutes, a call
// takes the sound. Hands are on an instrument then.
//
// By names of Screen Wake Lock and Audio Session (W3C); a browser without one goes without it.

import { gettext } from "./words.js";

const TAKEN = gettext("Something else took the sound, a call perhaps. Press Play to go on.");

export function furnish(room) {
  new Screen(room);
  if (room.running) watch(room, room.running);
  else room.addEventListener("clock", ({ detail }) => watch(room, detail.context), { once: true });
  room.addEventListener("opening", () => sessionOf("play-and-record"));
}

class Screen {
  #lock = null;
  #isWanted = false;

  constructor(room) {
    for (const name of ["playing", "recording"]) room.addEventListener(name, () => this.#want(true));
    for (const name of ["stopped", "recorded"]) room.addEventListener(name, () => this.#want(false));
    document.addEventListener("visibilitychange", () => document.hidden || this.#settle(), { signal: room.signal });
  }

  #want(is) {
    this.#isWanted = is;
    this.#settle();
  }

  // Asked for once more after another page was looked at; refused where the battery is low.
  async #settle() {
    if (this.#isWanted && (!this.#lock || this.#lock.released)) this.#lock = await asked();
    if (!this.#isWanted) await this.#lock?.release();
  }
}

const asked = async () => navigator.wakeLock?.request("screen").catch(() => null);

// As "playback" it sounds whatever the switch for silence says, and no browser gives a microphone;
// so the other kind stays once a take was asked for.
function sessionOf(kind) {
  const session = navigator.audioSession;
  if (session && session.type !== "play-and-record") session.type = kind;
}

function watch(room, context) {
  sessionOf("playback");
  let hasRun = context.state === "running";
  const changed = () => {
    if (context.state === "running") hasRun = true;
    else if (hasRun && room.isBusy) room.stop({ atOnce: true }).then(() => room.say(TAKEN));
  };
  context.addEventListener("statechange", changed, { signal: room.signal });
}
