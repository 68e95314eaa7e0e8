"""A run: the notes of one chord or part of it, in a shape that the step gives."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from halfstep.etude.frame import Flags, Palette, Piece, Slot, is_strong
from halfstep.etude.parts import Brief, EtudeNote, Notice
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.emissions import weight_at


@dataclass(frozen=True, slots=True)
class Shape:
    """A way through the ladder: steps above the run's base, and what it costs.

    ``base`` is the place in ``offsets`` of the note that should be the root.
    """

    offsets: tuple[int, ...]
    base: int = 0
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class Run:
    """Slots of one chord or one bar of it, and the shapes that may fill them.

    ``ladder`` holds the MIDI numbers to run through, in order; ``rest`` marks silence;
    ``turns`` asks for other directions from note to note than the run before has;
    ``rooted`` for the root under the shapes, where they have offset 0.
    """

    slots: tuple[Slot, ...]
    shapes: tuple[Shape, ...] = ()
    ladder: tuple[int, ...] = ()
    turns: bool = False
    rooted: bool = False

    @property
    def rest(self) -> bool:
        """True where there is no chord."""
        return not self.shapes


RunLayout = Callable[
    [Sequence[Piece], Sequence[Palette | None], set[int], Brief, np.random.Generator], list[Run]
]
"""Makes the runs of a whole etude from its pieces, palettes and the bars that end phrases."""

NoticesOf = Callable[[Analysis, Brief, Sequence[EtudeNote]], tuple[Notice, ...]]
"""Says what the teacher should know of the notes of a step."""


def slots_of(
    piece: Piece,
    start: Fraction,
    lengths: Sequence[Fraction],
    here: Palette | None,
    entry: int,
) -> tuple[Slot, ...]:
    """Slots of those lengths from a place in a piece."""
    slots = []
    onset = start
    for length in lengths:
        strong = is_strong(piece, onset, first=entry == 0)
        weight = weight_at(piece.bar.meter, float(onset - piece.bar_start))
        slots.append(Slot(onset, length, here, strong, entry, weight=weight))
        onset += length
        entry += 1
    return tuple(slots)


def times_before(cut: Sequence[Piece], found: Sequence[Palette | None]) -> list[int]:
    """For each piece how often its chord stood before in the same place of a bar.

    Of a chord that stays, every second bar is counted: up and down are one time.
    """
    counts: Counter[tuple[object, ...]] = Counter()
    times: list[int] = []
    turn = 0
    for number, piece in enumerate(cut):
        here = found[piece.chord]
        turn = turn + 1 if number and cut[number - 1].chord == piece.chord else 0
        key = (here and here.look, piece.start - piece.bar_start, piece.beats, turn % 2)
        times.append(counts[key])
        counts[key] += 1
    return times


def manner(seed: int, place: int, times: int, count: int) -> int:
    """Which of ``count`` ways to take in a place, a phrase or a bar; the plainest is 0.

    Neighbouring seeds seldom take the same one. For ``count`` prime any two below its
    square do so in one place of ``count`` at most, below its cube in two: they differ by a
    polynomial of the place. Of two ways each two of four neighbouring seeds take the same
    one in one place of three, any two of sixteen in half of twelve places: three places
    make a word, and the words differ by a polynomial over the field of four elements. What
    comes again comes otherwise.
    """
    if count == 2:
        block = place // 3 % 4
        word = seed % 4 ^ _product(seed // 4 % 4, block)
        word ^= _product(seed // 16 % 4, _product(block, block))
        return (times + (word > 0 and place % 3 != word - 1)) % 2
    return (seed + times + place * (seed // count) + place**2 * (seed // count**2)) % count


def _product(one: int, other: int) -> int:
    """The product of two elements of the field of four."""
    return (one + other - 2) % 3 + 1 if one and other else 0


def ladder_of(flags: Flags) -> tuple[int, ...]:
    """The flagged MIDI numbers in order."""
    return tuple(int(midi) for midi in np.flatnonzero(flags))


def rest_of(piece: Piece) -> Run:
    """Silence for a piece."""
    return Run((Slot(piece.start, piece.beats, None, True, 0),))
