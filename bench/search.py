"""How fast is the search for a line, and does it grow with the length of the chart only?

Run ``python bench/search.py [bars]``; the longest chart has 512 bars unless said. The
chains are those of step 3 for an alto saxophone: some 27 notes to choose from at each
place, costs over three notes in a row. Beside it runs the same dynamic programme in plain
Python, written here without arrays. Both must find paths of the same cost.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from math import isclose, log
from time import perf_counter
from typing import Any

import numpy as np

from halfstep.etude.costs import TEMPERATURE
from halfstep.etude.frame import line_slots, palettes
from halfstep.etude.lines import line_chain
from halfstep.etude.parts import Brief
from halfstep.etude.search import Chain, best_path, sample_path
from halfstep.harmony.analysis import analyse
from halfstep.instruments import Level, find_instrument
from halfstep.progression.load import load_chart

EIGHT_BARS = "| Dm7 | G7 | Cmaj7 | A7 |\n| Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |"
STEP = 3


def chain_of(bars: int) -> Chain:
    """The chain of a line over an invented chart of so many bars."""
    analysis = analyse(load_chart("key: F\n" + "\n".join([EIGHT_BARS] * (bars // 8))))
    brief = Brief(find_instrument("alto-sax"), Level.INTERMEDIATE, 112.0, 1)
    slots = line_slots(analysis, brief, palettes(analysis, brief))
    return line_chain(STEP, slots, brief)[0]


def plain(costs: Any) -> Any:
    """Arrays as nested lists."""
    return [None if each is None else each.tolist() for each in costs]


def plain_best_path(ones: Any, twos: Any, threes: Any) -> list[int]:
    """The cheapest path, by loops over lists; every place after the second has threes."""
    before, here = range(len(ones[0])), range(len(ones[1]))
    table = [[ones[0][a] + twos[1][a][b] + ones[1][b] for b in here] for a in before]
    came: list[list[list[int]]] = []
    for one, two, three in zip(ones[2:], twos[2:], threes[2:], strict=True):
        after = range(len(one))
        origins = [
            [min(before, key=lambda a, b=b, c=c: table[a][b] + three[a][b][c]) for c in after]
            for b in here
        ]
        table = [
            [table[a := origins[b][c]][b] + three[a][b][c] + two[b][c] + one[c] for c in after]
            for b in here
        ]
        came.append(origins)
        before, here = here, after
    b, c = min(((b, c) for b in before for c in here), key=lambda pair: table[pair[0]][pair[1]])
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


def main() -> None:
    """Print a line for each length, and how the time grows."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 512
    lengths = [8 * 2**n for n in range(7) if 8 * 2**n <= most]
    found = []
    print("milliseconds      best   drawn  tables   plain Python   plain / best")
    for bars in lengths:
        chain = chain_of(bars)
        lists = [plain(chain.ones), plain(chain.twos), plain(chain.threes)]
        path = plain_best_path(*lists)
        if not isclose(chain.cost(path), chain.cost(best_path(chain)), rel_tol=1e-9):
            sys.exit(f"{bars} bars: the two searches disagree")
        rng = np.random.default_rng(1)
        draw = partial(sample_path, chain, temperature=TEMPERATURE, rng=rng)
        best_s = seconds(partial(best_path, chain), times=5)
        drawn_s = seconds(draw, times=5)
        tables_s = seconds(partial(chain_of, bars), times=1)
        plain_s = seconds(partial(plain_best_path, *lists), times=1)
        found.append((best_s, drawn_s, tables_s, plain_s))
        row = "  ".join(f"{1000 * each:6.1f}" for each in (best_s, drawn_s, tables_s))
        print(f"{bars:4} bars      {row}  {1000 * plain_s:12.1f}  {plain_s / best_s:10.0f} : 1")
    if len(found) > 1:
        stretch = log(lengths[-1] / lengths[0])
        growth = [
            log(last / first) / stretch for first, last in zip(found[0], found[-1], strict=True)
        ]
        named = zip(("best", "drawn", "tables", "plain"), growth, strict=True)
        print("time grows as bars to the power of:", ", ".join(f"{n} {g:.2f}" for n, g in named))
    print("best: the cheapest line; drawn: one line by chance, as lessons have it;")
    print("tables: chart, analysis and costs before the search")


if __name__ == "__main__":
    main()
