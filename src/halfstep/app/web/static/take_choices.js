// With what a take is recorded: headphones, which stay on from one thing to the next, and whose line.

const HEADPHONES = "headphones";

export function furnish(room) {
  const headphones = room.section.querySelector("[data-headphones]");
  const own = room.section.querySelector("[data-own]");
  if (!headphones || !own) return;
  headphones.checked = sessionStorage.getItem(HEADPHONES) === "on";
  const choose = () => {
    sessionStorage.setItem(HEADPHONES, headphones.checked ? "on" : "");
    room.change({ headphones: headphones.checked, line: own.checked ? "own" : "written" });
  };
  for (const tick of [headphones, own]) tick.addEventListener("change", choose);
  choose();
}
