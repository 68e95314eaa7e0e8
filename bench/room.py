"""How light and how quick is the practice room? Bytes before Play and of a chorus; first sounds.

    python bench/room.py [--only weights|pages|sounds]

The real site answers Debian's Chromium, once as it is and once as a phone on a slow line: four
times slower, 150 ms away, 1.6 Mbit/s down and .75 up, as the developer tools of browsers have a
slow mobile line. Three pieces are played: 12 bars at 120, 32 bars, 64 bars. Times are of a clock,
so that they are worth something only where nothing else works; beside them stands the server's
CPU time. When Play is there is told by the page itself, since whoever asks a slow page from outside
makes it slower; beside it stands when a page of one sentence is seen by the same phone.

Aims: 40 kB before Play and 600 kB with the three stems of 12 bars at 120; there within a second on
the slow line; a new tempo or key of 32 bars within a second to the first sound.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
TESTS = ROOT / "tests"
AIMS_KB = (40.0, 600.0)
BLUES = "key: F\n| F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 | C7 |"
SONG = "key: C\n" + "| Dm7 | G7 | Cmaj7 | A7 | Fmaj7 | Bb7 | Em7 | A7 " * 4 + "|"
CHARTS = {12: BLUES, 32: SONG, 64: SONG + "\n" + SONG.partition("\n")[2]}
"""By the number of bars, which is the number of the sheet too."""
TEMPI = (97, 133, 171, 88, 203)
KEYS = 5
SLOW_LINE = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1.6e6 / 8,
    "uploadThroughput": 0.75e6 / 8,
}
SLOWER = 4
QUIET_MS = 15
SETTLED_MS = 3500
"""A page is left alone for so long before it is asked anything."""

NOTE_PLAY = """(() => {
  const look = () => {
    const controls = document.getElementById("band-controls");
    if (controls && !controls.hidden) window.playIsThere ??= performance.now();
  };
  const asked = { subtree: true, childList: true, attributes: true, attributeFilter: ["hidden"] };
  new MutationObserver(look).observe(document, asked);
})()"""
SEEN = "performance.getEntriesByName('first-contentful-paint')[0].startTime"

FIRST_SOUND = """async ({ base, options }) => {
  const { Band } = await import("/static/band.js");
  const context = (window.ourClock ??= new AudioContext());
  await context.resume();
  const band = (window.ourBand ??= new Band(context));
  const begun = performance.now();
  await band.load(base, options);
  const start = new Promise((done) => band.addEventListener("start", done, { once: true }));
  await band.start();
  const { count_in_at } = (await start).detail;
  const first_ms = performance.now() - begun + 1000 * (count_in_at - context.currentTime);
  band.stop();
  return first_ms;
}"""


@dataclass
class Line:
    """What went over the line, by address: what is in the answers, and their heads."""

    bytes: dict[str, int] = field(default_factory=dict)
    heads: int = 0

    def kb(self, *parts: str) -> float:
        """Of addresses that have one of these in them; of all without any."""
        chosen = (n for name, n in self.bytes.items() if not parts or any(p in name for p in parts))
        return sum(chosen) / 1000


def patched_places() -> None:
    """Every sheet of so many bars is a line over a chart of so many, and the first player's."""
    from halfstep.app import rights
    from halfstep.app.tasks import room_tasks
    from halfstep.app.tasks.room_tasks import PlacedEtude
    from halfstep.app.web import piece_routes, room_routes
    from halfstep.school.belonging import Belonging
    from halfstep.services.write_etude import WriteEtude, write_one_etude

    lines = {
        bars: write_one_etude(WriteEtude(chart, "arpeggio", instrument="alto-sax", tempo_bpm=120))
        for bars, chart in CHARTS.items()
    }

    def placed(school: Any, student: Any, place: Any) -> PlacedEtude:
        del school, student
        return PlacedEtude(place, lines[place.sheet])

    for module in (room_tasks, piece_routes, room_routes):
        module.placed_etude = placed  # type: ignore[attr-defined]
    rights.belonging_of = lambda *_: Belonging(student=1)  # type: ignore[assignment]


def watched(page: Any) -> Line:
    """What a page loads, in bytes as they go over the line."""
    line, names, heads = Line(), {}, {}
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.on(
        "Network.requestWillBeSent", lambda e: names.update({e["requestId"]: e["request"]["url"]})
    )

    def note_head(event: dict[str, Any]) -> None:
        heads[event["requestId"]] = int(event["response"]["encodedDataLength"])

    def note(event: dict[str, Any]) -> None:
        name = names.get(event["requestId"], "")
        head = heads.get(event["requestId"], 0)
        line.bytes[name] = line.bytes.get(name, 0) + int(event["encodedDataLength"]) - head
        line.heads += head

    session.on("Network.responseReceived", note_head)
    session.on("Network.loadingFinished", note)
    return line


@contextmanager
def phone(site: Any, *, is_slow: bool) -> Iterator[tuple[Any, Line]]:
    """A player's phone, with what it loads."""
    page = site.student("Ansel", size={"width": 390, "height": 844})
    line = watched(page)
    if is_slow:
        session = page.context.new_cdp_session(page)
        session.send("Network.enable")
        session.send("Network.emulateNetworkConditions", SLOW_LINE)
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    yield page, line
    page.context.close()


def weights(site: Any) -> None:
    """Before Play, and with the first chorus of 12 bars."""
    with phone(site, is_slow=False) as (page, line):
        page.goto("/room/sheets/12/arpeggio", wait_until="networkidle")
        later = line.kb("/systems?")
        before = line.kb() - later
        heads = line.heads / 1000
        aim = f"(aim {AIMS_KB[0]:.0f}); later lines {later:.1f}"
        print(f"before Play {before:.1f} kB and {heads:.1f} of heads {aim}")
        for name, size in sorted(line.bytes.items(), key=lambda item: -item[1])[:24]:
            print(
                f"    {size / 1000:6.1f}  {name.partition('/room')[2] or name.rpartition('/')[2]}"
            )
        page.locator("[data-play]").click()
        page.wait_for_timeout(30_000)
        chorus = line.kb("chorus=1&", "count-in")
        whole = before + later + chorus
        print(f"with a chorus of three stems {whole:.0f} kB (aim {AIMS_KB[1]:.0f})")


def page_times(site: Any, rounds: int = 7) -> None:
    """From asking for the room to its Play, and from there to its first sound."""
    for is_slow in (False, True):
        there, sounds, sentences = [], [], []
        for _ in range(rounds):
            with phone(site, is_slow=is_slow) as (page, _line):
                page.goto("/no-such-page", wait_until="commit")
                page.wait_for_timeout(SETTLED_MS)
                sentences.append(float(page.evaluate(SEEN)))
            with phone(site, is_slow=is_slow) as (page, _line):
                page.add_init_script(NOTE_PLAY)
                page.goto("/room/sheets/12/arpeggio", wait_until="commit")
                page.wait_for_timeout(SETTLED_MS)
                there.append(float(page.evaluate("playIsThere")))
                begun = perf_counter()
                page.locator("[data-play]").click()
                page.get_by_role("button", name="Stop").wait_for()
                sounds.append(1000 * (perf_counter() - begun))
        words = "12 bars, " + ("slow line" if is_slow else "as it is ")
        spread = f"({min(there):.0f}–{max(there):.0f})"
        print(
            f"{words}: Play after {median(there):.0f} ms {spread}, sound {median(sounds):.0f} ms "
            f"later; a page of one sentence is seen after {median(sentences):.0f} ms"
        )


def first_sounds(site: Any, several: tuple[int, ...]) -> None:
    """A new tempo and a new key to the first sound, and a tempo that was made ahead."""
    from halfstep.app.web.piece_routes import SOUNDS

    make_ahead = SOUNDS.ahead
    for bars in several:
        with phone(site, is_slow=False) as (page, _line):
            base = f"/room/sheets/{bars}/arpeggio"
            page.goto(base, wait_until="networkidle")
            keys = page.locator("#key option").evaluate_all("all => all.map((one) => one.value)")
            SOUNDS.ahead = lambda _: None  # type: ignore[method-assign]
            heard(page, base, {"tempo": 120})
            new_keys = [{"key": key} for key in keys[1 : 1 + KEYS]]
            told(f"{bars} bars, new tempo", [heard(page, base, {"tempo": t}) for t in TEMPI])
            told(f"{bars} bars, new key", [heard(page, base, key) for key in new_keys])
            SOUNDS.ahead = make_ahead  # type: ignore[method-assign]
            for tempo in TEMPI:
                heard(page, base, {"tempo": tempo - 5})
                page.wait_for_timeout(2500)
            told(f"{bars} bars, a step more", [heard(page, base, {"tempo": t}) for t in TEMPI])


def heard(page: Any, base: str, options: dict[str, Any]) -> tuple[float, float]:
    """The ms to the first sound, and those of CPU in the server, once it has nothing else to do."""
    while busy_ms(page) > QUIET_MS:
        pass
    begun_s = process_time()
    first_ms = float(page.evaluate(FIRST_SOUND, {"base": base, "options": options}))
    return first_ms, 1000 * (process_time() - begun_s)


def busy_ms(page: Any) -> float:
    """What the server works in a fifth of a second."""
    begun_s = process_time()
    page.wait_for_timeout(200)
    return 1000 * (process_time() - begun_s)


def told(words: str, times: list[tuple[float, float]]) -> None:
    """Print them."""
    clock, cpu = zip(*times, strict=True)
    print(f"{words}: {median(clock):.0f} ms, worst {max(clock):.0f}; CPU {median(cpu):.0f}")


def main() -> None:
    """Measure and print."""
    form = argparse.RawTextHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=form)
    parser.add_argument("--only", choices=("weights", "pages", "sounds"))
    parser.add_argument(
        "--bars", type=int, choices=tuple(CHARTS), help="of the one piece that sounds"
    )
    asked = parser.parse_args()
    sys.path[:0] = [str(TESTS), str(TESTS / "web")]
    from browsers import real_site
    from desks import new_desk

    patched_places()
    with (
        tempfile.TemporaryDirectory() as folder,
        new_desk(Path(folder) / "data") as desk,
        real_site(desk) as site,
    ):
        sounds = partial(first_sounds, several=(asked.bars,) if asked.bars else tuple(CHARTS))
        for name, measure in (("weights", weights), ("pages", page_times), ("sounds", sounds)):
            if asked.only in {None, name}:
                measure(site)


if __name__ == "__main__":
    main()
