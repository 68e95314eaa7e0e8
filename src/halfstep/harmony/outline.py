"""Does a line spell the changes? How clearly its notes tell one chord from another.

Two figures, and neither says how good the music is.

- *Outline D* of `halfstep.harmony.line_figures`, in nats a note.
- The *change test*: the notes of the last four beats of the old chord, taken together, are
  likelier over the old one, and those of the first four beats of the new one over the new.

Conventions
-----------
- The windows of the change test are counted in beats of the metre (a dotted quarter in
  6/8) and end where the old chord began and the new one ends.
- A change is *moved* when another place within four beats of it parts the notes of the two
  chords better by at least `CLEAR_NATS`, with eight beats of each chord looked at, and the
  change test holds there. It is *heard* early or late when it is moved, on time when it is
  not and the test holds at the change. One change says little of this: of arpeggios that
  come two beats late a third are found late, of notes of the key that follow no chord a
  seventh are taken for moved and a seventh for on time. Judge a line by its many changes.
- A single bar is never graded: the test needs `MIN_SIDE` notes a side. What cannot be said is
  None, with the reason.

Source: the measures were tried on made-up lines over 342 charts; `tests/harmony` repeats
that table.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate, pairwise
from math import log
from typing import NamedTuple

from halfstep.harmony.line_figures import (
    MIN_BARS,
    ChordStretch,
    Figures,
    LineBar,
    LineNote,
    PlacedNotes,
    Row,
    line_over_chart,
)
from halfstep.meter import Meter
from halfstep.progression.chart import Chart
from halfstep.progression.symbol import ChordSymbol

MIN_SIDE = 3
"""Notes on each side of a change that is judged."""
SIDE_BEATS = 4
CLEAR_NATS = log(2)
"""How much likelier another place must be: twice."""


class Arrival(StrEnum):
    """What a listener can tell of a change."""

    ON_TIME = "on time"
    EARLY = "early"
    LATE = "late"
    NOT_HEARD = "not heard"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class OutlinedChange:
    """A change of chord under a line.

    Attributes
    ----------
    old, new : ChordSymbol
    onset : float
        Quarter notes from the start of the line's bar 1.
    bar : int
        Of the line, from 1, all choruses counted.
    beat : float
        In the bar, from 1, in pulses of the metre.
    spelled : bool or None
        The change test holds at the change; None where it is unknown.
    arrival : Arrival
    moved_beats : float
        Pulses after the change, to the nearest half beat, before it negative; 0 unless early
        or late.
    reason : str
        Why it is unknown.
    """

    old: ChordSymbol
    new: ChordSymbol
    onset: float
    bar: int
    beat: float
    spelled: bool | None
    arrival: Arrival
    moved_beats: float = 0.0
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Outline:
    """A line measured.

    Attributes
    ----------
    whole : Figures
    windows : tuple of Figures
        Four bars each, from the start of each chorus; what is left over joins the last.
    changes : tuple of OutlinedChange
        In order; beside ``N.C.`` there is none.
    """

    whole: Figures
    windows: tuple[Figures, ...]
    changes: tuple[OutlinedChange, ...]

    @property
    def judged(self) -> tuple[OutlinedChange, ...]:
        """Changes that something can be said of."""
        return tuple(change for change in self.changes if change.spelled is not None)

    @property
    def spelled(self) -> float | None:
        """The share of them where the change test holds; None where there are none."""
        judged = self.judged
        return sum(bool(change.spelled) for change in judged) / len(judged) if judged else None


def outline(line: Sequence[LineNote], chart: Chart) -> Outline:
    """How well a line spells the chords of a chart.

    Parameters
    ----------
    line : sequence of LineNote
        Concert pitch, in order of onset.
    chart : Chart
        Repeated as often as the line needs it.

    Raises
    ------
    ReadError
        When the line has no notes from bar 1 on, or is far too long.
    """
    over = line_over_chart(line, chart)
    bars, measure = over.bars, over.measure
    windows = [measure.of(*window) for window in _windows(len(bars), len(chart.form))]
    changes = _changes(over.notes, over.stretches, over.firsts, bars)
    return Outline(measure.of(0, len(bars)), tuple(windows), tuple(changes))


def _windows(bars: int, form: int) -> Iterator[tuple[int, int]]:
    """Four bars and four bars, from the start of each chorus that has as many."""
    chorus = form if form >= MIN_BARS else bars
    for start in range(0, bars, chorus):
        stop = min(start + chorus, bars)
        cuts = [*range(start, max(start + 1, stop - MIN_BARS + 1), MIN_BARS), stop]
        yield from pairwise(cuts)


# The changes


def _changes(
    notes: PlacedNotes,
    stretches: Sequence[ChordStretch],
    firsts: Sequence[int],
    bars: Sequence[LineBar],
) -> Iterator[OutlinedChange]:
    starts = [bar.start for bar in bars]
    for place in range(1, len(stretches)):
        old, new = stretches[place - 1], stretches[place]
        if old.row is None or new.row is None:
            continue
        number = bisect_left(starts, new.start + 1e-9)
        start, _, meter, unit = bars[number - 1]
        beat = (new.start - start) / float(meter.pulse_beats) + 1
        around = _Around(
            notes, old.row, new.row, firsts[place - 1 : place + 2], new.start, unit, meter
        )
        judged = around.unknown() or around.verdict()
        yield OutlinedChange(old.symbol, new.symbol, new.start, number, beat, *judged)


class _Around(NamedTuple):
    """The notes around a change.

    Attributes
    ----------
    firsts : sequence of int
        The first note of the old chord, of the new one, and of the one after it.
    """

    notes: PlacedNotes
    old: Row
    new: Row
    firsts: Sequence[int]
    start: float
    unit: float
    meter: Meter

    def unknown(self) -> tuple[None, Arrival, float, str] | None:
        """Why nothing can be said, as the end of a `OutlinedChange`."""
        left, right = self._sides(self.firsts[1], self.start)
        reason = ""
        if self.old == self.new:
            reason = "both chords have the same notes"
        elif min(self.firsts[1] - left, right - self.firsts[1]) < MIN_SIDE:
            reason = f"fewer than {MIN_SIDE} notes on one side"
        return (None, Arrival.UNKNOWN, 0.0, reason) if reason else None

    def verdict(self) -> tuple[bool, Arrival, float]:
        """Does the test hold, what was heard, and how many beats after the change."""
        first, stop = self._within(2 * SIDE_BEATS)
        sums = self._sums(first, stop)
        holds = self._holds(self.firsts[1], self.start, sums, first)
        best = self._clearly_best(sums, first, stop)
        moved = 0.0 if best is None else self._moved(best)
        if best is not None and moved:
            if self._holds(best, self.notes.onsets[best], sums, first):
                return holds, Arrival.LATE if moved > 0 else Arrival.EARLY, moved
        return holds, Arrival.ON_TIME if holds else Arrival.NOT_HEARD, 0.0

    def _within(self, beats: int, at: float | None = None) -> tuple[int, int]:
        """The notes of both chords so many beats around a place."""
        middle = self.start if at is None else at
        onsets, reach = self.notes.onsets, beats * self.unit
        left = bisect_left(onsets, middle - reach)
        right = bisect_left(onsets, middle + reach)
        return max(self.firsts[0], left), min(self.firsts[2], right)

    def _sides(self, cut: int, at: float) -> tuple[int, int]:
        left, right = self._within(SIDE_BEATS, at)
        return min(left, cut), max(right, cut)

    def _sums(self, first: int, stop: int) -> list[float]:
        """How much likelier over the old chord the notes are, up to before each one."""
        keys = self.notes.keys[first:stop]
        return list(accumulate((self.old[k] - self.new[k] for k in keys), initial=0.0))

    def _clearly_best(self, sums: Sequence[float], first: int, stop: int) -> int | None:
        """Another note that the new chord likelier begins with; of equals the nearest."""
        change, onsets, reach = self.firsts[1], self.notes.onsets, SIDE_BEATS * self.unit
        low = max(first + MIN_SIDE, bisect_left(onsets, self.start - reach))
        high = min(stop - MIN_SIDE, bisect_right(onsets, self.start + reach) - 1)
        top = max(sums[low - first : high - first + 1])
        if top - sums[change - first] < CLEAR_NATS:
            return None
        best = [place for place in range(low, high + 1) if sums[place - first] == top]
        return min(best, key=lambda place: abs(onsets[place] - self.start))

    def _moved(self, best: int) -> float:
        """Pulses after the change, to the nearest half beat."""
        halves = round(2 * (self.notes.onsets[best] - self.start) / self.unit)
        return halves * self.unit / 2 / float(self.meter.pulse_beats)

    def _holds(self, cut: int, at: float, sums: Sequence[float], first: int) -> bool:
        """The two-sided test, with the new chord beginning at a note."""
        left, right = self._sides(cut, at)
        left, right = max(left, first), min(right, first + len(sums) - 1)
        if cut - left < MIN_SIDE or right - cut < MIN_SIDE:
            return False
        before, at_cut, after = (sums[place - first] for place in (left, cut, right))
        return at_cut > before and at_cut > after
