"""How much have etudes in common?"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations

from halfstep.etude.etude_line import EtudeLine

BarNotes = dict[int, list[tuple[Fraction, int]]]
"""Onset and MIDI number of the notes that begin in each bar, counted from 1."""


def shared_bars(etudes: Sequence[EtudeLine]) -> list[float]:
    """For any two etudes over a chart the share of sounding bars that are the same in both."""
    return [_share(bars, others) for bars, others in combinations(map(_by_bar, etudes), 2)]


def _share(bars: BarNotes, others: BarNotes) -> float:
    sounding = bars.keys() | others.keys()
    same = sum(bars.get(bar) == others.get(bar) for bar in sounding)
    return same / len(sounding) if sounding else 1.0


def _by_bar(etude: EtudeLine) -> BarNotes:
    starts = [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]
    bar_notes: BarNotes = {}
    for note in etude.notes:
        if note.pitch:
            number = bisect_right(starts, note.onset)
            bar_notes.setdefault(number, []).append((note.onset, note.pitch.midi))
    return bar_notes
