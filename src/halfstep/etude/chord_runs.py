"""Runs: the notes of one chord or part of it, in a shape that the step gives.

The rule of such a step fixes the shape of each run; what is chosen is where each starts
and in which octave, so that the runs join well. A run that cannot start on its root in
the player's range starts on another chord tone, and says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

import numpy as np

from halfstep.etude.palette import Flags
from halfstep.etude.slots import Piece, Slot


class RunShape(NamedTuple):
    """A way through the ladder: steps above the run's base, and what it costs.

    ``base`` is the place in ``offsets`` of the note that should be the root.
    """

    offsets: tuple[int, ...]
    base: int = 0
    cost: float = 0.0


class ChordRun(NamedTuple):
    """Slots of one chord or one bar of it, and the shapes that may fill them.

    ``ladder`` holds the MIDI numbers to run through, in order; ``rest`` marks silence;
    ``turns`` asks for other directions from note to note than the run before has;
    ``rooted`` for the root under the shapes, where they have offset 0.
    """

    slots: tuple[Slot, ...]
    shapes: tuple[RunShape, ...] = ()
    ladder: tuple[int, ...] = ()
    turns: bool = False
    rooted: bool = False

    @property
    def rest(self) -> bool:
        """True where there is no chord."""
        return not self.shapes


def rest_of(piece: Piece) -> ChordRun:
    """Silence for a piece."""
    return ChordRun((Slot(piece.start, piece.beats, None, True, 0),))


def ladder_of(flags: Flags) -> tuple[int, ...]:
    """The flagged MIDI numbers in order."""
    return tuple(int(midi) for midi in np.flatnonzero(flags))


LEFT_OUT = 13.0
"""For each tone that an arpeggio leaves out: more than to build it on any of its tones."""
UP = (0, 1, 2, 3)
DOWN = (3, 2, 1, 0)
UP_AND_DOWN = (0, 1, 2, 3, 2, 1, 0)


def pieces_by_chord(cut: Sequence[Piece]) -> list[tuple[int, list[Piece]]]:
    """The pieces of each chord, with the number of pieces up to its end."""
    groups = [list(group) for _, group in groupby(cut, key=lambda piece: piece.chord)]
    ends = np.cumsum([len(group) for group in groups])
    return list(zip(map(int, ends), groups, strict=True))


def folded_shapes(offsets: Sequence[int]) -> tuple[RunShape, ...]:
    """The shape, and for chords with wide gaps the same turned back lower."""
    shapes = []
    for ceiling in (3, 2, 1):
        wave = zigzag(4, ceiling)
        turned = tuple(wave[offset] for offset in offsets)
        shapes.append(RunShape(turned, offsets.index(min(offsets)), LEFT_OUT * (3 - ceiling)))
    return tuple(shapes)


def zigzag(count: int, peak: int, *, twice: bool = False) -> tuple[int, ...]:
    """Up to ``peak`` and down to 0 again and again; ``twice`` repeats the turning notes.

    >>> zigzag(6, 3), zigzag(6, 2, twice=True)
    ((0, 1, 2, 3, 2, 1), (0, 1, 2, 2, 1, 0))
    """
    up, down = range(peak + 1), range(peak, -1, -1)
    cycle = [*up, *down] if twice else [*up, *list(down)[1:-1]]
    return tuple(cycle[place % len(cycle)] for place in range(count))
