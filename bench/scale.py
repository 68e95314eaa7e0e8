"""How many cores do ten million takes a week ask for, and how long does a student wait?

    python bench/scale.py                      measures what a take costs, then simulates
    python bench/scale.py --service-s 2.4      simulates with that

A take's cost is measured here: CPU time of feedback on takes of a chorus, heard from a file against
their line. Then the busiest hour is simulated, take by take: Poisson arrivals of players who
practise, and classes that send together in the minutes after a lesson ends on the hour or half
past. Homework stands back, as in the program, behind who waits in the practice room and comes
within ten minutes; nobody is interrupted. What is assumed stands below; nothing of it was measured
on real schools.

Prints, for each number of cores, how busy they are and how long each lane waits for its answer,
beside one lane for all; and what a week takes of disk.
"""

from __future__ import annotations

import argparse
import heapq
import sys
import tempfile
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from halfstep.school.lanes import STANDS_BACK

TAKES_A_WEEK = 10_000_000
PEAK_SHARE = 0.0194
"""Of a week's takes in its busiest hour: 54 a second. Of 168 hours some 60 are played in."""
BUILT_UP_S, HOUR_S = 1800.0, 3600.0
AFTER_LESSONS = 0.4
"""Of the takes come from classes that send together."""
CLASS_SIZE, SENT_WITHIN_S = 12, 90.0
CLOCKS_DIFFER_S = 180.0
WAITING = 0.6
"""Of the takes are waited for, in the practice room; the others are homework."""
CORES = (140, 160, 200, 240, 320, 400)
TAKE_S = 75.0
KBITS = 64
"""As `bench/opus.py` finds nothing lost at."""
COPIES = 2
PLAYERS = 6
"""Takes that are measured."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A take that is sent: when, whether it is waited for, and how long it takes a core."""

    at_s: float
    is_waited_for: bool
    service_s: float


def arrivals(seed: int, service: np.ndarray) -> list[Arrival]:
    """Half an hour before the busiest hour, and the hour."""
    chance = np.random.default_rng(seed)
    rate = TAKES_A_WEEK * PEAK_SHARE / HOUR_S
    length_s = BUILT_UP_S + HOUR_S
    alone = chance.uniform(0, length_s, chance.poisson(rate * (1 - AFTER_LESSONS) * length_s))
    classes = chance.poisson(rate * AFTER_LESSONS * length_s / CLASS_SIZE)
    ends = np.arange(0, length_s, HOUR_S / 2)
    begun = chance.choice(ends, classes) + chance.exponential(CLOCKS_DIFFER_S, classes)
    sizes = chance.poisson(CLASS_SIZE, classes)
    together = np.repeat(begun, sizes) + chance.uniform(0, SENT_WITHIN_S, sizes.sum())
    times = np.sort(np.concatenate([alone, together[together < length_s]]))
    waited = chance.random(len(times)) < WAITING
    costs = chance.choice(service, len(times)) * chance.lognormal(-0.08, 0.4, len(times))
    return [Arrival(*each) for each in zip(times, waited, costs, strict=True)]


def waits(
    takes: list[Arrival], cores: int, stands_back_s: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Seconds until each was answered, of those of the hour: waited for, homework; how busy."""
    free, busy_s = [0.0] * cores, 0.0
    queues: tuple[deque[Arrival], deque[Arrival]] = (deque(), deque())
    answered_s: tuple[list[float], list[float]] = ([], [])

    def turn_s(queue: deque[Arrival]) -> float:
        return queue[0].at_s + (0.0 if queue[0].is_waited_for else stands_back_s)

    def serve(until_s: float) -> None:
        nonlocal busy_s
        while (queues[0] or queues[1]) and free[0] <= until_s:
            take = min(filter(None, queues), key=turn_s).popleft()
            ends_s = max(heapq.heappop(free), take.at_s) + take.service_s
            heapq.heappush(free, ends_s)
            if take.at_s >= BUILT_UP_S:
                busy_s += take.service_s
                answered_s[not take.is_waited_for].append(ends_s - take.at_s)

    for take in takes:
        serve(take.at_s)
        queues[not take.is_waited_for].append(take)
        serve(take.at_s)
    serve(np.inf)
    return np.array(answered_s[0]), np.array(answered_s[1]), busy_s / cores / HOUR_S


def measured() -> Iterator[float]:
    """CPU seconds of a take: heard and judged, the libraries loaded."""
    from planted_takes import CLEAN, Studio, playing, session

    from halfstep.render.known_banks import SHIPPED_BANK
    from halfstep.services.give_feedback import GiveFeedback, give_feedback

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        studio = Studio(SHIPPED_BANK, folder, choruses=4)
        for number in range(PLAYERS + 1):
            play = playing(session("chorus", number))
            take = studio.record(play, CLEAN, number)
            etude = folder / "etude.json"
            etude.write_bytes(play.session.reply.file(".json").data)
            begun_s = time.process_time()
            give_feedback(GiveFeedback(take, etude=etude))
            if number:  # the first one loads what the others find
                yield time.process_time() - begun_s


def main() -> None:
    """Measure, simulate, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--service-s", type=float)
    options = parser.parse_args()
    costs = [options.service_s] if options.service_s else [*measured()]
    service = np.array(costs)
    print(f"a take costs {service.mean():.2f} CPU s ({service.min():.2f} to {service.max():.2f})")
    takes = arrivals(1, service)
    rate = TAKES_A_WEEK * PEAK_SHARE / HOUR_S
    print(
        f"{rate:.0f} takes a second in the busiest hour, {len(takes)} simulated with its beginning"
    )
    print("| cores | busy | waited for: half, 95 %, 99 % | homework: 95 % | one lane: 95 % |")
    for cores in CORES:
        first, second, busy = waits(takes, cores, STANDS_BACK.total_seconds())
        alike = np.concatenate(waits(takes, cores, 0.0)[:2])
        shown = " ".join(f"{np.quantile(first, share):.1f}" for share in (0.5, 0.95, 0.99))
        print(
            f"| {cores} | {busy:.0%} | {shown} s | {np.quantile(second, 0.95):.0f} s "
            f"| {np.quantile(alike, 0.95):.0f} s |"
        )
    bytes_a_week = TAKES_A_WEEK * TAKE_S * KBITS * 125
    print(
        f"{bytes_a_week / 1e12:.1f} TB a week as Opus of {KBITS} kbit/s "
        f"({TAKE_S:.0f} s a take), {COPIES * bytes_a_week / 1e12:.0f} TB with a copy"
    )


if __name__ == "__main__":
    sys.exit(main())
