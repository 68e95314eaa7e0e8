"""Where in each bar does a band play? Groups, places to walk, and the chord there.

Every metre is laid out by the groups of its pulses, so that a bar of any length, cut
short or longer than its metre, has a place for each player.

Conventions
-----------
- Places are beats (quarter notes) from the start of bar 1, lengths are beats.
- A half or a whole note as unit is felt in groups of two quarters.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from halfstep.meter import EIGHTH, Meter
from halfstep.progression.chart import Chart, Span, spans

BEAT = Fraction(1)


@dataclass(frozen=True, slots=True)
class BeatGroup:
    """A stretch of the bar that begins with weight.

    Attributes
    ----------
    start, beats : Fraction
    index : int
        Place in its bar, from 0.
    """

    start: Fraction
    beats: Fraction
    index: int

    @property
    def end(self) -> Fraction:
        """Where the next group begins."""
        return self.start + self.beats


@dataclass(frozen=True, slots=True)
class BarLayout:
    """One bar laid out.

    Attributes
    ----------
    index : int
        Place in the form, from 0.
    start, beats : Fraction
    meter : Meter
    groups : tuple of BeatGroup
    chorus : int
        Which chorus of the block it stands in, from 0.
    section_bar : int
        Place in its section, from 0; a form without sections is one.
    ends_section : bool
        A section or the form begins with the next bar.
    """

    index: int
    start: Fraction
    beats: Fraction
    meter: Meter
    groups: tuple[BeatGroup, ...]
    chorus: int = 0
    section_bar: int = 0
    ends_section: bool = False

    @property
    def end(self) -> Fraction:
        """Where the next bar begins."""
        return self.start + self.beats

    @property
    def walked(self) -> tuple[Fraction, ...]:
        """Where a walking bass steps: quarters, or each group where the unit is shorter."""
        if self.meter.unit > 4:
            return tuple(group.start for group in self.groups)
        return tuple(places(self.start, self.end, BEAT))

    @property
    def eighths(self) -> tuple[Fraction, ...]:
        """Every eighth of the bar."""
        return tuple(places(self.start, self.end, EIGHTH))


def places(start: Fraction, end: Fraction, step: Fraction) -> Iterator[Fraction]:
    """``start`` and what follows at every ``step`` before ``end``."""
    while start < end:
        yield start
        start += step


def group_lengths(meter: Meter) -> tuple[Fraction, ...]:
    """The lengths of a metre's groups in beats.

    >>> [str(length) for length in group_lengths(Meter(2, 2))]
    ['2', '2']
    """
    if meter.unit < 4:
        return (Fraction(2),) * (meter.count * 2 // meter.unit)
    return tuple(Fraction(4 * units, meter.unit) for units in meter.groups)


def bar_layouts(chart: Chart, choruses: int = 1) -> tuple[BarLayout, ...]:
    """The bars of the form, laid out, as often as it is played."""
    form, beats = tuple(_form_layouts(chart)), chart.beats
    return tuple(_moved(bar, chorus, chorus * beats) for chorus in range(choruses) for bar in form)


def _form_layouts(chart: Chart) -> Iterator[BarLayout]:
    placed = [(bar, start) for bar, start in chart.placed() if bar.number >= 1]
    following = [bar for bar, _ in placed[1:]]
    section_bar = 0
    for n, (bar, start) in enumerate(placed):
        section_bar = 0 if bar.section else section_bar
        yield BarLayout(
            n,
            start,
            bar.beats,
            bar.meter,
            tuple(_groups(bar.meter, start, bar.beats)),
            section_bar=section_bar,
            ends_section=n == len(following) or bool(following[n].section),
        )
        section_bar += 1


def _moved(bar: BarLayout, chorus: int, beats: Fraction) -> BarLayout:
    """A bar of the form in a chorus that begins ``beats`` after the first."""
    if not chorus:
        return bar
    groups = tuple(replace(group, start=group.start + beats) for group in bar.groups)
    return replace(bar, start=bar.start + beats, groups=groups, chorus=chorus)


@lru_cache(maxsize=256)
def bar_groups(meter: Meter, beats: Fraction) -> tuple[BeatGroup, ...]:
    """The groups of a bar of this metre and length, from its own start."""
    return tuple(_groups(meter, Fraction(0), beats))


def _groups(meter: Meter, start: Fraction, beats: Fraction) -> Iterator[BeatGroup]:
    """The metre's groups, cut at the bar's end or begun again until it is reached."""
    lengths = group_lengths(meter)
    end, index = start + beats, 0
    while start < end:
        length = min(lengths[index % len(lengths)], end - start)
        yield BeatGroup(start, length, index)
        start += length
        index += 1


@dataclass(frozen=True, slots=True)
class ChordTimeline:
    """The chords of a block of choruses, found by their place.

    Attributes
    ----------
    spans : tuple of Span
        One after another, without a gap.
    starts : tuple of Fraction
        Where each begins.
    """

    spans: tuple[Span, ...]
    starts: tuple[Fraction, ...]

    def at(self, place: Fraction) -> Span:
        """The chord that sounds at a place of the block."""
        return self.spans[bisect_right(self.starts, place) - 1]

    def within(self, start: Fraction, end: Fraction) -> Sequence[Span]:
        """The chords that begin in a stretch, its start included."""
        return self.spans[bisect_left(self.starts, start) : bisect_left(self.starts, end)]

    def after(self, span: Span) -> Span:
        """The chord that follows; the first one follows the last."""
        return self.spans[bisect_right(self.starts, span.start) % len(self.spans)]


def chord_timeline(chart: Chart, choruses: int = 1) -> ChordTimeline:
    """The chart's chords, as often as the form is played; each chorus begins its first anew."""
    form, beats = spans(chart), chart.beats
    chords = tuple(
        span._replace(start=span.start + chorus * beats) if chorus else span
        for chorus in range(choruses)
        for span in form
    )
    return ChordTimeline(chords, tuple(span.start for span in chords))
