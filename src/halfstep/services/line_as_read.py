"""A line that was read for a lesson, and the keys it may be in."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import ceil

from halfstep.feedback.written_lengths import BarEnd
from halfstep.harmony.line_over_chords import LineNote
from halfstep.progression.chart import Chart
from halfstep.progression.sheet import LeadSheet


@dataclass(frozen=True, slots=True)
class KeyedSheet:
    """A sheet in a key that a line over it may be in.

    Attributes
    ----------
    sheet : LeadSheet
        With the tempo of the lesson.
    chart : Chart
        As it is played.
    rise : int
        Semitones from there to the key of the lesson.
    """

    sheet: LeadSheet
    chart: Chart
    rise: int


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A line as it was read.

    Attributes
    ----------
    keyed : KeyedSheet
        In which key it is.
    notes : tuple of LineNote
        Concert pitch, one at a time, in beats from the start of bar 1 of the first pass.
    notices : tuple of str
        What was not certain, or passed over.
    """

    keyed: KeyedSheet
    notes: tuple[LineNote, ...]
    notices: tuple[str, ...]


def bar_ends(chart: Chart) -> BarEnd:
    """Gives the end of the bar in which something stops, however often the form comes round."""
    ends = list(accumulate(bar.beats for bar in chart.form))

    def bar_end(place: Fraction) -> Fraction:
        chorus = ceil(place / chart.beats) - 1
        start = chorus * chart.beats
        return start + ends[bisect_left(ends, place - start)]

    return bar_end
