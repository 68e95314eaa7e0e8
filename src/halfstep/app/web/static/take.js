// Plays a take from any bar, with its backing or alone, and shows the bar that sounds.

const recording = document.getElementById("recording");
const backing = document.getElementById("backing");
const withBacking = document.getElementById("with-backing");
const delay = Number(document.querySelector("[data-take]")?.dataset.delay ?? 0);
const FAR_S = 0.03;

function follow() {
  if (!backing || !withBacking?.checked) return;
  const there = recording.currentTime - delay;
  if (recording.paused || there < 0) {
    backing.pause();
    if (there >= 0) backing.currentTime = there;
    return;
  }
  if (Math.abs(backing.currentTime - there) > FAR_S) backing.currentTime = there;
  if (backing.paused) backing.play().catch(() => {});
}

function mark() {
  const bars = [...document.querySelectorAll("[data-time]")];
  const now = recording.currentTime + 0.01;
  const sounding = bars.filter((one) => Number(one.dataset.time) <= now).at(-1);
  for (const bar of bars) bar.toggleAttribute("aria-current", bar === sounding && !recording.paused);
}

if (recording) {
  document.addEventListener("click", (event) => {
    const bar = event.target.closest?.("[data-time]");
    if (!bar) return;
    recording.currentTime = Number(bar.dataset.time);
    recording.play().catch(() => {});
  });
  for (const name of ["play", "pause", "seeked", "timeupdate"]) {
    recording.addEventListener(name, () => {
      follow();
      mark();
    });
  }
  withBacking?.addEventListener("change", () => (withBacking.checked ? follow() : backing.pause()));
}

// the page as a whole is new when the take was heard
document.addEventListener("swapped", ({ detail }) => {
  if (detail.id === "hearing" && detail.hasAttribute("data-heard")) location.reload();
});
