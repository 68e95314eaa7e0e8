"""How many bars carry one figure on? A short run of notes, told again by rhythm and shape.

Every run of `CELL_NOTES` notes in a row is a cell: the times from note to note, and its shape. It
comes again wherever both do, at any pitch, anywhere in the bar, upside down too; what stands
before and behind it is free, so that a figure may be moved, turned over and drawn out. Where its
rhythm is even, which says little, each step of the shape must be as wide, too, as far as chords
leave it; and the shape must turn, since runs of a scale are no figure.

The motif is the cell that most bars have.

Conventions: places in quarter notes as a player counts, swing taken out; bars that are silent
count neither way, since a figure may be left and brought back.

Source: what varies a motif is common practice, no source; the bounds were chosen on our own
etudes (`tests/feedback/test_motif_bars.py` has the figures).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

CELL_NOTES = 4
_WIDTHS = (0, 1, 1, 2, 2, 3, 3, 3)
"""Classes of intervals by semitones: repeated, a step, a third, a fourth or fifth; then wider."""
_WIDER = 4


class BarNote(NamedTuple):
    """A note in a bar.

    Attributes
    ----------
    bar : int
        Counted on through all passes.
    place : Fraction
        Quarter notes from anywhere.
    midi : int
    """

    bar: int
    place: Fraction
    midi: int


Cell = tuple[tuple[Fraction, ...], tuple[int, ...]]


class MotifBars(NamedTuple):
    """How many of the bars that sound have the figure that most of them have."""

    carried: int
    sounding: int


def motif_bars(notes: Sequence[BarNote]) -> MotifBars:
    """The bars of a line that carry its commonest figure.

    Parameters
    ----------
    notes : sequence of BarNote
        In order.
    """
    sounding = {note.bar for note in notes}
    bars_of_cell: dict[Cell, set[int]] = defaultdict(set)
    for start in range(len(notes) - CELL_NOTES + 1):
        run = notes[start : start + CELL_NOTES]
        for cell in _cells(run):
            bars_of_cell[cell].add(run[0].bar)
    most = max(map(len, bars_of_cell.values()), default=0)
    return MotifBars(most if most > 1 else 0, len(sounding))


def _cells(run: Sequence[BarNote]) -> Iterator[Cell]:
    """What a run of notes is told again by; nothing for one that says too little."""
    times = tuple(later.place - note.place for note, later in pairwise(run))
    moves = [later.midi - note.midi for note, later in pairwise(run)]
    is_even = len(set(times)) == 1
    shape = tuple(map(_width if is_even else _sign, moves))
    turns = len({_sign(move) for move in moves if move}) > 1
    if turns or not is_even:
        yield times, max(shape, tuple(-move for move in shape))


def _sign(move: int) -> int:
    return (move > 0) - (move < 0)


def _width(move: int) -> int:
    """The class of an interval, with its direction."""
    size = abs(move)
    return _sign(move) * (_WIDTHS[size] if size < len(_WIDTHS) else _WIDER)
