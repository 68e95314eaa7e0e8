"""How much processor time does an etude take, and how does that grow with the chart?

Run ``python bench/etude_cost.py [--steps 1-6,motif] [--seeds 4] [--growth 32,320,2000,10000]``.
Each step and the vocabulary over invented charts of `etudes`, played round until they have 32
bars, for an alto saxophone (a piano, where chords are struck) at each level: processor
milliseconds from the analysed chart to the checked etude, in a process that has written before.
A case over the aim is written once more, and the less counts: what else a machine does only adds.
Printed are the median of each level, and the slowest case with its name; cases that are refused
are counted.

With ``--growth``, for each step the processor milliseconds a bar over charts of so many bars, made
in code since the reader of text stops at 2,000, and the memory that the longest took.

A plain loop of Python, which adds up the squares of a million numbers, is timed in the same run:
an ordinary desktop takes some 45 ms for it (from memory), and what the slowest case would take
there is printed last. The aim is the project's own: 100 ms for 32 bars.
"""

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from itertools import islice
from resource import RUSAGE_SELF, getrusage
from statistics import median
from time import process_time
from typing import NamedTuple

from etudes import CHARTS, TEMPOS_BPM

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS_AND_VOCABULARY, parse_steps
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text

BARS, AIM_MS, SQUARES, DESKTOP_MS = 32, 100.0, 1_000_000, 45.0
TITLES = ("ii-V-I", "blues", "thirds", "again", "halves", "five")


class Case(NamedTuple):
    """One etude, and the processor time that it took; None where it was refused."""

    title: str
    level: Level
    seed: int
    ms: float | None


def chart_of_bars(title: str, bars: int) -> Chart:
    """An invented chart played round, cut after so many bars."""
    chart = played(read_sheet_text(CHARTS[title]))
    form = [bar for bar in chart.bars if bar.number >= 1]
    made = [form[n % len(form)]._replace(number=n + 1, written=n + 1) for n in range(bars)]
    return replace(chart, bars=tuple(made))


@cache
def analysed(title: str, bars: int, level: Level) -> Analysis:
    """An invented chart of so many bars, analysed."""
    return analyse(chart_of_bars(title, bars), level=level)


def case(step: Step, title: str, level: Level, seed: int, bars: int = BARS) -> Case:
    """One etude, timed."""
    player = INSTRUMENTS["piano" if step.in_chords else "alto-sax"]
    brief = Brief(player, level, TEMPOS_BPM.get(title, 120.0), seed)
    analysis = analysed(title, bars, level)
    start = process_time()
    try:
        write_etude(step, analysis, brief)
    except BriefError:
        return Case(title, level, seed, None)
    return Case(title, level, seed, 1000 * (process_time() - start))


def cases(step: Step, seeds: int) -> Iterator[Case]:
    """Each chart, level and seed, the first of all twice: once to load what it needs."""
    case(step, TITLES[0], Level.ADVANCED, 0)
    for title in TITLES:
        for level in Level:
            for seed in range(seeds):
                made = case(step, title, level, seed)
                if (made.ms or 0.0) > AIM_MS:
                    made = min(made, case(step, title, level, seed))
                yield made


def loop_ms() -> float:
    """The median of five rounds of a plain loop."""
    times = []
    for _ in range(5):
        start, total = process_time(), 0
        for number in range(SQUARES):
            total += number * number
        times.append(1000 * (process_time() - start))
    return median(times)


def print_costs(steps: Sequence[Step], seeds: int, loop: float) -> None:
    """A row for each step."""
    most = 0.0
    heads = "".join(f"{level.value[:6]:>8}" for level in Level)
    print(f"{'ms for 32 bars':21}{heads}{'most':>8}")
    for step in steps:
        made = list(cases(step, seeds))
        written = [one for one in made if one.ms is not None]
        cells = ""
        for level in Level:
            times = [one.ms for one in written if one.level is level and one.ms is not None]
            cells += f"{median(times):8.0f}" if times else f"{'–':>8}"
        worst = max(written, key=lambda one: one.ms or 0.0)
        over = sum((one.ms or 0.0) > AIM_MS for one in written)
        print(
            f"{step.name:21}{cells}{worst.ms:8.0f}  {worst.title}, {worst.level}, {worst.seed}"
            f"; over {AIM_MS:.0f}: {over} of {len(written)}, refused {len(made) - len(written)}",
            flush=True,
        )
        most = max(most, worst.ms or 0.0)
    print(f"the slowest: {most:.0f} ms, on a desktop {most * DESKTOP_MS / loop:.0f}")


def grown(step_name: str, bars: int) -> tuple[float | None, float]:
    """Milliseconds a bar over one chart, and the megabytes that it took beside its analysis."""
    (step,) = parse_steps(step_name)
    case(step, "blues", Level.INTERMEDIATE, 0)
    analysed("blues", bars, Level.INTERMEDIATE)
    before = getrusage(RUSAGE_SELF).ru_maxrss
    ms = case(step, "blues", Level.INTERMEDIATE, 0, bars).ms
    taken = getrusage(RUSAGE_SELF).ru_maxrss - before
    return None if ms is None else ms / bars, taken / 1024


def print_growth(steps: Sequence[Step], lengths: Sequence[int]) -> None:
    """A row for each step; each length in a process of its own, so that its memory is seen."""
    print(f"{'ms a bar, of bars':21}" + "".join(f"{bars:>8}" for bars in lengths) + "      MB")
    fresh = multiprocessing.get_context("spawn")
    for step in steps:
        cells, megabytes = "", 0.0
        for bars in lengths:
            with fresh.Pool(1) as pool:
                ms, megabytes = pool.apply(grown, (step.name, bars))
            cells += f"{'–':>8}" if ms is None else f"{ms:8.2f}"
        print(f"{step.name:21}{cells}{megabytes:8.0f}", flush=True)


def main(steps: Sequence[Step], seeds: int, lengths: Sequence[int]) -> None:
    """Print the tables."""
    loop = loop_ms()
    print(f"a plain loop over {SQUARES} numbers: {loop:.0f} ms")
    if lengths:
        print_growth(steps, lengths)
    else:
        print_costs(steps, seeds, loop)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--steps", default="", help="such as 1-6 or scale,cells")
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--growth", default="", help="numbers of bars, with commas")
    options = parser.parse_args()
    chosen = (
        parse_steps(options.steps) if options.steps else tuple(islice(STEPS_AND_VOCABULARY, 99))
    )
    main(chosen, options.seeds, [int(text) for text in options.growth.split(",") if text])
