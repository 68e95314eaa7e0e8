"""How fast is the search for a line, and what share of writing an etude is it?

Run ``python bench/search.py [bars]``; the longest chart has 10,000 bars unless said. The
chains are those of step 3 for an alto saxophone: some 27 notes in range, costs over three
notes in a row. Up to 128 bars the same dynamic programme runs beside it in plain Python,
written here without arrays; both must find paths of the same cost.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import product
from math import isclose, log
from resource import RUSAGE_SELF, getrusage
from time import perf_counter
from typing import Any

import numpy as np

from halfstep.etude.cost_tables import CostTables
from halfstep.etude.costs import TEMPERATURE
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import line_slots
from halfstep.etude.step import NoteByNote
from halfstep.etude.steps import find_step
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import find_instrument
from halfstep.level import Level
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.random_stream import RandomStream
from halfstep.search import Chain, best_path, sample_path

EIGHT_BARS = "| Dm7 | G7 | Cmaj7 | A7 |\n| Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |"
STEP = find_step("broken-arpeggio")
BRIEF = Brief(find_instrument("alto-sax"), Level.INTERMEDIATE, 112.0, 1)


PLAIN_BARS = 128


def analysis_of(bars: int) -> Analysis:
    """An invented chart of so many bars, analysed."""
    chart = played(read_sheet_text("key: F\n" + EIGHT_BARS))
    numbered = [chart.bars[n % 8]._replace(number=n + 1, written=n + 1) for n in range(bars)]
    return analyse(replace(chart, bars=tuple(numbered)))


def chain_of(analysis: Analysis) -> Chain:
    """The chain of a line over the chart."""
    slots = line_slots(analysis, BRIEF, chord_palettes(analysis, BRIEF))
    assert isinstance(STEP.writing, NoteByNote)
    return CostTables(STEP.local_rules, STEP.writing.costs, BRIEF).chain(slots)[0]


def plain(costs: Any) -> Any:
    """Arrays as nested lists."""
    return [None if table is None else table.tolist() for table in costs]


def plain_best_path(ones: Any, twos: Any, threes: Any) -> list[int]:
    """The cheapest path, by loops over lists; every place after the second has threes."""
    befores, states = range(len(ones[0])), range(len(ones[1]))
    table = [[ones[0][a] + twos[1][a][b] + ones[1][b] for b in states] for a in befores]
    came: list[list[list[int]]] = []
    for alone, two, three in zip(ones[2:], twos[2:], threes[2:], strict=True):
        afters = range(len(alone))
        origins = [
            [min(befores, key=lambda a, b=b, c=c: table[a][b] + three[a][b][c]) for c in afters]
            for b in states
        ]
        table = [
            [table[a := origins[b][c]][b] + three[a][b][c] + two[b][c] + alone[c] for c in afters]
            for b in states
        ]
        came.append(origins)
        befores, states = states, afters
    ends = product(befores, states)
    b, c = min(ends, key=lambda pair: table[pair[0]][pair[1]])
    path = [c, b]
    for origins in reversed(came):
        b, c = origins[b][c], b
        path.append(b)
    return path[::-1]


def seconds(work: Callable[[], Any], *, times: int) -> float:
    """The least of some runs: what the work takes when nothing disturbs it."""
    best = float("inf")
    for _ in range(times):
        start = perf_counter()
        work()
        best = min(best, perf_counter() - start)
    return best


def open_chain(places: int, states: int) -> Chain:
    """A chain of chance costs with every table full, a fifth of the threes forbidden."""
    rng = np.random.default_rng(0)
    cube = (states,) * 3
    threes = [np.where(rng.random(cube) < 0.2, np.inf, rng.random(cube)) for _ in range(16)]
    twos = [rng.random((states, states)) for _ in range(16)]
    some = [n % 16 for n in range(places)]
    ones = list(rng.random((places, states)))
    return Chain(ones, [twos[n] for n in some], [threes[n] for n in some])


def print_chorus() -> None:
    """Print what 32 bars of eighths with 20 alternatives each take."""
    chain, rng = open_chain(256, 20), RandomStream(1)
    works: dict[str, Callable[[], object]] = {
        "best": partial(best_path, chain),
        "drawn": partial(sample_path, chain, temperature=TEMPERATURE, rng=rng),
    }
    took = (f"{name} {1000 * seconds(work, times=5):.1f}" for name, work in works.items())
    print("256 notes of 20 alternatives, milliseconds:", ", ".join(took))


def plain_seconds(chain: Chain) -> float:
    """How long plain Python takes for the same cheapest path."""
    places = range(len(chain.ones))
    lists = [
        plain(chain.ones),
        plain([chain.twos[n] if n else None for n in places]),
        plain([chain.threes[n] if n > 1 else None for n in places]),
    ]
    start = perf_counter()
    path = plain_best_path(*lists)
    took_s = perf_counter() - start
    if not isclose(chain.cost(path), chain.cost(best_path(chain)), rel_tol=1e-9):
        sys.exit("the two searches disagree")
    return took_s


def main() -> None:
    """Print a line for each length, and how the time grows."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    lengths = [bars for bars in (32, 128, 512, 2_000, 10_000) if bars <= most]
    times_s = []
    print("milliseconds      best    drawn    etude  search   plain Python")
    for bars in lengths:
        analysis = analysis_of(bars)
        chain = chain_of(analysis)
        rng = RandomStream(1)
        times = 3 if bars <= 512 else 1
        best_path(chain)  # makes the tables
        best_s = seconds(partial(best_path, chain), times=times)
        draw = partial(sample_path, chain, temperature=TEMPERATURE, rng=rng)
        drawn_s = seconds(draw, times=times)
        etude_s = seconds(partial(write_etude, STEP, analysis, BRIEF), times=1)
        times_s.append((best_s, drawn_s, etude_s))
        row = "  ".join(f"{1000 * time_s:7.1f}" for time_s in times_s[-1])
        plainly = f"{1000 * plain_seconds(chain):9.0f}" if bars <= PLAIN_BARS else ""
        print(f"{bars:6} bars    {row}   {drawn_s / etude_s:4.0%}  {plainly}")
    if len(times_s) > 1:
        stretch = log(lengths[-1] / lengths[0])
        growth = [
            log(last / first) / stretch for first, last in zip(times_s[0], times_s[-1], strict=True)
        ]
        named = zip(("best", "drawn", "etude"), growth, strict=True)
        print("time grows as bars to the power of:", ", ".join(f"{n} {g:.2f}" for n, g in named))
    print_chorus()
    print(f"most memory in use: {getrusage(RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    print("best: the cheapest line; drawn: one line by chance, as etudes have it;")
    print("search: share of drawn in etude")


if __name__ == "__main__":
    main()
