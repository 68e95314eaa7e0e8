// Shows what was heard in a take as soon as it stands, in the room itself, and how the day stands then.

const still = matchMedia("(prefers-reduced-motion: reduce)");

async function pageOf(address) {
  const answer = await fetch(address, { headers: { "x-swap": "#told-take" } });
  return answer.ok ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
}

function put(page, id) {
  const [old, fresh] = [document.getElementById(id), page.getElementById(id)];
  if (old && fresh) old.replaceWith(document.adoptNode(fresh));
  return old && fresh;
}

async function begin(address) {
  const page = await pageOf(address);
  const told = page && put(page, "told-take");
  if (!told) return;
  told.scrollIntoView({ block: "start", behavior: still.matches ? "instant" : "smooth" });
  document.dispatchEvent(new CustomEvent("swapped", { detail: told }));
}

export function furnish(room) {
  let address = "";
  room.addEventListener("sent", ({ detail }) => {
    address = `/room/takes/${detail.take}/told`;
    begin(address);
  });
  document.addEventListener("swapped", async ({ detail }) => {
    if (detail.id !== "told-take" || !detail.hasAttribute("data-heard")) return;
    const page = await pageOf(address);
    if (page) put(page, "day");
  });
}
