"""What does the bass play? The notes of a block, in the manner of a style.

`bass_places` says when and what is asked, `bass_line` finds the notes, and here they get
their length and strength.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from random import Random

from halfstep.backing.bar_layout import BarLayout, ChordTimeline
from halfstep.backing.bass_line import bass_line
from halfstep.backing.bass_places import BassFigures, BassPlace, Duty, bass_places
from halfstep.backing.chord_scales import PitchClasses
from halfstep.backing.figures import finest_grid
from halfstep.played import PlayedNote, PlayedPart

_RELEASED = Fraction(1, 10)  # of a note's length, so that repeated notes speak
_GHOST_BEATS = Fraction(1, 8)
_ACCENTS = {Duty.ROOT: 4, Duty.COMING: -2, Duty.SKIP: -13, Duty.GHOST: -14}
_SPREAD = 4
_MOST_ATTEMPTS, _BARS_IN_ALL = 24, 1000
_BARS_OF_A_RANGE, _LEAST_RANGE = 12, 18


@dataclass(frozen=True, slots=True)
class BassStyle:
    """What is a style's own in the bass.

    Attributes
    ----------
    program : int
        General MIDI, from 0.
    figures : BassFigures
        When it plays and what each stroke asks.
    velocity : int
        The middle of what is played.
    repeating : bool
        Notes may be struck again, as in a groove; a walking bass moves.
    """

    program: int
    figures: BassFigures
    velocity: int = 84
    repeating: bool = True


def bass_part(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    scales: Sequence[PitchClasses],
    *,
    style: BassStyle,
    random: Random,
    quarter_s: float = 0.5,
) -> PlayedPart:
    """The bass for a block of choruses, no two of them alike.

    Parameters
    ----------
    bars : sequence of BarLayout
    chords : ChordTimeline
    scales : sequence of frozenset of int
        The scale over each of the chords.
    style : BassStyle
    random : Random
    quarter_s : float
        Seconds in a beat: what is too quick for a hand is left out.
    """
    finest = finest_grid(quarter_s)
    for _ in range(attempts_at(bars)):
        line_places = bass_places(
            bars, chords, scales, figures=style.figures, finest=finest, random=random
        )
        notes = _notes(bars, line_places, style, random)
        if choruses_differ(bars, notes) and is_wide(bars, notes):
            break
    return PlayedPart("bass", style.program, False, notes)


def _notes(
    bars: Sequence[BarLayout], line_places: Sequence[BassPlace], style: BassStyle, random: Random
) -> tuple[PlayedNote, ...]:
    turns = list(_turns(bars, random))
    line = bass_line(line_places, turns=turns, repeating=style.repeating, random=random)
    return tuple(
        PlayedNote(place.onset, _length(place), midi, _velocity(place, style, random))
        for place, midi in zip(line_places, line, strict=True)
    )


def _turns(bars: Sequence[BarLayout], random: Random) -> Iterator[Fraction]:
    """Where the line turns: after three or four bars, or as many as hold some notes."""
    turn = bars[0].start
    left = random.randint(1, _MOST_BARS_TO_TURN)
    for bar in bars:
        if left <= 0 and bar.start >= turn + _LEAST_BEATS_TO_TURN:
            turn = bar.start
            yield turn
            left = random.randint(_LEAST_BARS_TO_TURN, _MOST_BARS_TO_TURN)
        left -= 1
    yield bars[-1].end


_LEAST_BARS_TO_TURN, _MOST_BARS_TO_TURN, _LEAST_BEATS_TO_TURN = 3, 4, 8


def _length(place: BassPlace) -> Fraction:
    if place.duty is Duty.GHOST:
        return min(_GHOST_BEATS, place.beats)
    return place.beats * (1 - _RELEASED)


def _velocity(place: BassPlace, style: BassStyle, random: Random) -> int:
    jitter = random.randint(-_SPREAD, _SPREAD) + random.randint(-_SPREAD, _SPREAD)
    return style.velocity + _ACCENTS.get(place.duty, 0) + jitter


def attempts_at(bars: Sequence[BarLayout]) -> int:
    """How often a block may be written until it is as it should: a long one once.

    A few bars may come out alike by chance; a thousand do not, and take their time.
    """
    return max(1, min(_MOST_ATTEMPTS, _BARS_IN_ALL // len(bars)))


def is_wide(bars: Sequence[BarLayout], notes: Sequence[PlayedNote]) -> bool:
    """True where every twelve bars have notes an octave and a half apart."""
    onsets = [note.onset for note in notes]
    for first, last in zip(bars, bars[_BARS_OF_A_RANGE - 1 :], strict=False):
        stretch = notes[bisect_left(onsets, first.start) : bisect_left(onsets, last.end)]
        midi = [note.midi for note in stretch]
        if len(midi) >= _BARS_OF_A_RANGE and max(midi) - min(midi) < _LEAST_RANGE:
            return False
    return True


def choruses_differ(bars: Sequence[BarLayout], notes: Sequence[PlayedNote]) -> bool:
    """True where no chorus has the very notes of another, or none has any."""
    starts = [next(run).start for _, run in groupby(bars, lambda bar: bar.chorus)]
    ends = [*starts[1:], bars[-1].end]
    contents = [
        tuple((n.onset - start, n.midi) for n in notes if start <= n.onset < end)
        for start, end in zip(starts, ends, strict=True)
    ]
    return not any(contents) or len(set(contents)) == len(contents)
