// Brings a take to the server, piece by piece, while it is played and after: what the server has
// acknowledged is not sent again, and what a cut line kept back goes on by itself.
//
// Events: "moved" {key, have} after each piece, "cut" {key, line} where the line or the server fails,
// "refused" {key, line} where the server will not have it, "taken" {key, take, address} once it is
// acknowledged.

import { FRAME_BYTES } from "./kept_takes.js";
import { gettext } from "./words.js";

const WAITS_S = [1, 2, 4, 8, 15];
const MOST_BYTES = 2_000_000; // of a piece
const JSON_TYPE = "application/json";

class Refused extends Error {}
class Missing extends Error {}

const waited = (seconds) =>
  new Promise((settled) => {
    const timer = setTimeout(over, 1000 * seconds);
    addEventListener("online", over);
    function over() {
      clearTimeout(timer);
      removeEventListener("online", over);
      settled();
    }
  });

async function asked(path, options) {
  const answer = await fetch(path, { ...options, headers: { accept: JSON_TYPE, ...options.headers } });
  if (answer.status === 404) throw new Missing();
  if (answer.status >= 500) throw new Error((await answer.json().catch(() => ({}))).error ?? "");
  if (!answer.ok && answer.status !== 409) throw new Refused((await answer.json().catch(() => ({}))).error ?? gettext("it was refused"));
  return answer.status === 204 ? {} : answer.json();
}

const posted = (path, body) => asked(path, { method: "POST", body: JSON.stringify(body), headers: { "content-type": JSON_TYPE } });

export class TakeSender extends EventTarget {
  #takes;
  #carried = new Map();

  constructor(takes) {
    super();
    this.#takes = takes;
  }

  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  // Goes on carrying a take until it is thrown away, refused, or acknowledged where it is to be sent.
  carry(take) {
    const standing = this.#carried.get(take.key);
    const carried = standing ?? { take, have: 0, isBegun: false, isOver: false, hasNews: false, wake: () => {} };
    carried.take = take;
    if (standing) return this.wake(take.key);
    this.#carried.set(take.key, carried);
    this.#carryOn(carried);
  }

  // There is more of a take, or it is to be sent now.
  wake(key) {
    const carried = this.#carried.get(key);
    if (!carried) return;
    carried.hasNews = true;
    carried.wake();
  }

  async #carryOn(carried) {
    const { key } = carried.take;
    for (let failures = 0; !carried.isOver; ) {
      try {
        await this.#carryThrough(carried);
        failures = 0;
      } catch (error) {
        if (error instanceof Missing) carried.isBegun = false;
        else if (error instanceof Refused) return this.#leave(carried, "refused", { key, line: error.message });
        else this.#tell("cut", { key, line: error instanceof TypeError ? "" : error.message });
        await waited(WAITS_S[Math.min(failures++, WAITS_S.length - 1)]);
      }
    }
  }

  #leave(carried, name, detail) {
    carried.isOver = true;
    this.#carried.delete(carried.take.key);
    this.#tell(name, detail);
  }

  async #carryThrough(carried) {
    const { key } = carried.take;
    if (!carried.isBegun) await this.#begin(carried);
    carried.hasNews = false;
    const { take } = carried;
    const sound = await this.#takes.sound(key, carried.have / FRAME_BYTES);
    if (carried.isOver) return;
    if (sound.size) await this.#bring(carried, sound);
    else if (take.sending) await this.#end(carried, take);
    else if (!carried.hasNews) await new Promise((settled) => (carried.wake = settled));
  }

  async #begin(carried) {
    const { key, about } = carried.take;
    const told = await posted("/room/recordings", { key, piece: about.piece, about });
    carried.isBegun = true;
    this.#stands(carried, told);
  }

  // A server counts bytes; half a frame is left to be sent again.
  #stands(carried, { have, take, address }) {
    const { key } = carried.take;
    if (take) return this.#leave(carried, "taken", { key, take, address });
    carried.have = have - (have % FRAME_BYTES);
    this.#tell("moved", { key, have: carried.have });
  }

  async #bring(carried, sound) {
    const path = `/room/recordings/${carried.take.key}?from=${carried.have}`;
    const piece = sound.slice(0, MOST_BYTES);
    this.#stands(carried, await asked(path, { method: "PUT", body: piece, headers: { "content-type": "application/octet-stream" } }));
  }

  // Where the server still lacks sound that is not here, it gets what there is of the take.
  async #end(carried, { key, about }) {
    const frames = carried.have / FRAME_BYTES;
    this.#stands(carried, await posted(`/room/recordings/${key}/end`, { frames, about }));
  }

  // Stops carrying a take, and has the server forget it; true where the server has none of it, or had
  // made it a take before.
  async drop(key) {
    const carried = this.#carried.get(key);
    if (carried) {
      carried.isOver = true;
      carried.wake();
      this.#carried.delete(key);
    }
    const isOver = (error) => error instanceof Missing || error instanceof Refused;
    return asked(`/room/recordings/${key}`, { method: "DELETE" }).then(() => true, isOver);
  }
}
