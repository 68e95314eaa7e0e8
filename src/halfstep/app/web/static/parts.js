// Plays the parts of a line together, each on or off, from one moment of one clock.
//
//   <section data-parts="/lines/3/parts/" data-mark="…"> with a checkbox for each part, named by
//   `data-part`, and a button `data-play`. The sound is fetched on the first press.

import { gettext } from "./words.js";

const section = document.querySelector("[data-parts]");
let context;
let loaded = "";
let buffers = new Map();
let sounding = [];
const gains = new Map();
const RAMP_S = 0.02;

const ticks = () => [...section.querySelectorAll("[data-part]")];

async function fetched(mark) {
  const found = await Promise.all(
    ticks().map(async (tick) => {
      const answer = await fetch(`${section.dataset.parts}${tick.dataset.part}.m4a?${mark}`);
      return answer.ok ? [tick.dataset.part, await context.decodeAudioData(await answer.arrayBuffer())] : null;
    }),
  );
  buffers = new Map(found.filter(Boolean));
  loaded = mark;
}

function stop() {
  for (const source of sounding) source.stop();
  sounding = [];
  button().textContent = gettext("Play");
}

const button = () => section.querySelector("[data-play]");

function start() {
  const at = context.currentTime + 0.05;
  sounding = [...buffers].map(([part, buffer]) => {
    const source = new AudioBufferSourceNode(context, { buffer });
    const gain = new GainNode(context, { gain: section.querySelector(`[data-part="${part}"]`).checked ? 1 : 0 });
    gains.set(part, gain);
    source.connect(gain).connect(context.destination);
    source.start(at);
    return source;
  });
  sounding[0]?.addEventListener("ended", ({ target }) => sounding[0] === target && stop());
  button().textContent = gettext("Stop");
}

async function press() {
  if (sounding.length) return stop();
  context ??= new AudioContext();
  await context.resume();
  const mark = section.dataset.mark;
  if (loaded !== mark) {
    button().disabled = true;
    button().textContent = gettext("Making the sound …");
    try {
      await fetched(mark);
    } finally {
      button().disabled = false;
      button().textContent = gettext("Play");
    }
  }
  if (buffers.size) start();
  else button().textContent = gettext("There is no sound; try again");
}

if (section) {
  section.addEventListener("click", (event) => event.target.closest("[data-play]") && press());
  section.addEventListener("change", ({ target }) => {
    const gain = gains.get(target.dataset.part);
    gain?.gain.setTargetAtTime(target.checked ? 1 : 0, context.currentTime, RAMP_S);
  });
  // an edited line sounds anew the next time
  document.addEventListener("swapped", () => {
    const mark = document.getElementById("sound")?.src.split("?")[1];
    if (mark) section.dataset.mark = mark;
  });
}
