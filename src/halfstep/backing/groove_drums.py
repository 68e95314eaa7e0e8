"""What does a drummer play in even eighths? Grooves on the hi-hat, and metres in eighths.

Where a metre is counted in eighths or shorter every style goes by its groups: the odd ones
are answered. Swung sixteenths are written as even ones; the player's time swings them.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import BEAT, BeatGroup, places
from halfstep.backing.drum_bar import SIXTEENTH, DrumBar
from halfstep.backing.drum_kit import (
    CLOSED_HAT,
    KICK,
    OPEN_HAT,
    PEDAL_HAT,
    SIDE_STICK,
    SNARE,
    Stroke,
)
from halfstep.meter import EIGHTH

_ON, _BETWEEN, _FINE = 94, 86, 80
"""How hard the cymbal is struck: on a beat, on an eighth and on a sixteenth between."""

_SLOW_S = 1.0
"""A quarter that lasts so long is filled with sixteenths."""

_CLAVE = (
    (Fraction(0), Fraction(3, 2), Fraction(3)),
    (Fraction(1), Fraction(5, 2)),
)
"""The stick over two bars of four."""


def even_hats(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """Eighths on the closed hi-hat; sixteenths in very slow time, quarters in very fast."""
    yield from _hats(bar, random, SIXTEENTH if bar.quarter_s >= _SLOW_S else EIGHTH)


def funk_hats(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """Sixteenths where a hand can play them; here and there an eighth rings open."""
    opened = random.choice(bar.eighths) if random.random() < 0.5 else None
    for stroke in _hats(bar, random, SIXTEENTH):
        if stroke.at == opened and stroke.at.denominator == 2:
            yield stroke._replace(key=OPEN_HAT)
        else:
            yield stroke


def _hats(bar: DrumBar, random: Random, step: Fraction) -> Iterator[Stroke]:
    while step < BEAT and not bar.playable(step):
        step *= 2
    left_out = random.choice(bar.grid(step)) if random.random() < 0.3 else None
    for place in bar.grid(step):
        if place != left_out or place.denominator == 1:
            yield Stroke(place, CLOSED_HAT, {1: _ON, 2: _BETWEEN}.get(place.denominator, _FINE))


def stick_answered(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The kick, answered by a side stick in each group."""
    for group in bar.groups:
        yield Stroke(group.start, KICK, 66 if group.index == 0 else 58)
        for beat in places(group.start + BEAT, group.end, BEAT):
            yield Stroke(beat, SIDE_STICK, 72 if beat == group.start + BEAT else 54)
    if random.random() < 0.5:
        yield Stroke(random.choice(bar.groups).end - EIGHTH, KICK, 50)


def clave(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The kick on each group and before the next, a side stick over two bars."""
    for group in bar.groups:
        yield Stroke(group.start, KICK, 64 if group.index == 0 else 58)
        if group.beats > BEAT and random.random() < 0.85:
            yield Stroke(group.end - EIGHTH, KICK, 46)
    for place in _sticks(bar):
        yield Stroke(place, SIDE_STICK, 72)


def _sticks(bar: DrumBar) -> Iterator[Fraction]:
    """The clave in four; in other metres first on and off the groups, then between."""
    if [group.beats for group in bar.groups] == [2, 2]:
        yield from _CLAVE[bar.number % 2]
    elif bar.number % 2:
        yield from (group.start + BEAT for group in bar.groups if group.beats > BEAT)
    else:
        yield from (group.start for group in bar.groups)
        yield bar.groups[0].end - EIGHTH


def funk_backbeat(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The snare before the end of each group, the kick on one and off the beats."""
    yield Stroke(Fraction(0), KICK, 98)
    for group in bar.groups:
        if group.beats > BEAT:
            yield Stroke(group.end - BEAT, SNARE, 104)
    step = SIXTEENTH if bar.playable(SIXTEENTH) else EIGHTH
    pushed = [place for place in bar.grid(step) if place.denominator > 1]
    for _ in range(random.randint(1, 3) if pushed else 0):
        yield Stroke(random.choice(pushed), KICK, 86)


def backbeat(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The kick on each group, the snare before its end."""
    for group in bar.groups:
        yield Stroke(group.start, KICK, 80 if group.index == 0 else 68)
        if group.beats > BEAT:
            yield Stroke(group.end - BEAT, SNARE, 88)
    if random.random() < 0.6:
        yield Stroke(random.choice(bar.groups).end - EIGHTH, KICK, 58)


def counted_cymbal(bar: DrumBar, random: Random, cymbal: int) -> Iterator[Stroke]:
    """Every eighth of a metre that is counted in them; the groups alone where it is too fast."""
    for group in bar.groups:
        yield Stroke(group.start, cymbal, _ON)
        for place in places(group.start + EIGHTH, group.end, EIGHTH):
            if bar.playable(EIGHTH) or (place + EIGHTH == group.end and random.random() < 0.2):
                yield Stroke(place, cymbal, _BETWEEN)
    for group in bar.groups[1::2]:
        yield Stroke(group.start, PEDAL_HAT, 72)


def groups_answered(bar: DrumBar, random: Random, answer: int) -> Iterator[Stroke]:
    """The kick on even groups, the answer on odd ones, at times a kick that leads on."""
    for group in bar.groups:
        yield _weight(group, answer)
        if group.beats > BEAT and random.random() < 0.5:
            yield Stroke(group.end - EIGHTH, KICK, 40)


def _weight(group: BeatGroup, answer: int) -> Stroke:
    if group.index % 2:
        return Stroke(group.start, answer, 74)
    return Stroke(group.start, KICK, 66 if group.index == 0 else 56)
