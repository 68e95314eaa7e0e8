"""Is the delay right that a take tells by its chirps, over a loopback in a real browser?

    python bench/loopback.py                  20 takes of 8 s, 4 at each connection
    python bench/loopback.py --takes 8 --length 4 --hint interactive --rate 44100
    python bench/loopback.py --engine Firefox    or WebKitGTK, where it is installed
    python bench/loopback.py --room           the same in the practice room itself, to its band
    python bench/loopback.py --items          in the room, each take at another item of the day
    python bench/loopback.py --items --whole  and each item opened as a page of its own

The browser plays into a sink of PulseAudio and records what comes out of it, each take later by
some time that is set. Clicks between the chirps, found by their height alone, say how late each
part of the take truly is. Of the usual takes the delay should be told to two milliseconds; then
come takes with a jump that is set, and some in which nothing comes back, as with headphones:
neither may be told a delay. A wrong one that is told is called WRONG.

At the end stands how far apart the delays of a connection are, less what was set, of usual takes in
which nothing jumps; a frame is .02 ms. A loaded machine makes jumps of its own, which are told as
such; there ``--turn`` (as root) gives the threads of sound the turn that they have elsewhere, and
``--settle 4`` lets a page come to rest before its first take.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from statistics import median
from threading import Event, Thread
from time import sleep
from typing import Any

from playwright.sync_api import sync_playwright

TESTS = Path(__file__).resolve().parents[1] / "tests"
RIGHT_S = 0.002
STEADY_S = 0.0005
"""Clicks that differ by no more are equally late."""
AT_A_CONNECTION = 4
CHROMIUM = "Chromium"
ITEMS = 2
"""Of a day, that are gone through in turn."""
SOUNDING = ("audio", "pulse", "null-sink", "threaded-ml", "capture", "graph", "queue")
"""Words in the names of threads that carry sound."""
TURN = 20
"""Of real time, which Linux gives threads from 1 to 99."""
SETTABLE_HZ = 300
"""What is set lasts whole parts of a second, which are whole frames at all usual rates."""
KINDS = {"usual": 20, "a jump": 6, "nothing comes back": 4}


@dataclass(frozen=True, slots=True)
class Wish:
    """A take that is to be made."""

    kind: str
    added_s: float
    jump_s: float = 0.0

    @property
    def is_deaf(self) -> bool:
        """Nothing comes back."""
        return self.kind == "nothing comes back"


Take = Callable[[Wish], Any]
"""Makes a take."""


def give_sound_its_turn() -> None:
    """Let threads of sound, of all that was started from here, go before all others."""
    for process in descendants(os.getpid()):
        for thread in Path(f"/proc/{process}/task").glob("*"):
            with suppress(OSError):  # it has ended
                name = thread.joinpath("comm").read_text().lower()
                if any(word in name for word in SOUNDING):
                    os.sched_setscheduler(int(thread.name), os.SCHED_RR, os.sched_param(TURN))


def descendants(first: int) -> Iterator[int]:
    """Processes that a process has started, and those that these have."""
    with suppress(OSError):
        for children in Path(f"/proc/{first}/task").glob("*/children"):
            for child in map(int, children.read_text().split()):
                yield child
                yield from descendants(child)


@contextmanager
def turns_of_sound() -> Iterator[None]:
    """Give new threads of sound their turn, too, as long as the block lasts."""
    is_over = Event()

    def watch() -> None:
        while not is_over.wait(0.2):
            give_sound_its_turn()

    watching = Thread(target=watch)
    watching.start()
    try:
        yield
    finally:
        is_over.set()
        watching.join()


@contextmanager
def on_blank_page(
    environment: dict[str, str], asked: argparse.Namespace
) -> Iterator[Callable[[], Take]]:
    """Visits of a page that has the chirps alone."""
    from loopbacks import blank_site, hearing_browser, loop_take, visit

    with blank_site() as address, sync_playwright() as playwright:
        browser = hearing_browser(playwright, environment)

        def enter() -> Take:
            for context in browser.contexts:
                context.close()
            page = visit(browser, address, hint=asked.hint)
            page.wait_for_timeout(1000 * asked.settle)
            return lambda wish: loop_take(
                page,
                length_s=asked.length,
                added_s=wish.added_s,
                jump_s=wish.jump_s,
                deaf=wish.is_deaf,
            )

        yield enter
        browser.close()


@contextmanager
def in_another_engine(
    environment: dict[str, str], asked: argparse.Namespace
) -> Iterator[Callable[[], Take]]:
    """Visits of a page that has the chirps alone, in another engine than Chromium's."""
    from loopbacks import blank_site, engine_visit, loop_take
    from other_browsers import ENGINES

    with (
        tempfile.TemporaryDirectory() as folder,
        blank_site() as address,
        ENGINES[asked.engine](Path(folder) / "profile", environment) as engine,
    ):

        def enter() -> Take:
            page = engine_visit(engine, address, hint=asked.hint)
            sleep(asked.settle)
            return lambda wish: loop_take(
                page,
                length_s=asked.length,
                added_s=wish.added_s,
                jump_s=wish.jump_s,
                deaf=wish.is_deaf,
            )

        yield enter


@contextmanager
def in_room(environment: dict[str, str], asked: argparse.Namespace) -> Iterator[Callable[[], Take]]:
    """Visits of the practice room, to play to its band."""
    from browsers import RealSite, served
    from desks import new_desk
    from loopbacks import enter_room, hearing_browser, open_item, room_take

    with (
        tempfile.TemporaryDirectory() as folder,
        new_desk(Path(folder) / "data") as desk,
        served(desk) as address,
        sync_playwright() as playwright,
    ):
        browser = hearing_browser(playwright, environment)
        site = RealSite(desk, address, browser)

        def enter() -> Take:
            for context in browser.contexts:
                context.close()
            page = enter_room(site)
            page.wait_for_timeout(1000 * asked.settle)
            turns = count()

            def take(wish: Wish) -> Any:
                if asked.items and (turn := next(turns)):
                    open_item(page, 1 + turn % ITEMS, whole=asked.whole)
                return room_take(
                    site,
                    page,
                    length_s=asked.length,
                    added_s=wish.added_s,
                    jump_s=wish.jump_s,
                    deaf=wish.is_deaf,
                )

            return take

        yield enter
        browser.close()


def wishes(takes: int, seed: int) -> Iterator[Wish]:
    """The takes: usual ones, and then the others in the same shares."""
    chance = random.Random(seed)
    for kind, usual in KINDS.items():
        for _ in range(max(1, round(takes * usual / KINDS["usual"]))):
            sizes = chance.choice((-0.044, -0.01, 0.004, 0.023, 0.09)) if kind == "a jump" else 0.0
            added_s = round(chance.uniform(0.05, 0.4) * SETTABLE_HZ) / SETTABLE_HZ
            yield Wish(kind, added_s, sizes)


def verdict(take: Any) -> tuple[str, str]:
    """What is told of a take, and how that stands to the truth."""
    told_s, delays_s = take.told_s, take.true_delays_s
    if told_s is not None:
        off_s = max((abs(told_s - delay_s) for delay_s in delays_s), default=1.0)
        words = f"{1000 * told_s:9.2f}  off {1000 * off_s:5.2f}"
        return ("right" if off_s <= RIGHT_S else "WRONG"), words
    if not take.jump:
        return ("not told" if delays_s else "rightly not told"), "        -"
    is_true = max(delays_s) - min(delays_s) > STEADY_S if delays_s else False
    return ("jump" if is_true else "jump at an edge"), take.jump.removeprefix("the recording ")


def base_s(wish: Wish, take: Any) -> float | None:
    """How late a usual take is less what was set; None where something jumps in it."""
    delays_s = take.true_delays_s
    is_steady = delays_s and max(delays_s) - min(delays_s) <= STEADY_S
    return median(delays_s) - wish.added_s if is_steady and wish.kind == "usual" else None


def row(number: int, connection: int, wish: Wish, take: Any) -> tuple[str, str]:
    """A take's verdict, and its line of the table."""
    word, told = verdict(take)
    delays_s = take.true_delays_s or [float("nan")]
    true = f"{1000 * delays_s[0]:8.2f} {1000 * delays_s[-1]:8.2f}"
    base = 1000 * (median(delays_s) - wish.added_s)
    return word, (
        f"{number:3} {connection:3} {take.rate:6} {1000 * wish.added_s:7.1f} "
        f"{1000 * wish.jump_s:+6.0f} {base:7.1f} {true}  {told:22} {word}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--takes", type=int, default=KINDS["usual"])
    parser.add_argument("--length", type=float, default=8.0)
    parser.add_argument("--hint", default="playback")
    parser.add_argument("--rate", type=int, default=48_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--settle", type=float, default=0.0)
    parser.add_argument("--engine", choices=(CHROMIUM, "Firefox", "WebKitGTK"), default=CHROMIUM)
    parser.add_argument("--room", action="store_true")
    parser.add_argument("--items", action="store_true")
    parser.add_argument("--whole", action="store_true")
    parser.add_argument("--turn", action="store_true")
    asked = parser.parse_args()
    sys.path[:0] = [str(TESTS), str(TESTS / "web")]
    from loopbacks import loopback

    words: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    print("take con   rate   added   jump    base    first     last  told, ms")
    place = in_room if asked.room or asked.items else on_blank_page
    if asked.engine != CHROMIUM:
        if place is in_room:
            parser.error("the room is played in by Chromium alone: leave out --engine")
        place = in_another_engine
    bases_s = defaultdict(list)
    turns = turns_of_sound() if asked.turn else nullcontext()
    with turns, loopback(asked.rate) as environment, place(environment, asked) as visits:
        act: Take | None = None
        for number, wish in enumerate(wishes(asked.takes, asked.seed)):
            connection = number // AT_A_CONNECTION
            if act is None or number % AT_A_CONNECTION == 0 or wish.is_deaf:
                act = visits()
            take = act(wish)
            word, line = row(number + 1, connection + 1, wish, take)
            words[wish.kind][word] += 1
            if (late_s := base_s(wish, take)) is not None:
                bases_s[connection].append(late_s)
            print(line, flush=True)
    for kind, counts in words.items():
        print(f"{kind}: " + ", ".join(f"{many} {word}" for word, many in counts.items()))
    for connection, several_s in bases_s.items():
        apart_ms = 1000 * (max(several_s) - min(several_s))
        print(f"connection {connection + 1}: {len(several_s)} takes, {apart_ms:.2f} ms apart")


if __name__ == "__main__":
    main()
