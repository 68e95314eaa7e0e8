// Shows the notes that were heard so far while a take is recorded: the last few, in quiet ink, and
// never read aloud in between. Their line is there from the press on, so that nothing moves while
// somebody plays. What the feedback says later is heard in the whole take.

import { shelf } from "./takes_here.js";

const EVERY_MS = 1000;
const SHOWN = 10;
const SURE = 0.7;

class HeardNotes {
  #place;
  #line;
  #key = null;
  #count = 0;
  #isThere = false; // the server has a beginning of it: before, it would say that there is no such recording

  constructor(place) {
    this.#place = place;
    this.#line = place.querySelector("[data-notes]");
    shelf().addEventListener("moved", ({ detail }) => (this.#isThere ||= detail.key === this.#key));
  }

  begin(key) {
    this.#key = key;
    this.#count = 0;
    this.#isThere = false;
    this.#line.replaceChildren();
    this.#place.hidden = false;
    this.#ask(key);
  }

  end() {
    this.#key = null;
  }

  async #ask(key) {
    while (this.#key === key) {
      await new Promise((done) => setTimeout(done, EVERY_MS));
      if (this.#isThere) await this.#more(key).catch(() => {}); // a lost line: the notes come when it is there again
    }
  }

  async #more(key) {
    const answer = await fetch(`/room/recordings/${key}/notes?after=${this.#count}`, { headers: { accept: "application/json" } });
    if (!answer.ok) return;
    const { notes } = await answer.json();
    if (!notes.length || this.#key !== key) return;
    this.#count += notes.length;
    this.#line.append(...notes.slice(-SHOWN).map(item));
    while (this.#line.children.length > SHOWN || this.#line.scrollWidth > this.#line.clientWidth) this.#line.firstElementChild.remove();
  }
}

function item({ note, sureness }) {
  const one = document.createElement("li");
  one.textContent = sureness < SURE ? `${note}?` : note;
  return one;
}

export function furnish(room) {
  const place = document.getElementById("heard-notes");
  if (!place) return;
  const notes = new HeardNotes(place);
  room.addEventListener("recording", ({ detail }) => notes.begin(detail.key));
  room.addEventListener("recorded", () => notes.end());
  if (room.recording) notes.begin(room.recording.key); // it began while this was loaded
}
