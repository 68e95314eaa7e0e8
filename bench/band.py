"""What does it cost to write the band, and does that grow with the length of the chart alone?

Run ``python bench/band.py [bars ...]`` (8, 320 and 3,200 when none is given). Each chart is read
from text in the same run, and beside the CPU time of every player stands how many times that of
reading it is. The exponent is that of the growth from the chart before: 1 is linear. First the
bars of a block of four choruses, which is what a lesson writes; then all styles at one length.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import chain
from math import log
from time import process_time

from halfstep.backing import STYLES, make_backing
from halfstep.backing.bar_layout import bar_layouts, chord_timeline
from halfstep.backing.bass import bass_part
from halfstep.backing.chord_scales import chord_scales
from halfstep.backing.comping import chords_part
from halfstep.backing.drums import drums_part
from halfstep.backing.styles import Style
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text

SEED, BLOCK = 4, 4
LENGTHS = (8, 320, 3200)
ROOTS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
SUFFIXES = ("m7", "7", "maj7", "m7b5", "7b9", "6", "9", "13")
STYLE_BARS = 64
PIECE = 320
LINE = 8
"""Bars on a line of the text, so that it reads like a chart."""


def chart_text(bars: int) -> str:
    """A chart of chords by chance."""
    chance = random.Random(SEED)
    symbols = [chance.choice(ROOTS) + chance.choice(SUFFIXES) for _ in range(bars)]
    lines = [symbols[n : n + LINE] for n in range(0, bars, LINE)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def read(bars: int) -> Chart:
    """A chart of so many bars as played, read in pieces that a reader takes."""
    pieces = [min(PIECE, bars - first) for first in range(0, bars, PIECE)]
    charts = [played(read_sheet_text(chart_text(piece))) for piece in pieces]
    every_bar = chain.from_iterable(chart.bars for chart in charts)
    numbered = (bar._replace(number=n, written=n) for n, bar in enumerate(every_bar, 1))
    return replace(charts[0], bars=tuple(numbered))


def cpu_s(work: Callable[[], object]) -> float:
    """CPU seconds of a piece of work, the lesser of two."""
    times = []
    for _ in range(2):
        start = process_time()
        work()
        times.append(process_time() - start)
    return min(times)


def player_times(chart: Chart, style: Style) -> dict[str, float]:
    """CPU seconds of laying out a block and of each player in it."""
    bars, chords = bar_layouts(chart, BLOCK), chord_timeline(chart, BLOCK)
    scales = chord_scales(chart, chords)

    def chance(name: str) -> random.Random:
        return random.Random(f"{name} {SEED}")

    return {
        "layout": cpu_s(lambda: (bar_layouts(chart, BLOCK), chord_timeline(chart, BLOCK))),
        "scales": cpu_s(lambda: chord_scales(chart, chords)),
        "drums": cpu_s(lambda: drums_part(bars, chords, style=style.drums, random=chance("drums"))),
        "bass": cpu_s(
            lambda: bass_part(bars, chords, scales, style=style.bass, random=chance("bass"))
        ),
        "chords": cpu_s(
            lambda: chords_part(bars, chords, scales, style=style.chords, random=chance("chords"))
        ),
    }


def growth(lengths: Sequence[int]) -> None:
    """Each length: microseconds a bar of the block, the ratio to reading, the exponent."""
    print(f"{'bars':>6} {'reading':>9}  " + "us a bar of the block, times reading that bar once")
    earlier: tuple[int, float] | None = None
    for bars in lengths:
        reading_s = cpu_s(partial(read, bars))
        times = player_times(read(bars), STYLES[0])
        total_s = sum(times.values())
        cells = [
            f"{name} {seconds / bars / BLOCK * 1e6:.0f} ({seconds / BLOCK / reading_s:.1f})"
            for name, seconds in (*times.items(), ("all", total_s))
        ]
        exponent = ""
        if earlier:
            steps = log(total_s / earlier[1]) / log(bars / earlier[0])
            exponent = f"  exponent {steps:.2f}"
        print(f"{bars:6} {reading_s / bars * 1e6:6.0f} us  {'  '.join(cells)}{exponent}")
        earlier = bars, total_s


def styles() -> None:
    """Each style over one chart: microseconds a bar of the block."""
    chart = read(STYLE_BARS)
    reading_s = cpu_s(partial(read, STYLE_BARS))
    print(f"\n{STYLE_BARS} bars, a block of {BLOCK} choruses")
    for style in STYLES:
        seconds = cpu_s(partial(make_backing, chart, style=style, choruses=BLOCK))
        a_bar = seconds / STYLE_BARS / BLOCK
        print(
            f"{style.name:12} {a_bar * 1e6:6.0f} us  {seconds / BLOCK / reading_s:5.1f} x reading"
        )


if __name__ == "__main__":
    growth(tuple(map(int, sys.argv[1:])) or LENGTHS)
    styles()
