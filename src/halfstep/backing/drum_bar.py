"""What does a drummer know of a bar? Its beats and groups, from its own start, and the pace.

A pattern is written for any bar: by quarters and groups where quarters are counted, group by
group where the metre is counted in eighths. The pace says what a hand can play: no cymbal is
struck ten times a second.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout, BeatGroup, bar_groups, places
from halfstep.backing.drum_kit import Stroke
from halfstep.meter import EIGHTH

SIXTEENTH = Fraction(1, 4)

_QUICKEST_S = 0.11
"""Seconds from stroke to stroke of one hand that goes on and on."""


@dataclass(frozen=True, slots=True)
class DrumBar:
    """One bar, counted from its own start.

    Attributes
    ----------
    beats : Fraction
    groups : tuple of BeatGroup
    in_eighths : bool
        Counted in eighths or shorter.
    number : int
        Place in its section, from 0, so that a figure of two bars knows its half.
    quarter_s : float
        Seconds in a quarter note.
    quarters, eighths, sixteenths : tuple of Fraction
        Every one of them from the start.
    """

    beats: Fraction
    groups: tuple[BeatGroup, ...]
    in_eighths: bool
    number: int
    quarter_s: float
    quarters: tuple[Fraction, ...]
    eighths: tuple[Fraction, ...]
    sixteenths: tuple[Fraction, ...]

    def counts(self, at: Fraction) -> bool:
        """True on what is counted: the quarters, or in eighths the starts of groups."""
        if self.in_eighths:
            return any(group.start == at for group in self.groups)
        return at.denominator == 1

    def playable(self, step: Fraction) -> bool:
        """True where one hand can go on at this step."""
        return float(step) * self.quarter_s >= _QUICKEST_S

    def grid(self, step: Fraction) -> tuple[Fraction, ...]:
        """The places of a step: a quarter, an eighth or a sixteenth."""
        return {1: self.quarters, 2: self.eighths}.get(step.denominator, self.sixteenths)


Pattern = Callable[[DrumBar, Random], Iterator[Stroke]]
"""The strokes of a bar; what varies is drawn."""


def drum_bar(bar: BarLayout, quarter_s: float) -> DrumBar:
    """A laid-out bar as the drummer counts it."""
    return DrumBar(
        bar.beats,
        bar_groups(bar.meter, bar.beats),
        bar.meter.unit > 4,
        bar.section_bar,
        quarter_s,
        *_grids(bar.beats),
    )


@lru_cache(maxsize=256)
def _grids(beats: Fraction) -> tuple[tuple[Fraction, ...], ...]:
    """The quarters, eighths and sixteenths of a bar."""
    return tuple(tuple(places(Fraction(0), beats, step)) for step in (BEAT, EIGHTH, SIXTEENTH))
