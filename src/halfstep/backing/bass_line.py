"""Which notes join the places of a bass? The exact search over every note it may have.

Each place has its notes with what speaks against each: how well the tone fits what is asked,
how far it lies from a height that wanders up and down, and a seeded whim. Each step has a
cost by its size and by what both places ask. What leads into a root is dealt beforehand, so
that half steps keep their share of the ways in.

Of every two places running one forbids the note before last after another: two notes in
turns would need it at both.

Source: common practice, no source; the range is that of the double bass up to G3, the share
of half steps into a root and of fifths was counted on bass lines of recorded solos.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto
from fractions import Fraction
from functools import lru_cache
from random import Random

import numpy as np

from halfstep.backing.bass_places import BassPlace, Duty, lowest
from halfstep.backing.chord_scales import PitchClasses
from halfstep.backing.figures import Dealer
from halfstep.harmony.tones import chord_degrees
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol
from halfstep.search import Chain, Costs, Lazy, best_loop

LOW, HIGH = 28, 55
"""E1 to G3, as MIDI numbers."""

Notes = tuple[int, ...]
"""MIDI numbers, lowest first."""


class Lead(Enum):
    """How a note leads into a root."""

    HALF_STEP = auto()
    WHOLE_STEP = auto()
    FIFTH = auto()
    TONE = auto()


LEADS = (
    *[Lead.HALF_STEP] * 8,
    *[Lead.WHOLE_STEP] * 4,
    *[Lead.FIFTH] * 4,
    *[Lead.TONE] * 3,
)
"""Half steps are two in five: one in five from below and one in six from above were counted."""

_LEAPS_OF_LEADS = {
    Lead.HALF_STEP: {1, -1},
    Lead.WHOLE_STEP: {2, -2},
    Lead.FIFTH: {5, -7},
    Lead.TONE: {3, -3, 4, -4, 5, -5, 6, -6, 7, -7, 8, -8, 9, -9},
}

_NEVER = 1000.0
_RELUCTANTLY = 60.0
_WHIM = 1.2  # the size of the seeded part of a note's cost
_HEIGHT = 5.0  # semitones from the wanted height that cost 1
_LEAP_COSTS = (4.0, 0.3, 0.0, 0.5, 0.7, 0.9, 3.5, 1.2, 2.6, 2.8, 4.5, 6.0, 2.0)
_SKIP_COSTS = (0.0, 0.4, 0.3, 0.8, 0.9, 1.2, 4.0, 1.5, 4.0, 4.0, 5.0, 6.0, 0.3)
_PEDAL_COSTS = (0.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 0.8)
_INSTEAD = 2.5  # of another tone for the fifth
_WIDE_COST = 7.0
_PULL = 8.0  # of the height where the line turns
_PULLS = {Duty.OCTAVE: 0.0, Duty.SKIP: 0.2}
_LOW_TURNS, _HIGH_TURNS = (28, 31), (52, 55)


class BassStep(Enum):
    """What a step from place to place asks, where it is not a way into a root."""

    MOVE = auto()
    REPEATING = auto()
    STAY = auto()
    OCTAVE = auto()
    SKIP = auto()
    PEDAL = auto()


def bass_line(
    line_places: Sequence[BassPlace],
    *,
    turns: Sequence[Fraction],
    repeating: bool,
    random: Random,
) -> list[int]:
    """The smoothest loop of notes through the places, as MIDI numbers.

    Parameters
    ----------
    line_places : sequence of BassPlace
    turns : sequence of Fraction
        Where the line goes up that went down, or down that went up.
    repeating : bool
        A note may be struck again, as in a groove; a walking bass moves.
    random : Random
    """
    if not line_places:
        return []
    dealer: Dealer[Lead] = Dealer(random)
    leads = [dealer.deal("", LEADS) if p.duty is Duty.LEAD else None for p in line_places]
    heights = _Heights.drawn(turns, random)
    drawn = zip(*heights.over(line_places), strict=True)
    layers = [
        _weighed(place, lead, height, pull, random)
        for place, lead, (height, pull) in zip(line_places, leads, drawn, strict=True)
    ]
    steps = [
        lead or _step(place, after, repeating=repeating)
        for place, after, lead in zip(
            line_places, [*line_places[1:], line_places[0]], leads, strict=True
        )
    ]
    line = best_loop(_loop(layers, steps, _watched(line_places)))
    return [notes[state] for (notes, _), state in zip(layers, line, strict=True)]


Layer = tuple[Notes, Costs]
"""The notes a place may have, and what speaks against each."""


def _loop(
    layers: Sequence[Layer], steps: Sequence[BassStep | Lead], watched: Sequence[bool]
) -> Chain:
    """The chain of the places and, behind the last, the first one again."""
    count = len(layers)
    first = layers[0][0], np.zeros(len(layers[0][0]))
    closed = [*layers, first]

    def twos(place: int) -> Costs | None:
        if not place:
            return None
        return _between(steps[place - 1], closed[place - 1][0], closed[place][0])

    def threes(place: int) -> Costs | None:
        if not watched[place]:
            return None
        return _turns(closed[place - 2][0], closed[place - 1][0], closed[place][0])

    ones = [costs for _, costs in closed]
    return Chain(ones, Lazy(count + 1, twos), Lazy(count + 1, threes))


_SHORTEST_LOOP = 4  # a shorter one can only be two notes in turns


def _watched(line_places: Sequence[BassPlace]) -> list[bool]:
    """Where the note before last may not come again: of two places running one at least.

    A root about another note is left free where it can be. The second place from the start
    cannot be watched, since what lies before it is chosen last.
    """
    count = len(line_places)
    watched = [False] * (count + 1)
    if count < _SHORTEST_LOOP:
        return watched
    roots = [_root_of(place) for place in (*line_places, *line_places[:2])]
    returns = [old is not None and old == new for old, new in zip(roots, roots[2:], strict=False)]
    for place in range(2, count + 1):
        must = not watched[place - 1] or place == count
        watched[place] = must or (returns[place - 1] and not returns[place - 2])
    return watched


def _root_of(place: BassPlace) -> int | None:
    """Pitch class of a place that has no choice of it."""
    if place.duty is Duty.COMING:
        return place.coming
    return lowest(place.symbol) if place.duty in {Duty.ROOT, Duty.PEDAL} else None


@lru_cache(maxsize=4096)
def _turns(old: Notes, middle: Notes, new: Notes) -> Costs:
    """What it costs to come back to the note before last."""
    one, two, three = np.ix_(old, middle, new)
    return np.where((one == three) & (two != three), _RELUCTANTLY, 0.0)


@lru_cache(maxsize=4096)
def _between(step: BassStep | Lead, old: Notes, new: Notes) -> Costs:
    """The cost of each step from the notes of one place to those of the next."""
    return _table(step)[np.ix_([midi - LOW for midi in old], [midi - LOW for midi in new])]


@lru_cache(maxsize=16)
def _table(step: BassStep | Lead) -> Costs:
    """The cost of a step between any two notes of the range."""
    size = range(HIGH - LOW + 1)
    return np.array([[_step_cost(step, new - old) for new in size] for old in size])


def _step_cost(step: BassStep | Lead, leap: int) -> float:
    if isinstance(step, Lead):
        wrong = _RELUCTANTLY if abs(leap) > 1 else 2 * _RELUCTANTLY
        return 0.05 * abs(leap) if leap in _LEAPS_OF_LEADS[step] else wrong
    if step is BassStep.STAY:
        return abs(leap) * _RELUCTANTLY
    if step is BassStep.OCTAVE:
        return 0.0 if abs(leap) == 12 else 3.0
    costs = {BassStep.SKIP: _SKIP_COSTS, BassStep.PEDAL: _PEDAL_COSTS}.get(step, _LEAP_COSTS)
    if step is BassStep.REPEATING and leap == 0:
        return 0.4
    return costs[abs(leap)] if abs(leap) < len(costs) else _WIDE_COST + 0.3 * abs(leap)


def _step(place: BassPlace, after: BassPlace, *, repeating: bool) -> BassStep:
    if place.duty is Duty.COMING or after.duty is Duty.GHOST:
        return BassStep.STAY
    if after.duty is Duty.OCTAVE:
        return BassStep.OCTAVE
    if after.duty is Duty.SKIP:
        return BassStep.SKIP
    if Duty.PEDAL in {place.duty, after.duty} and lowest(place.symbol) == lowest(after.symbol):
        return BassStep.PEDAL
    return BassStep.REPEATING if repeating else BassStep.MOVE


@dataclass(frozen=True, slots=True)
class _Heights:
    """The height that a line wanders to: low and high in turns, straight between.

    Attributes
    ----------
    beats, midi : array, shape (n,)
    """

    beats: Costs
    midi: Costs

    @classmethod
    def drawn(cls, turns: Sequence[Fraction], random: Random) -> _Heights:
        """Low and high in turns, each a little other than the last."""
        is_low = random.random() < 0.5
        midi = [
            random.randint(*(_LOW_TURNS if n % 2 == is_low else _HIGH_TURNS))
            for n in range(len(turns))
        ]
        return cls(np.array([float(turn) for turn in turns]), np.array(midi, dtype=float))

    def over(self, line_places: Sequence[BassPlace]) -> tuple[list[float], list[float]]:
        """The height wanted of each place, and how strongly it draws.

        It draws most where the line turns, on the first note that has a choice.
        """
        onsets = [float(place.onset) for place in line_places]
        midi = [float(height) for height in np.interp(onsets, self.beats, self.midi)]
        pulls = [_PULLS.get(place.duty, 1.0) for place in line_places]
        free = [n for n, place in enumerate(line_places) if place.duty in _FREE]
        after = np.searchsorted([onsets[n] for n in free], self.beats)
        for n, height in zip(after, self.midi, strict=True):
            if n < len(free):
                midi[free[n]], pulls[free[n]] = float(height), _PULL
        return midi, pulls


_FREE = {Duty.FIFTH, Duty.TONE, Duty.PASSING}


def _weighed(
    place: BassPlace, lead: Lead | None, height: float, pull: float, random: Random
) -> Layer:
    costs = _tone_costs(place.symbol, place.duty, place.scale, lead, place.coming)
    notes = tuple(midi for midi in range(LOW, HIGH + 1) if midi % 12 in costs)
    return notes, np.array(
        [
            costs[midi % 12] + pull * ((midi - height) / _HEIGHT) ** 2 + _WHIM * random.random()
            for midi in notes
        ]
    )


@lru_cache(maxsize=4096)
def _tone_costs(
    symbol: ChordSymbol, duty: Duty, scale: PitchClasses, lead: Lead | None, coming: int | None
) -> dict[int, float]:
    """The pitch classes a place may have and the cost of each."""
    root, tones = lowest(symbol), tone_classes(symbol)
    if duty in _ROOTS:
        return {root: 0.0}
    if duty is Duty.COMING and coming is not None:
        return {coming: 0.0}
    if lead is not None and coming is not None:
        return _lead_costs(symbol, scale, lead, coming)
    if duty is Duty.FIFTH:
        return dict.fromkeys(tones, _INSTEAD) | dict.fromkeys(fifths(symbol) or {root}, 0.0)
    costs = dict.fromkeys(tones, 0.0) | {root: 0.4}
    if duty is not Duty.TONE:
        costs = dict.fromkeys(scale - forbidden_classes(symbol), 0.5) | costs
    return costs


_ROOTS = {Duty.ROOT, Duty.PEDAL, Duty.OCTAVE}


def _lead_costs(
    symbol: ChordSymbol, scale: PitchClasses, lead: Lead, coming: int
) -> dict[int, float]:
    """The pitch classes that lead into a root in one of the ways."""
    tones = tone_classes(symbol)
    steps = {
        Lead.HALF_STEP: {1, 11}, Lead.WHOLE_STEP: {2, 10}, Lead.FIFTH: {7},
        Lead.TONE: {(tone - coming) % 12 for tone in tones} - {0, 1, 2, 10, 11},
    }  # fmt: skip
    classes = {(coming + step) % 12 for step in steps[lead]} - forbidden_classes(symbol)
    costs = {c: 0.0 if c in tones else 0.2 if c in scale else 0.4 for c in classes}
    return costs or dict.fromkeys(tones, 0.0)


def tone_classes(symbol: ChordSymbol) -> PitchClasses:
    """Pitch classes of a chord's tones, and of its bass."""
    tones = {(symbol.root + degree.interval).pitch_class for degree in chord_degrees(symbol)}
    return frozenset(tones | {lowest(symbol)})


def fifths(symbol: ChordSymbol) -> PitchClasses:
    """Pitch classes of a chord's fifths as it has them; none where it leaves the fifth open."""
    return frozenset(
        (symbol.root + degree.interval).pitch_class
        for degree in chord_degrees(symbol)
        if degree.number == 5
    )


@lru_cache(maxsize=1024)
def forbidden_classes(symbol: ChordSymbol) -> PitchClasses:
    """What argues with a chord: a fifth beside its own, a third in a suspension, 9 in alt."""
    root, steps = symbol.root.pitch_class, set[int]()
    if symbol.alt:
        steps |= {2, 7}
    if any(degree.number == 5 and degree.alteration for degree in chord_degrees(symbol)):
        steps.add(7)
    if symbol.family in _THIRDLESS:
        steps |= {3, 4}
    return frozenset((root + step) % 12 for step in steps) - tone_classes(symbol)


_THIRDLESS = {Family.SUS4, Family.SUS2, Family.POWER}
