"""Runs of notes that come again by rhythm and shape, at whatever pitch.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from halfstep.feedback.take_note import TakeNote

Figure = tuple[tuple[int, Fraction], ...]
"""From note to note: semitones, and quarter notes between their places."""


def figures_of(notes: Sequence[TakeNote], size: int) -> list[Figure]:
    """The figure of so many notes that begins at each note, while there are as many.

    Parameters
    ----------
    notes : sequence of TakeNote
    size : int
        Notes of a figure, 2 or more.
    """
    moves = [(b.midi - a.midi, b.place - a.place) for a, b in pairwise(notes)]
    steps = size - 1
    return [tuple(moves[start : start + steps]) for start in range(len(moves) - steps + 1)]


def is_run(figure: Figure) -> bool:
    """True for a piece of scale in one rhythm, or a repeated note: no figure of its own."""
    moves = {move for move, _ in figure}
    return len({gap for _, gap in figure}) == 1 and (moves <= {0, 1, 2} or moves <= {0, -1, -2})
