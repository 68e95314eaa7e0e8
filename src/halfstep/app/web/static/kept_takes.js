// Takes that wait in the browser until the server has acknowledged them.
//
// A take is {key, player, about, begun, frames, sending}; its sound lies beside it in pieces of 16
// bit. One that was thrown away is {key, player, begun, isDropped} until the server has none of it. Each piece is a change of its own, so that a crash costs less than a second. What the
// browser's storage refuses is kept in memory, as long as the page is open; `isFull` says so.

const NAME = "halfstep takes";
const TAKES = "takes";
const PIECES = "pieces";
export const FRAME_BYTES = 2;

const answered = (request) =>
  new Promise((settled, failed) => {
    request.onsuccess = () => settled(request.result);
    request.onerror = () => failed(request.error);
  });

const done = (change) =>
  new Promise((settled, failed) => {
    change.oncomplete = () => settled();
    change.onabort = () => failed(change.error);
  });

function opened() {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore(TAKES, { keyPath: "key" });
    request.result.createObjectStore(PIECES, { keyPath: ["key", "first"] });
  };
  return answered(request);
}

export class KeptTakes {
  #player;
  #database;
  #takes = new Map();
  #pieces = new Map();
  isFull = false;

  // Of one player: a browser may be shared, and takes are nobody else's.
  constructor(player) {
    this.#player = player;
    this.#database = opened().catch(() => null);
  }

  async keep(take) {
    this.#takes.set(take.key, take);
    await this.#change((store) => store(TAKES).put({ ...take, player: this.#player }));
  }

  // Adds a piece of sound, and keeps what is known of the take by now.
  async add(take, first, sound) {
    const piece = { key: take.key, first, sound };
    const isKept = await this.#change((store) => {
      store(TAKES).put({ ...take, player: this.#player });
      store(PIECES).put(piece);
    });
    if (!isKept) this.#pieces.set(take.key, [...(this.#pieces.get(take.key) ?? []), piece]);
  }

  async #change(act) {
    try {
      const database = await this.#database;
      const change = database.transaction([TAKES, PIECES], "readwrite");
      act((name) => change.objectStore(name));
      await done(change);
      return true;
    } catch {
      this.isFull = true;
      return false;
    }
  }

  async #read(name, query, most) {
    const database = await this.#database;
    return database ? answered(database.transaction(name).objectStore(name).getAll(query, most)) : [];
  }

  // All takes of the player, the newest first.
  async all() {
    const takes = new Map((await this.#read(TAKES)).map((take) => [take.key, take]));
    for (const take of this.#takes.values()) takes.set(take.key, { ...take, player: this.#player });
    return [...takes.values()].filter((take) => take.player === this.#player).sort((one, other) => other.begun - one.begun);
  }

  // Sound from a frame on, some seconds of it at most; empty where there is none yet.
  async sound(key, from, most = 32) {
    const after = await this.#read(PIECES, IDBKeyRange.bound([key, from], [key, Infinity]), most);
    const before = from ? await this.#before(key, from) : [];
    const pieces = [...before, ...after, ...(this.#pieces.get(key) ?? [])].sort((one, other) => one.first - other.first);
    const parts = [];
    let next = from;
    for (const { first, sound } of pieces) {
      const skipped = next - first;
      const frames = sound.byteLength / FRAME_BYTES;
      if (skipped < 0 || skipped >= frames) continue;
      parts.push(sound.slice(skipped * FRAME_BYTES));
      next = first + frames;
    }
    return new Blob(parts);
  }

  // The piece that a frame lies in, where that does not begin with it.
  async #before(key, from) {
    const database = await this.#database;
    if (!database) return [];
    const range = IDBKeyRange.bound([key, 0], [key, from], false, true);
    const cursor = await answered(database.transaction(PIECES).objectStore(PIECES).openCursor(range, "prev"));
    return cursor ? [cursor.value] : [];
  }

  // How many frames lie here: what a crashed page has left.
  async frames(key) {
    const last = [...(await this.#before(key, Infinity)), ...(this.#pieces.get(key) ?? [])].at(-1);
    return last ? last.first + last.sound.byteLength / FRAME_BYTES : 0;
  }

  async remove(key) {
    this.#takes.delete(key);
    this.#pieces.delete(key);
    await this.#change((store) => {
      store(TAKES).delete(key);
      store(PIECES).delete(IDBKeyRange.bound([key, 0], [key, Infinity]));
    });
  }

  // Removes all of a take but its key, by which the server is still to be told.
  async drop(key) {
    await this.remove(key);
    await this.keep({ key, begun: 0, isDropped: true });
  }
}

// The whole of a take as a file that browsers play (RIFF WAVE).
export async function wavOf(takes, take) {
  const sound = await takes.sound(take.key, 0, undefined);
  const rate = take.about.sample_rate;
  const head = new DataView(new ArrayBuffer(44));
  const word = (place, text) => [...text].forEach((letter, at) => head.setUint8(place + at, letter.charCodeAt(0)));
  word(0, "RIFF");
  head.setUint32(4, 36 + sound.size, true);
  word(8, "WAVEfmt ");
  head.setUint32(16, 16, true);
  head.setUint16(20, 1, true);
  head.setUint16(22, 1, true);
  head.setUint32(24, rate, true);
  head.setUint32(28, rate * FRAME_BYTES, true);
  head.setUint16(32, FRAME_BYTES, true);
  head.setUint16(34, 8 * FRAME_BYTES, true);
  word(36, "data");
  head.setUint32(40, sound.size, true);
  return new Blob([head, sound], { type: "audio/wav" });
}
