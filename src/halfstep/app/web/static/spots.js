// Plays a few bars of a sound at a press: a finding in the take, and as it could be.
//
//   <button data-sound="ADDRESS" data-from="12.5" data-to="16.5" hidden>  seconds of the file
//
// One spot sounds at a time; a second press stops it. The buttons come out with the script.

const AHEAD_S = 0.02;
let player;
let pressed;

function stop() {
  player?.pause();
  pressed?.removeAttribute("aria-pressed");
  pressed = undefined;
}

function watch() {
  if (!pressed) return;
  if (player.currentTime >= Number(pressed.dataset.to) - AHEAD_S) stop();
  else requestAnimationFrame(watch);
}

async function play(button) {
  stop();
  pressed = button;
  player ??= new Audio();
  const { sound, from } = button.dataset;
  button.setAttribute("aria-pressed", "true");
  if (player.getAttribute("src") !== sound) player.src = sound;
  player.currentTime = Number(from);
  try {
    await player.play();
    watch();
  } catch {
    if (pressed === button) stop();
  }
}

export function bringOut(part) {
  for (const button of part.querySelectorAll("[data-sound][hidden]")) button.hidden = false;
}

document.addEventListener("click", ({ target }) => {
  const button = target.closest?.("[data-sound]");
  if (!button) return;
  if (button === pressed) stop();
  else play(button);
});
document.addEventListener("swapped", ({ detail }) => {
  if (detail.id === "main") stop(); // another page stands here
  bringOut(detail);
});
bringOut(document);
