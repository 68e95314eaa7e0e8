"""Where do bars and chords of a form begin, however often it comes round?

Conventions: places are quarter notes from the start of bar 1 of the first pass, before it
negative.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction

from halfstep.feedback.findings import PassPlace
from halfstep.harmony.analysis import Analysis

_CELLS = (Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 8), Fraction(1, 16))


def counted_cell(lengths: Collection[float | Fraction]) -> Fraction:
    """The longest that all lengths are whole numbers of: a quarter note, an eighth or less.

    >>> counted_cell([4, 1]), counted_cell([3, 1.5])
    (Fraction(1, 1), Fraction(1, 2))
    """
    return next(cell for cell in _CELLS if all(length % cell == 0 for length in lengths))


@dataclass(frozen=True, slots=True)
class FormPlaces:
    """Where bars and chords of a form begin, however often it comes round.

    Attributes
    ----------
    beats : float
        Quarter notes in the form.
    bar_starts, pulses : tuple of float
        Of each bar: quarter notes from the start of bar 1, and in a pulse of its metre.
    chord_starts : tuple of float
        Of each chord of the analysis.
    """

    beats: float
    bar_starts: tuple[float, ...]
    pulses: tuple[float, ...]
    chord_starts: tuple[float, ...]

    @property
    def cell(self) -> Fraction:
        """What all bars and beats are whole numbers of: a quarter note, an eighth or less."""
        return counted_cell({*self.bar_starts, *self.pulses, self.beats})

    def chord_at(self, beats: float) -> int:
        """The place in the analysis of the chord that sounds."""
        return bisect_right(self.chord_starts, (beats + _NEAR) % self.beats) - 1

    def place_at(self, beats: float) -> PassPlace:
        """The pass, bar and beat of a place."""
        chorus, rest = divmod(beats + _NEAR, self.beats)
        bar = bisect_right(self.bar_starts, rest)
        beat = max(0.0, rest - _NEAR - self.bar_starts[bar - 1]) / self.pulses[bar - 1] + 1
        return PassPlace(int(chorus) + 1, bar, round(beat, 3))


_NEAR = 1e-6
"""So that a place on a beat, worked out in floating point, does not fall before it."""


def form_places(analysis: Analysis) -> FormPlaces:
    """The places of a chart's bars and chords."""
    bars = [(bar, start) for bar, start in analysis.chart.placed() if bar.number >= 1]
    return FormPlaces(
        float(analysis.chart.beats),
        tuple(float(start) for _, start in bars),
        tuple(float(bar.meter.pulse_beats) for bar, _ in bars),
        tuple(float(chord.span.start) for chord in analysis.chords),
    )
