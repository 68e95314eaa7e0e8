// Shows what was heard in a take as soon as it stands, in the room itself.

async function shown(address) {
  const answer = await fetch(address, { headers: { "x-swap": "#told-take" } });
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("told-take");
  if (!fresh) return;
  document.getElementById("told-take")?.replaceWith(document.adoptNode(fresh));
  document.dispatchEvent(new CustomEvent("swapped", { detail: fresh }));
}

export function furnish(room) {
  room.addEventListener("sent", ({ detail }) => shown(`/room/takes/${detail.take}/told`));
}
