"""What was heard before? The notes of an etude, asked for by their places."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from halfstep.etude.frame import Slot
from halfstep.etude.parts import Etude


class Heard:
    """An earlier etude over the same chart."""

    def __init__(self, etude: Etude) -> None:
        self._notes: dict[tuple[Fraction, Fraction], int] = {
            (note.onset, note.beats): note.pitch.midi for note in etude.notes if note.pitch
        }

    def midis(self, slots: Sequence[Slot]) -> list[int] | None:
        """Its notes at those places; None when it has other ones there."""
        found = [self._notes.get((slot.onset, slot.beats)) for slot in slots]
        midis = [midi for midi in found if midi is not None]
        return midis if len(midis) == len(found) else None


def shared_bars(one: Etude, other: Etude) -> float:
    """Share of the bars with a note in them that sound the same in both etudes."""
    bars = [start for bar, start in one.analysis.chart.placed() if bar.number >= 1]
    sounds = [_by_bar(etude, bars) for etude in (one, other)]
    sounding = sounds[0].keys() | sounds[1].keys()
    same = sum(sounds[0].get(bar) == sounds[1].get(bar) for bar in sounding)
    return same / len(sounding) if sounding else 1.0


def _by_bar(etude: Etude, bars: Sequence[Fraction]) -> dict[int, list[tuple[Fraction, int]]]:
    """Onset and MIDI number of the notes that begin in each bar, counted from 1."""
    found: dict[int, list[tuple[Fraction, int]]] = {}
    for note in etude.notes:
        if note.pitch:
            number = bisect_right(bars, note.onset)
            found.setdefault(number, []).append((note.onset, note.pitch.midi))
    return found
