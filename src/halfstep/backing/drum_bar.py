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
    """

    beats: Fraction
    groups: tuple[BeatGroup, ...]
    in_eighths: bool
    number: int
    quarter_s: float

    @property
    def quarters(self) -> tuple[Fraction, ...]:
        """Every quarter."""
        return grid(self.beats, BEAT)

    @property
    def eighths(self) -> tuple[Fraction, ...]:
        """Every eighth."""
        return grid(self.beats, EIGHTH)

    @property
    def counted(self) -> tuple[Fraction, ...]:
        """What is counted: the quarters, or where the metre is in eighths the groups."""
        if self.in_eighths:
            return tuple(group.start for group in self.groups)
        return self.quarters

    def playable(self, step: Fraction) -> bool:
        """True where one hand can go on at this step."""
        return step * self.quarter_s >= _QUICKEST_S


Pattern = Callable[[DrumBar, Random], Iterator[Stroke]]
"""The strokes of a bar; what varies is drawn."""


@lru_cache(maxsize=256)
def grid(beats: Fraction, step: Fraction) -> tuple[Fraction, ...]:
    """Every step of a bar from its start."""
    return tuple(places(Fraction(0), beats, step))


def drum_bar(bar: BarLayout, quarter_s: float) -> DrumBar:
    """A laid-out bar as the drummer counts it."""
    groups = bar_groups(bar.meter, bar.beats)
    return DrumBar(bar.beats, groups, bar.meter.unit > 4, bar.section_bar, quarter_s)
