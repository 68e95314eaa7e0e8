// Opens the practice room that stands on the page, and each one that takes its place in a visit.
//
// What Play needs to stand there is loaded first, with the style no more than the six files that a
// browser asks for at once; then what sounds and what records. What a take needs, and the ways to the
// next piece, come with the first press: before it there is no clock and no microphone that could go
// on, and links lead to whole pages.

import * as view from "./band_view.js";
import { Room } from "./room.js";
import { Visit } from "./visit.js";

const visit = new Visit();
let ways;

function enter() {
  const section = document.getElementById("room");
  const room = new Room(section, visit);
  document.getElementById("insecure").hidden = isSecureContext; // a browser alone knows
  if (section.dataset.band) {
    view.furnish(room);
    section.querySelectorAll("[data-loop]").forEach(offerLoop);
  }
  for (const name of ["interruptions", "band", "tape"]) furnish(room, name);
  room.addEventListener("clock", () => pressed(room), { once: true });
  room.addEventListener("sent", ({ detail }) => {
    visit.sent.set(room.base, detail.take);
    tellOf(room, { isNew: true });
  });
  if (visit.sent.has(room.base)) tellOf(room);
  return room;
}

async function furnish(room, name) {
  (await room.module(name))?.furnish?.(room);
}

async function pressed(room) {
  furnish(room, "heard_notes");
  ways ??= room.module("room_ways").then((module) => module && new module.RoomWays(room, enter));
}

// What was heard stands there again after something else was played, such as what it gave to play.
async function tellOf(room, options) {
  (await room.module("told_take"))?.begin(room, visit.sent.get(room.base), options);
}

// The bars that the plan has go round first, chosen as in the band's own controls.
function offerLoop(button) {
  button.hidden = false;
  button.addEventListener("click", () => {
    const [from, to] = ["from", "to"].map((id) => document.getElementById(id));
    [from.value, to.value] = button.dataset.loop.split(" ");
    to.dispatchEvent(new Event("change", { bubbles: true }));
  });
}

const first = enter();
// what was shown before this page was loaded comes back as a whole page, too
addEventListener("popstate", () => ways || first.base === location.pathname || location.reload());
