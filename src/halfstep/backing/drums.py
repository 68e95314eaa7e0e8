"""What do the drums play? Time, from the groups of each bar, and a set-up for phrases.

Each style has a pattern for a bar of quarters, `ridden` or `stick_answered`, and a cymbal
for metres in eighths, which are played group by group. Where no chord sounds only the time
goes on, softer.

Source: General MIDI for the keys of the drums; the patterns are common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import (
    BEAT,
    BarLayout,
    BeatGroup,
    ChordTimeline,
    group_lengths,
    places,
)
from halfstep.meter import EIGHTH, Meter
from halfstep.played import PlayedNote, PlayedPart

KICK, SIDE_STICK, SNARE, CLOSED_HAT, PEDAL_HAT, CRASH, RIDE = 36, 37, 38, 42, 44, 49, 51
HIGH_BLOCK = 76

_TIME = {CLOSED_HAT, PEDAL_HAT, RIDE}
_PHRASE_BARS = 4
_STROKE = Fraction(1, 4)

Hit = tuple[Fraction, int, int]
"""Onset in beats, key, velocity."""


@dataclass(frozen=True, slots=True)
class DrumStyle:
    """What is a style's own in the drums.

    Attributes
    ----------
    pattern : callable
        The strokes of a bar that is counted in quarters or longer.
    cymbal : int
        What plays every eighth where the metre is counted in them.
    """

    pattern: Callable[[BarLayout, Random], Iterator[Hit]]
    cymbal: int


def drums_part(
    bars: Sequence[BarLayout], chords: ChordTimeline, *, style: DrumStyle, random: Random
) -> PlayedPart:
    """The drums for one chorus."""
    hits: dict[tuple[Fraction, int], int] = {}
    for bar in bars:
        for onset, key, velocity in _bar_hits(bar, style, random, last=bar is bars[-1]):
            if chords.at(onset).symbol.silent:
                if key not in _TIME:
                    continue
                velocity = velocity * 3 // 4
            hits[onset, key] = max(velocity, hits.get((onset, key), 0))
    return _part(sorted((onset, key, velocity) for (onset, key), velocity in hits.items()))


def _part(hits: Sequence[Hit]) -> PlayedPart:
    """Strokes as notes, each no longer than to the next stroke on the same drum."""
    notes = []
    following: dict[int, Fraction] = {}
    for onset, key, velocity in reversed(hits):
        room = following.get(key, onset + BEAT) - onset
        notes.append(PlayedNote(onset, min(_STROKE, room), key, velocity))
        following[key] = onset
    return PlayedPart("drums", 0, True, tuple(reversed(notes)))


def _bar_hits(bar: BarLayout, style: DrumStyle, random: Random, *, last: bool) -> Iterator[Hit]:
    """One bar of time, with a set-up where a phrase ends."""
    in_eighths = bar.meter.unit > 4
    hits = _in_eighths(bar, style.cymbal) if in_eighths else style.pattern(bar, random)
    yield from (hit for hit in hits if hit[0] < bar.end)
    if last or bar.index % _PHRASE_BARS == _PHRASE_BARS - 1:
        yield from _set_up(bar, full=last or bar.index % (2 * _PHRASE_BARS) == 7)


def ridden(bar: BarLayout, random: Random) -> Iterator[Hit]:
    """Quarters on the ride cymbal, the hi-hat on the second beat of each group."""
    for beat in places(bar.start, bar.end, BEAT):
        yield beat, RIDE, 108
        yield beat, KICK, 36
    for group in bar.groups:
        if group.beats > BEAT:
            yield group.start + BEAT, PEDAL_HAT, 80
            yield group.start + BEAT, RIDE, 118
            yield group.end - EIGHTH, RIDE, 94
    if random.random() < 0.4:
        yield random.choice(bar.groups).start + 3 * EIGHTH, SNARE, 32


def stick_answered(bar: BarLayout, random: Random) -> Iterator[Hit]:
    """Eighths on the closed hi-hat, the kick answered by a side stick in each group."""
    for n, eighth in enumerate(bar.eighths):
        yield eighth, CLOSED_HAT, 76 if n % 2 else 98
    for group in bar.groups:
        yield group.start, KICK, 66 if group.index == 0 else 58
        for beat in places(group.start + BEAT, group.end, BEAT):
            yield beat, SIDE_STICK, 72 if beat == group.start + BEAT else 54
    if random.random() < 0.5:
        yield bar.groups[0].end - EIGHTH, KICK, 50


def _in_eighths(bar: BarLayout, cymbal: int) -> Iterator[Hit]:
    """Metres counted in eighths or shorter: group by group, the odd ones answered."""
    for group in bar.groups:
        for n, eighth in enumerate(places(group.start, group.end, EIGHTH)):
            yield eighth, cymbal, 104 if n == 0 else 80
        yield from _answered(group)


def _answered(group: BeatGroup) -> Iterator[Hit]:
    if group.index % 2:
        yield group.start, SIDE_STICK, 70
        yield group.start, PEDAL_HAT, 76
    else:
        yield group.start, KICK, 66 if group.index == 0 else 56
    if group.beats > BEAT:
        yield group.end - EIGHTH, KICK, 38


def _set_up(bar: BarLayout, *, full: bool) -> Iterator[Hit]:
    """Strokes on the snare that lead over the bar line."""
    steps = 3 if full else 1
    for n in range(steps, 0, -1):
        onset = bar.end - n * EIGHTH
        if onset > bar.start:
            yield onset, SNARE, 46 - 5 * (n - 1)


def count_in_hits(meter: Meter) -> Iterator[Hit]:
    """One bar of clicks before beat 0: every pulse, groups heavier, the downbeat double."""
    start = -meter.bar_beats
    heavy = {start + sum(group_lengths(meter)[:n]) for n in range(len(group_lengths(meter)))}
    yield start, HIGH_BLOCK, 80
    for pulse in places(start, Fraction(0), meter.pulse_beats):
        yield pulse, SIDE_STICK, 116 if pulse == start else 104 if pulse in heavy else 92
