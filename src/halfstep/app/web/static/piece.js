// A piece of the practice room as the server tells it, asked for once by all who need it, and when
// its beats sound.

import { gettext } from "./words.js";

const MOST_PIECES = 12;
const CUT = gettext("The program does not answer, and the band did not come. Press again when the line is back.");

// What was made last, up to a number of entries.
export class Kept {
  #made = new Map();

  // Gives what is kept, or makes it; who asks for it meanwhile waits for the same.
  get(key, make) {
    const known = this.#made.get(key);
    const value = known ?? make();
    this.#made.delete(key);
    this.#made.set(key, value);
    if (!known) value.catch(() => this.#made.get(key) === value && this.#made.delete(key));
    return value;
  }

  keep(most) {
    for (const key of this.#made.keys()) {
      if (this.#made.size <= most) return;
      this.#made.delete(key);
    }
  }

  get size() {
    return this.#made.size;
  }

  clear() {
    this.#made.clear();
  }
}

// When the beats of a piece sound; as in `halfstep.meter.Clock`.
export class Beats {
  constructor({ quarters_a_minute, swing }) {
    this.beat_s = 60 / quarters_a_minute;
    this.middle = swing / (swing + 1);
  }

  seconds(beat) {
    const whole = Math.floor(beat);
    const part = beat - whole;
    const { middle } = this;
    const warped = part < 0.5 ? 2 * part * middle : middle + (2 * part - 1) * (1 - middle);
    return (whole + warped) * this.beat_s;
  }

  beat(seconds) {
    const whole = Math.floor(seconds / this.beat_s);
    const part = seconds / this.beat_s - whole;
    const { middle } = this;
    return whole + (part < middle ? part / (2 * middle) : 0.5 + (part - middle) / (2 * (1 - middle)));
  }
}

export const askedFor = (options) => `${new URLSearchParams(Object.entries(options).filter(([, value]) => value))}`;

const pieces = new Kept();

// A piece as it is to be played; asked for once by all who need it.
export const pieceOf = (base, asked = "") => toldOf(`${base}/piece`, asked);

// What changes where the bars that go round turn: from the last of them into the first one.
export const turnOf = (base, asked) => toldOf(`${base}/turn`, asked);

function toldOf(path, asked) {
  const address = `${path}?${typeof asked === "string" ? asked : askedFor(asked)}`;
  pieces.keep(MOST_PIECES);
  return pieces.get(address, async () => (await answerOf(address)).json());
}

// Has all pieces asked for anew: where a room is opened they may be others by now.
export const forgetPieces = () => pieces.clear();

export async function answerOf(address) {
  const answer = await fetch(address, { headers: { "x-swap": "band" } }).catch(() => {
    throw new Error(CUT);
  });
  if (!answer.ok) throw new Error((await answer.text()) || gettext("The band did not come; try again."));
  return answer;
}
