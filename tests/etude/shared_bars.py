"""How much have two etudes in common?"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from halfstep.etude.etude_line import EtudeLine


def shared_bars(line: EtudeLine, other: EtudeLine) -> float:
    """Share of the bars with a note in them that sound the same in both etudes."""
    bars = [start for bar, start in line.analysis.chart.placed() if bar.number >= 1]
    sounds = [_by_bar(etude, bars) for etude in (line, other)]
    sounding = sounds[0].keys() | sounds[1].keys()
    same = sum(sounds[0].get(bar) == sounds[1].get(bar) for bar in sounding)
    return same / len(sounding) if sounding else 1.0


def _by_bar(etude: EtudeLine, bars: Sequence[Fraction]) -> dict[int, list[tuple[Fraction, int]]]:
    """Onset and MIDI number of the notes that begin in each bar, counted from 1."""
    bar_notes: dict[int, list[tuple[Fraction, int]]] = {}
    for note in etude.notes:
        if note.pitch:
            number = bisect_right(bars, note.onset)
            bar_notes.setdefault(number, []).append((note.onset, note.pitch.midi))
    return bar_notes
