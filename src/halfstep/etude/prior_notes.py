"""Notes that were written before, in an earlier etude or in this one, asked for by their places.

A bar may come twice, as an answer; the third time it is a habit. So what stands for the
third time within an etude is held against it just as what an earlier etude has.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import TypeVar

from halfstep.etude.slots import Slot

T = TypeVar("T")
Line = list[int | None]
Beats = Fraction | float
Place = tuple[float, float]
"""Onset and length in beats; exact fractions are slow to compare and to hash."""
Note = tuple[Beats, Beats, int]
"""Onset and length in beats, MIDI number."""
_DIGITS = 6
"""Of a beat, for places in bars that are counted as floats."""
TWICE = 2
"""How often a bar may come."""
ROUNDS, MOST_AGAIN = 12, 4000
"""How often a line is drawn again at most, and how many notes and rests in all."""
MOST_REDRAWN = 250
"""Notes that are drawn anew bar by bar, in all: of a long line that has many such bars none."""
IN_VAIN = 2
"""And how often from the one with the fewest such bars on: more was tried and seldom found any."""


class PriorNotes:
    """Notes of an earlier etude over the same chart, or of this one."""

    def __init__(self, notes: Iterable[Note]) -> None:
        self._notes: dict[Place, int] = {
            (float(onset), float(beats)): midi for onset, beats, midi in notes
        }
        self._onsets = {onset for onset, _ in self._notes}

    def begins(self, onset: Beats) -> bool:
        """True where one of its notes begins."""
        return float(onset) in self._onsets

    def has(self, notes: Iterable[Note]) -> bool:
        """True when all of them are in it."""
        return all(
            self._notes.get((float(onset), float(beats))) == midi for onset, beats, midi in notes
        )

    def midis(self, slots: Sequence[Slot]) -> list[int] | None:
        """Its notes at those places; None when it has other ones there."""
        return self.midis_at(map(place_of, slots))

    def midis_at(self, places: Iterable[Place]) -> list[int] | None:
        """Its notes there; None when it has other ones."""
        midis = []
        for place in places:
            midi = self._notes.get(place)
            if midi is None:
                return None
            midis.append(midi)
        return midis


def place_of(slot: Slot) -> Place:
    """Where a slot stands; fractions are slow to make floats of in any other way."""
    onset, beats = slot.onset, slot.beats
    return onset.numerator / onset.denominator, beats.numerator / beats.denominator


def never_thrice(
    first: T,
    draw: Callable[[Sequence[PriorNotes]], T],
    redraw: Callable[[T, Sequence[PriorNotes]], T],
    sounds: Callable[[T], Sequence[Note]],
    bars: Sequence[Fraction],
    in_vain: int = IN_VAIN,
) -> T:
    """A line without a bar that stands there three times, or with the fewest such bars found.

    Parameters
    ----------
    first : T
        The line that is taken where nothing is against it.
    draw : function
        Returns another line, unlike the notes it is given.
    redraw : function
        Returns a line with other notes where the last of those it is given stand, the rest as it
        was; as long as that leaves fewer such bars, no whole line is drawn.
    sounds : function
        Returns the notes of a line.
    bars : sequence of Fraction
        Where the bars begin, in beats.
    in_vain : int
        Lines that are looked at, at most, from the one with the fewest such bars on.
    """
    priors: list[PriorNotes] = []
    work = 0

    def again_in(line: T) -> list[list[Note]]:
        return list(third_times(sounds(line), bars))

    def mended(line: T) -> tuple[int, T]:
        """The line with as few such bars as other notes in them leave."""
        nonlocal work
        again = again_in(line)
        while again:
            priors.append(PriorNotes(note for bar in again for note in bar))
            work += sum(map(len, again))
            other = redraw(line, priors) if work <= MOST_REDRAWN else line
            left = again if other is line else again_in(other)
            if len(left) >= len(again):
                break
            line, again = other, left
        return len(again), line

    fewest, found = mended(first)
    rounds, seen, best = min(ROUNDS, MOST_AGAIN // max(1, len(sounds(first)))), 1, 0
    while fewest and seen < min(rounds, best + in_vain):
        count, line = mended(draw(priors))
        if count < fewest:
            fewest, found, best = count, line, seen
        seen += 1
    return found


def third_times(notes: Sequence[Note], bars: Sequence[Fraction]) -> Iterator[list[Note]]:
    """The notes of each bar that stands there for the third time or more."""
    starts = [float(start) for start in bars]
    counts: Counter[tuple[tuple[float, float, int], ...]] = Counter()
    for number, group in groupby(notes, key=lambda note: bisect_right(starts, float(note[0]))):
        bar, start = list(group), starts[max(0, number - 1)]
        key = tuple(
            (round(float(onset) - start, _DIGITS), float(beats), midi) for onset, beats, midi in bar
        )
        counts[key] += 1
        if counts[key] > TWICE:
            yield bar
