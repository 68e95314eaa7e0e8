// A player's takes that are not at the teacher's yet: listed, listened to, sent, thrown away.
//
// Events: those of `take_sender.js`, "changed" where the list is another, and "full" where the browser
// keeps no more.

import { KeptTakes, wavOf } from "./kept_takes.js";
import { TakeSender } from "./take_sender.js";
import { gettext } from "./words.js";

const LOCK = "halfstep take ";

export class TakeShelf extends EventTarget {
  #takes;
  #sender;
  #ended = new Map();

  constructor(player) {
    super();
    this.#takes = new KeptTakes(player);
    this.#sender = new TakeSender(this.#takes);
    for (const name of ["moved", "cut"]) this.#sender.addEventListener(name, ({ detail }) => this.#tell(name, detail));
    this.#sender.addEventListener("refused", ({ detail }) => this.#refused(detail));
    this.#sender.addEventListener("taken", ({ detail }) => this.#taken(detail));
  }

  #tell(name, detail = {}) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  // While a take is recorded, other tabs leave it alone; gives what ends that.
  hold(key) {
    let free = () => {};
    navigator.locks?.request(LOCK + key, () => new Promise((settled) => (free = settled)));
    return () => free();
  }

  // Takes one up that is recorded just now, and brings to the server what there is of it.
  async begin(take) {
    await this.#takes.keep(take);
    this.#sender.carry(take);
  }

  async grow(take, first, sound) {
    await this.#takes.add(take, first, sound);
    if (this.#takes.isFull) this.#tell("full");
    this.#sender.wake(take.key);
  }

  async finish(take) {
    await this.begin(take);
    this.#tell("changed");
  }

  // All that wait here, those of earlier visits too, the newest first; none that is recorded just now.
  async waiting() {
    const { held = [] } = (await navigator.locks?.query()) ?? {};
    const busy = new Set(held.map(({ name }) => name));
    const takes = (await this.#takes.all()).filter(({ key, isDropped }) => !isDropped && !busy.has(LOCK + key));
    return Promise.all(takes.map(async (take) => ({ ...take, frames: await this.#takes.frames(take.key) })));
  }

  async #waiting(key) {
    const take = (await this.waiting()).find((one) => one.key === key);
    if (!take) throw new Error(gettext("this take waits here no more"));
    return take;
  }

  // Goes on with what was to be sent, or thrown away, when an earlier visit or the line ended.
  async goOn() {
    for (const take of await this.waiting()) if (take.sending) this.#sender.carry(take);
    for (const { key, isDropped } of await this.#takes.all()) if (isDropped) await this.#drop(key);
  }

  // Sends a take; resolves with {take, address} when the server has acknowledged it.
  async send(key) {
    const take = { ...(await this.#waiting(key)), sending: true };
    const end = new Promise((settled, failed) => this.#ended.set(key, { settled, failed }));
    await this.#takes.keep(take);
    this.#tell("changed");
    this.#sender.carry(take);
    return end;
  }

  async #taken(detail) {
    await this.#takes.remove(detail.key);
    this.#end(detail.key, "settled", detail);
    this.#tell("taken", detail);
    this.#tell("changed");
  }

  async #refused(detail) {
    const take = (await this.waiting()).find(({ key }) => key === detail.key);
    if (take) await this.#takes.keep({ ...take, sending: false });
    this.#end(detail.key, "failed", new Error(detail.line));
    this.#tell("refused", detail);
    this.#tell("changed");
  }

  #end(key, how, what) {
    this.#ended.get(key)?.[how](what);
    this.#ended.delete(key);
  }

  async discard(key) {
    await this.#takes.drop(key);
    this.#tell("changed");
    await this.#drop(key);
  }

  async #drop(key) {
    if (await this.#sender.drop(key)) await this.#takes.remove(key);
  }

  // A take as a file that can be listened to.
  async file(key) {
    return wavOf(this.#takes, await this.#waiting(key));
  }
}
