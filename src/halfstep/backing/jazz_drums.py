"""What does a drummer play who swings? The ride, the hi-hat, a feathered kick; brushes.

Places are those of the plain grid. In a swinging clock the off-beat eighth is the last of
three, and half-way to it lies the middle one: the sixteenths 0, 1 and 2 of a beat are its
triplet.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import BEAT, BeatGroup
from halfstep.backing.drum_bar import SIXTEENTH, DrumBar
from halfstep.backing.drum_kit import (
    CLOSED_HAT,
    KICK,
    PEDAL_HAT,
    RIDE,
    SIDE_STICK,
    SNARE,
    SWIRL,
    Stroke,
)
from halfstep.meter import EIGHTH

_ON, _ANSWERED, _SKIPPED = 96, 100, 89
"""How hard the ride is struck: on a beat, on the answering one, between."""


def ridden(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """Quarters on the ride, most groups with a skip note, the hi-hat on each second beat."""
    yield from _skipping(bar, random, RIDE)
    yield from _second_beats(bar, PEDAL_HAT, 78)


def _skipping(bar: DrumBar, random: Random, cymbal: int) -> Iterator[Stroke]:
    """Quarters on a cymbal, and before the end of a group an eighth that leads on."""
    answered = tuple(group.start + BEAT for group in bar.groups)
    for beat in bar.quarters:
        yield Stroke(beat, cymbal, _ANSWERED if beat in answered else _ON)
    for group in bar.groups:
        if group.beats > BEAT and random.random() < _skip_share(bar):
            yield Stroke(_skip_place(group, random), cymbal, _SKIPPED)


def _skip_share(bar: DrumBar) -> float:
    """How often there is a skip note; above 260 beats a minute the hand leaves most out."""
    return 0.85 if bar.quarter_s > 60 / 260 else 0.25


def _skip_place(group: BeatGroup, random: Random) -> Fraction:
    """Behind the answering beat; now and then behind the first, in threes behind the third."""
    answered = group.start + BEAT + EIGHTH
    chance = random.random()
    if group.beats > 2 and chance < 0.3:
        return group.end - EIGHTH
    return answered if chance < 0.9 and answered < group.end else group.start + EIGHTH


def _second_beats(bar: DrumBar, key: int, velocity: int) -> Iterator[Stroke]:
    for group in bar.groups:
        if group.beats > BEAT:
            yield Stroke(group.start + BEAT, key, velocity)


def waltzed(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The ride with the hi-hat on two, or on two and three."""
    yield from ridden(bar, random)
    if random.random() < 0.3:
        for group in bar.groups:
            if group.beats > 2:
                yield Stroke(group.start + 2 * BEAT, PEDAL_HAT, 68)


def feathered(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The kick under each quarter, felt more than heard; in fast time under groups alone."""
    starts = tuple(group.start for group in bar.groups)
    for beat in bar.quarters if bar.quarter_s > 60 / 250 else starts:
        if random.random() < 0.92:
            yield Stroke(beat, KICK, 34 if beat in starts else 29)


def brushed(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """Swirls one into another, taps as the ride would have them, the hi-hat between."""
    starts = tuple(group.start for group in bar.groups)
    for place in _swirl_places(bar, starts):
        yield Stroke(place, SWIRL, 60 if place in starts else 52)
    yield from _tapped(bar, random)
    yield from _second_beats(bar, PEDAL_HAT, 56)


def _swirl_places(bar: DrumBar, starts: Sequence[Fraction]) -> Sequence[Fraction]:
    """Where swirls begin that last about half a second: on groups, beats or eighths."""
    if bar.quarter_s < 0.35:
        return starts
    return bar.quarters if bar.quarter_s < 0.9 else bar.eighths


def _tapped(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    for stroke in _skipping(bar, random, SNARE):
        yield stroke._replace(velocity=stroke.velocity - 44)
    if bar.quarter_s > 0.8 and random.random() < 0.4:  # a slow beat has room for its triplet
        yield Stroke(random.choice(bar.quarters) + SIXTEENTH, SNARE, 40)


def heeled(bar: DrumBar, _random: Random) -> Iterator[Stroke]:
    """The kick on each group, softly."""
    for group in bar.groups:
        yield Stroke(group.start, KICK, 36 if group.index == 0 else 31)


def shuffled(bar: DrumBar, _random: Random) -> Iterator[Stroke]:
    """Every swung eighth on the ride, in fast time the quarters; the hi-hat on second beats."""
    between = bar.playable(EIGHTH)
    for place in bar.eighths if between else bar.quarters:
        yield Stroke(place, RIDE, _ON if place.denominator == 1 else _SKIPPED)
    yield from _second_beats(bar, PEDAL_HAT, 78)


def shuffle_backbeat(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The snare on second beats with a ghost before it, the kick on each group and between."""
    for group in bar.groups:
        yield Stroke(group.start, KICK, 82 if group.index == 0 else 74)
        if group.beats > BEAT:
            yield Stroke(group.end - BEAT, SNARE, 94)
            if bar.playable(EIGHTH) and random.random() < 0.7:
                yield Stroke(group.end - BEAT - EIGHTH, SNARE, 34)
    for beat in bar.quarters:
        if random.random() < 0.5:
            yield Stroke(beat, KICK, 52)


def five_beat(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The kick says the groups; in the longer one a stick answers on the “and” of two."""
    yield from feathered(bar, random)
    for group in bar.groups:
        yield Stroke(group.start, KICK, 64 if group.index == 0 else 56)
        if group.beats > 2 and random.random() < 0.75:
            yield Stroke(group.start + BEAT + EIGHTH, SIDE_STICK, 58)


def hatted(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The ride's pattern on the hi-hat, which the foot closes on each second beat."""
    yield from _skipping(bar, random, CLOSED_HAT)
    yield from _second_beats(bar, PEDAL_HAT, 84)


def in_two(bar: DrumBar, random: Random) -> Iterator[Stroke]:
    """The kick on each group, the snare lightly on what follows, at times with a drag."""
    for group in bar.groups:
        yield Stroke(group.start, KICK, 76 if group.index == 0 else 70)
        if group.beats > BEAT:
            yield Stroke(group.start + BEAT, SNARE, 54)
            if random.random() < 0.35:
                yield Stroke(group.start + EIGHTH, SNARE, 32)
