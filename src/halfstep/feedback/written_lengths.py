"""With which lengths are played notes written? So that rests are those that a player means.

Conventions
-----------
- A note lasts to the next one where the silence between them is articulation: less than
  `_ARTICULATION` of a quarter note, or about a quarter of the way to the next note, as when a
  breath is taken. Else it ends on the nearest eighth, or on the nearest part of its own
  triplet or sixteenths.
- Of notes on one place the longest stays.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.line_over_chords import LineNote

_ARTICULATION, _ARTICULATED_SHARE = 0.4, 0.27
_EIGHTH = Fraction(1, 2)

BarEnd = Callable[[Fraction], Fraction]
"""Gives the end of the bar that a place stands in, or is the end of."""


def written_lengths(notes: Sequence[TakeNote], bar_end: BarEnd) -> tuple[LineNote, ...]:
    """Notes on their places, with the lengths that they are written in.

    Parameters
    ----------
    notes : sequence of TakeNote
        In order.
    bar_end : callable
        Where the bar ends in which something stops: what the last note may last to.
    """
    longest: dict[Fraction, TakeNote] = {}
    for note in notes:
        if note.place not in longest or note.beats > longest[note.place].beats:
            longest[note.place] = note
    return tuple(_with_lengths([longest[place] for place in sorted(longest)], bar_end))


def _with_lengths(notes: Sequence[TakeNote], bar_end: BarEnd) -> Iterator[LineNote]:
    for note, following in pairwise(notes):
        yield _with_length(note, following.place, following.sounded - note.sounded)
    if notes:
        last = notes[-1]
        end = bar_end(last.place + _length(last))
        yield _with_length(last, end, float(end) - last.onset)


def _with_length(note: TakeNote, end: Fraction, played: float) -> LineNote:
    """A note as it is written; so many quarter notes after it something else begins."""
    rest = played - note.beats
    to_end = end - note.place
    is_held = rest < max(_ARTICULATION, _ARTICULATED_SHARE * played)
    return LineNote(note.place, to_end if is_held else min(to_end, _length(note)), note.midi)


def _length(note: TakeNote) -> Fraction:
    """The length of a note that is followed by a rest."""
    grid = _grid(note.place)
    first = note.place // grid + 1
    end = max(first, round((float(note.place) + note.beats) / float(grid)))
    return end * grid - note.place


def _grid(place: Fraction) -> Fraction:
    """What the end of a note that begins there is counted in."""
    return min(_EIGHTH, Fraction(1, place.denominator))
