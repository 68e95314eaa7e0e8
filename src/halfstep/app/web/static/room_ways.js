// From one piece of the practice room to the next without leaving the page: what stands in the answer
// takes the place of what stands here, so that the clock and the microphone of the visit go on.
//
// Links, the player's own word, and the browser's way back and forward lead so. Without this script,
// which comes with the first press, they lead to whole pages; so does what is no room, another
// player's, or of a newer program.

import { gettext } from "./words.js";

const CUT = gettext("The program does not answer, and nothing has changed here. Press again when the line is back.");
const COMING = gettext("Coming …");
const SOON_MS = 400; // a sign that something was pressed, where it lasts

const isRoom = ({ origin, pathname, hash }) => origin === location.origin && !hash && /^\/room(\/|$)/.test(pathname);
const here = () => location.pathname + location.search;

// Whose page it is, and of which program; of a page without a room nothing of that.
const marks = (page) => [page.querySelector("#takes-here")?.dataset.player, page.querySelector("[src*='/enter.js']")?.getAttribute("src")].join();

// A page, or else one line that says why there is none.
async function answerOf(address, options) {
  try {
    const answer = await fetch(address, { ...options, headers: { "x-swap": "#main" } });
    const text = await answer.text();
    if (!answer.headers.get("content-type")?.startsWith("text/html")) return { line: text };
    return { page: new DOMParser().parseFromString(text, "text/html"), url: answer.url };
  } catch {
    return { line: CUT };
  }
}

export class RoomWays {
  #enter;
  #room;
  #asking = null;
  #shown; // the address of what is shown, and its place among those of the visit
  #place;

  // `room` stands on the page; `enter` gives the one that stands there next.
  constructor(room, enter) {
    this.#room = room;
    this.#enter = enter;
    this.#stands(history.state?.place ?? 0);
    document.addEventListener("click", (event) => this.#press(event));
    document.addEventListener("submit", (event) => this.#send(event));
    addEventListener("popstate", ({ state }) => here() !== this.#shown && this.#go(location.href, {}, state ?? {}));
  }

  #stands(place) {
    history.replaceState({ place }, "");
    [this.#shown, this.#place] = [here(), place];
  }

  #press(event) {
    const link = event.target.closest?.("a[href]");
    if (!link || !isRoom(link) || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
    event.preventDefault();
    this.#go(link.href);
  }

  #send(event) {
    const { target: form, submitter } = event;
    if (!form.matches(".own-word")) return;
    event.preventDefault();
    this.#go(form.action, { method: "post", body: new URLSearchParams(new FormData(form, submitter)) });
  }

  // `moved` is the state that the browser has moved to by itself, back or forward.
  async #go(address, options = {}, moved = null) {
    this.#asking?.abort();
    const { signal } = (this.#asking = new AbortController());
    const soon = setTimeout(() => this.#room.say(COMING), SOON_MS);
    const answer = await answerOf(address, { ...options, signal });
    clearTimeout(soon);
    if (signal.aborted) return;
    if (answer.page) this.#show(answer.page, answer.url, moved);
    else this.#stay(answer.line, moved);
  }

  #show(page, address, moved) {
    if (marks(page) !== marks(document)) return location.assign(address);
    this.#room.close();
    const main = document.getElementById("main");
    main.replaceChildren(...page.getElementById("main").childNodes);
    document.title = page.title;
    if (moved || address === location.href) history.replaceState(history.state, "", address);
    else history.pushState({ place: this.#place + 1 }, "", address);
    this.#stands(history.state?.place ?? this.#place);
    document.dispatchEvent(new CustomEvent("swapped", { detail: main }));
    this.#room = this.#enter();
    this.#room.say("");
    scrollTo(0, 0);
    const heading = main.querySelector("h1");
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }

  // What is shown stays, and so does its address.
  #stay(line, moved) {
    this.#room.say(line);
    if (moved?.place !== undefined) history.go(this.#place - moved.place);
  }
}
