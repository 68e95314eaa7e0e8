"""What does the bass play? Walking quarters for swing, roots and fifths in a groove else.

Each place has a duty: the root (or the bass under a slash) where a chord begins, a chord
tone where the bar has weight, a step or half step into the next root, anything that
leads on between. `path.cheapest_path` then picks the smoothest line.

Source: common practice, no source; the range is that of the double bass up to G3.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from fractions import Fraction
from random import Random

from halfstep.backing.grid import BEAT, GridBar, Harmony
from halfstep.backing.path import Weighed, cheapest_path
from halfstep.harmony.tones import chord_tones
from halfstep.meter import EIGHTH, Feel
from halfstep.pitch import Degree
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Span
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

LOW, HIGH = 28, 55
"""E1 to G3, as MIDI numbers."""

_MIDDLE = 40
_PROGRAMS = {Feel.SWING: 32, Feel.STRAIGHT: 33}  # acoustic and fingered bass
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
class Place:
    """One note to be chosen."""

    onset: Fraction
    beats: Fraction
    duty: Duty
    span: Span


def bass_part(
    bars: Sequence[GridBar], chords: Harmony, *, feel: Feel, random: Random
) -> PlayedPart:
    """The bass for one chorus."""
    found = bass_places(bars, chords, feel=feel)
    layers = [_choices(place, random) for place in found]

    def step_cost(n: int, here: int, there: int) -> float:
        leap = abs(there - here)
        if found[n].duty is Duty.APPROACH:
            return {1: 0.0, 2: 0.3}.get(leap, _NEVER)
        return _LEAP_COST.get(leap, _WIDE_COST + 0.3 * leap)

    line = cheapest_path(layers, step_cost, closed=True)
    notes = tuple(
        PlayedNote(place.onset, place.beats * (1 - _RELEASED), midi, _velocity(place))
        for place, midi in zip(found, line, strict=True)
    )
    return PlayedPart("bass", _PROGRAMS[feel], False, notes)


def _velocity(place: Place) -> int:
    return {Duty.ROOT: 92, Duty.WEIGHT: 86, Duty.GROOVE: 84}.get(place.duty, 80)


def bass_places(bars: Sequence[GridBar], chords: Harmony, *, feel: Feel) -> list[Place]:
    """Where the bass plays and what each place asks; silent chords have none."""
    heavy = {group.start for bar in bars for group in bar.groups}
    found: list[Place] = []
    for span in chords.spans:
        if span.symbol.silent:
            continue
        onsets = _onsets(bars, span, feel)
        if len(onsets) == 1 and span is chords.spans[-1]:
            onsets.append(span.start + span.beats / 2)  # the form must lead back
        ends = [*onsets[1:], span.end]
        leads_on = not chords.after(span).symbol.silent
        for onset, end in zip(onsets, ends, strict=True):
            if onset == span.start:
                duty = Duty.ROOT
            elif end == span.end and leads_on:
                duty = Duty.APPROACH
            elif feel is Feel.STRAIGHT:
                duty = Duty.GROOVE
            else:
                duty = Duty.WEIGHT if onset in heavy else Duty.PASSING
            found.append(Place(onset, end - onset, duty, span))
    return found


def _onsets(bars: Sequence[GridBar], span: Span, feel: Feel) -> list[Fraction]:
    """The chord's first beat and the places of the bars it covers.

    A place less than a beat after a chord that comes off the grid is left out, so that
    an anticipated chord is held.
    """
    laid = [
        onset
        for bar in bars
        if bar.start < span.end and span.start < bar.end
        for onset in _bar_onsets(bar, feel)
        if span.start < onset < span.end
    ]
    on_grid = span.start in {onset for bar in bars for onset in _bar_onsets(bar, feel)}
    room = Fraction(0) if on_grid else BEAT
    return [span.start, *(onset for onset in laid if onset - span.start >= room)]


def _bar_onsets(bar: GridBar, feel: Feel) -> Sequence[Fraction]:
    if feel is Feel.SWING and not bar.meter.compound:
        return bar.walked
    return tuple(_groove(bar))


def _groove(bar: GridBar) -> Iterator[Fraction]:
    """Each group's start, and the eighth that leads out of it where there is room."""
    for group in bar.groups:
        yield group.start
        if group.beats > BEAT:
            yield group.end - EIGHTH


def _choices(place: Place, random: Random) -> list[Weighed[int]]:
    """The notes a place may have, with what speaks against each."""
    weighed = []
    costs = _tone_costs(place)
    for midi in range(LOW, HIGH + 1):
        cost = costs.get(midi % 12)
        if cost is not None:
            height = ((midi - _MIDDLE) / 8.0) ** 2
            weighed.append((midi, cost + height + _WHIM * random.random()))
    return weighed


def _tone_costs(place: Place) -> dict[int, float]:
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
