// Shows what was heard in a take as soon as it stands, in the room itself, and how the day stands then.

import "./spots.js";

const still = matchMedia("(prefers-reduced-motion: reduce)");
let address = ""; // of what is told of the take that was sent last

async function pageOf(address) {
  const answer = await fetch(address, { headers: { "x-swap": "#told-take" } });
  return answer.ok ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
}

function put(page, id) {
  const [old, fresh] = [document.getElementById(id), page.getElementById(id)];
  if (old && fresh) old.replaceWith(document.adoptNode(fresh));
  return old && fresh;
}

// Of a take that was sent just now, unless its room was left meanwhile.
export async function begin(room, take, { isNew = false } = {}) {
  address = `/room/takes/${take}/told`;
  const page = await pageOf(address);
  const told = page && !room.signal.aborted && put(page, "told-take");
  if (!told) return;
  if (isNew) told.scrollIntoView({ block: "start", behavior: still.matches ? "instant" : "smooth" });
  document.dispatchEvent(new CustomEvent("swapped", { detail: told }));
}

document.addEventListener("swapped", async ({ detail }) => {
  if (detail.id !== "told-take" || !detail.hasAttribute("data-heard")) return;
  const page = await pageOf(address);
  if (page && detail.isConnected) put(page, "day");
});
