"""What does the bass play? Walking quarters, or roots and fifths in a groove.

Each place has a duty: the root (or the bass under a slash) where a chord begins, a chord
tone where the bar has weight, a step or half step into the next root, anything that
leads on between. `loop_search.cheapest_loop` then picks the smoothest line.

Source: common practice, no source; the range is that of the double bass up to G3.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout, ChordTimeline
from halfstep.harmony.tones import chord_tones
from halfstep.loop_search import Weighed, cheapest_loop
from halfstep.meter import EIGHTH
from halfstep.pitch import Degree
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Span
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

LOW, HIGH = 28, 55
"""E1 to G3, as MIDI numbers."""

_MIDDLE = 40
_RELEASED = Fraction(1, 10)  # of a note's length, so that repeated notes speak
_LEAP_COST = {0: 5.0, 1: 0.2, 2: 0.0, 3: 0.8, 4: 1.0, 5: 1.2, 6: 4.0, 7: 1.8, 12: 3.0}
_WIDE_COST = 5.0
_NEVER = 1000.0
_WHIM = 1.0  # the size of the seeded part of a note's cost


class Duty(Enum):
    """What a place asks of the bass."""

    ROOT = auto()
    WEIGHT = auto()
    PASSING = auto()
    GROOVE = auto()
    APPROACH = auto()


@dataclass(frozen=True, slots=True)
class BassPlace:
    """One note to be chosen."""

    onset: Fraction
    beats: Fraction
    duty: Duty
    span: Span


@dataclass(frozen=True, slots=True)
class BassStyle:
    """What is a style's own in the bass.

    Attributes
    ----------
    program : int
        General MIDI, from 0.
    onsets : callable
        Where in a bar it plays, beside the beginnings of chords.
    duty : callable
        What a place asks that neither begins a chord nor leads to the next one; told
        whether the bar has weight there.
    """

    program: int
    onsets: Callable[[BarLayout], Sequence[Fraction]]
    duty: Callable[[bool], Duty]


def bass_part(
    bars: Sequence[BarLayout], chords: ChordTimeline, *, style: BassStyle, random: Random
) -> PlayedPart:
    """The bass for one chorus."""
    line_places = bass_places(bars, chords, style=style)
    layers = [_choices(place, random) for place in line_places]

    def step_cost(n: int, midi: int, next_midi: int) -> float:
        leap = abs(next_midi - midi)
        if line_places[n].duty is Duty.APPROACH:
            return {1: 0.0, 2: 0.3}.get(leap, _NEVER)
        return _LEAP_COST.get(leap, _WIDE_COST + 0.3 * leap)

    line = cheapest_loop(layers, step_cost)
    notes = tuple(
        PlayedNote(place.onset, place.beats * (1 - _RELEASED), midi, _velocity(place))
        for place, midi in zip(line_places, line, strict=True)
    )
    return PlayedPart("bass", style.program, False, notes)


def _velocity(place: BassPlace) -> int:
    return {Duty.ROOT: 92, Duty.WEIGHT: 86, Duty.GROOVE: 84}.get(place.duty, 80)


def bass_places(
    bars: Sequence[BarLayout], chords: ChordTimeline, *, style: BassStyle
) -> list[BassPlace]:
    """Where the bass plays and what each place asks; silent chords have none."""
    heavy = {group.start for bar in bars for group in bar.groups}
    grid = [onset for bar in bars for onset in style.onsets(bar)]
    line_places: list[BassPlace] = []
    for span in chords.spans:
        if span.symbol.silent:
            continue
        onsets = _onsets(grid, span)
        if len(onsets) == 1 and span is chords.spans[-1]:
            onsets.append(span.start + span.beats / 2)  # the form must lead back
        ends = [*onsets[1:], span.end]
        leads_on = not chords.after(span).symbol.silent
        for onset, end in zip(onsets, ends, strict=True):
            if onset == span.start:
                duty = Duty.ROOT
            elif end == span.end and leads_on:
                duty = Duty.APPROACH
            else:
                duty = style.duty(onset in heavy)
            line_places.append(BassPlace(onset, end - onset, duty, span))
    return line_places


def _onsets(grid: Sequence[Fraction], span: Span) -> list[Fraction]:
    """The chord's first beat and the places of the grid that it covers.

    A place less than a beat after a chord that comes off the grid is left out, so that
    an anticipated chord is held.
    """
    first = bisect_left(grid, span.start)
    on_grid = first < len(grid) and grid[first] == span.start
    room = Fraction(0) if on_grid else BEAT
    covered = grid[bisect_right(grid, span.start) : bisect_left(grid, span.end)]
    return [span.start, *(onset for onset in covered if onset - span.start >= room)]


def walked(bar: BarLayout) -> Sequence[Fraction]:
    """A step on each quarter; compound metres play a groove."""
    return groove(bar) if bar.meter.compound else bar.walked


def groove(bar: BarLayout) -> Sequence[Fraction]:
    """Each group's start, and the eighth that leads out of it where there is room."""
    onsets = []
    for group in bar.groups:
        onsets.append(group.start)
        if group.beats > BEAT:
            onsets.append(group.end - EIGHTH)
    return onsets


def walking_duty(heavy: bool) -> Duty:
    """A chord tone where the bar has weight, what leads on between."""
    return Duty.WEIGHT if heavy else Duty.PASSING


def groove_duty(_heavy: bool) -> Duty:
    """A root or a fifth wherever it is."""
    return Duty.GROOVE


def _choices(place: BassPlace, random: Random) -> list[Weighed[int]]:
    """The notes a place may have, with what speaks against each."""
    weighed = []
    costs = _tone_costs(place)
    for midi in range(LOW, HIGH + 1):
        cost = costs.get(midi % 12)
        if cost is not None:
            height = ((midi - _MIDDLE) / 8.0) ** 2
            weighed.append((midi, cost + height + _WHIM * random.random()))
    return weighed


def _tone_costs(place: BassPlace) -> dict[int, float]:
    """The pitch classes a place may have and the cost of each."""
    symbol = place.span.symbol
    root = _lowest(symbol)
    tones = {tone.name.pitch_class for tone in chord_tones(symbol)}
    if place.duty is Duty.ROOT:
        return {root: 0.0}
    if place.duty is Duty.APPROACH:
        return dict.fromkeys(range(12), 0.5) | dict.fromkeys(tones, 0.0)
    if place.duty is Duty.GROOVE:
        fifths = {t.name.pitch_class for t in chord_tones(symbol) if t.degree.number == 5}
        return dict.fromkeys(fifths, 0.0) | {root: 0.5}
    costs = dict.fromkeys(tones, 0.0) | {root: 0.4}
    if place.duty is Duty.PASSING:
        costs = dict.fromkeys(_passing(symbol), 0.6) | costs
    return costs


def _lowest(symbol: ChordSymbol) -> int:
    return (symbol.bass or symbol.root).pitch_class


def _passing(symbol: ChordSymbol) -> set[int]:
    """Pitch classes between the chord's tones that fit it in any key.

    The second is natural but over half-diminished and altered chords, the fourth is a
    passing note over a minor third only, the sixth is left out where it may be flat.
    """
    degrees = []
    altered = {degree.number for degree in symbol.altered}
    dark = symbol.alt or symbol.family in {Family.HALF_DIMINISHED, Family.POWER}
    if not dark and 9 not in altered:
        degrees.append(Degree(2))
    if symbol.family in {Family.MINOR, Family.DIMINISHED, Family.HALF_DIMINISHED}:
        degrees.append(Degree(4))
    if symbol.family is Family.MAJOR and not symbol.alt and not altered & {5, 13}:
        degrees.append(Degree(6))
    return {(symbol.root + degree.interval).pitch_class for degree in degrees}
