"""How long are the notes of figures that are carried on? Equal parts of the beat.

Conventions
-----------
- Figures have two notes to the beat; to a beat of three eighths a long one and a short one. A
  beginner has one to the beat where the chord has room for a whole figure.
- Figures of three have three notes to the beat: a triplet in swing, three eighths where those
  make a beat. A beginner, and whoever plays straight eighths, has two short ones and a long
  one over two beats.
- A chord that begins or ends inside a beat has one note for that part of it.
- The note that ends a phrase is held for a beat.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from halfstep.etude.etude_brief import Brief
from halfstep.etude.rhythm_grammar import beats_of, held_last
from halfstep.etude.slots import Piece
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel

_PULSE = Fraction(3, 2)


class PatternRhythm(NamedTuple):
    """The notes of a chord in a bar.

    Attributes
    ----------
    lengths : tuple of Fraction
    counts : tuple of int
        How many of them belong to each figure.
    """

    lengths: tuple[Fraction, ...]
    counts: tuple[int, ...]


def pattern_rhythm(
    piece: Piece, brief: Brief, size: int, *, in_threes: bool, closes: bool
) -> PatternRhythm:
    """The lengths of figures of so many notes over a chord in a bar."""
    parts = list(_threes(piece, brief) if in_threes else _fours(piece, brief, size))
    lengths = [length for part in parts for length in part]
    if closes:
        lengths = held_last(lengths, piece.bar.meter.tempo_beats)
    counts: list[int] = []
    for part in parts:
        left = len(lengths) - sum(counts)
        counts += [min(len(part), left)] if left else []
    return PatternRhythm(tuple(lengths), tuple(counts))


def _beats(piece: Piece) -> Iterator[tuple[Fraction, bool]]:
    """The lengths of the beats that a piece has a part in, and whether it has them whole."""
    for low, high in beats_of(piece.bar.meter):
        start = max(piece.start, piece.bar_start + low)
        end = min(piece.end, piece.bar_start + high)
        if end > start:
            yield end - start, end - start == high - low


def on_beats(piece: Piece) -> list[Fraction]:
    """A note to every beat of a piece."""
    return [beat for beat, _ in _beats(piece)]


def in_eighths(piece: Piece, *, closes: bool) -> list[Fraction]:
    """Two notes to every beat of a piece, whoever plays."""
    lengths = [length for beat, whole in _beats(piece) for length in _two(beat, whole=whole)]
    return held_last(lengths, piece.bar.meter.tempo_beats) if closes else lengths


def _fours(piece: Piece, brief: Brief, size: int) -> Iterator[list[Fraction]]:
    """Two notes to the beat, or one, in groups of so many."""
    beats = list(_beats(piece))
    slow = brief.level is Level.BEGINNER and len(beats) >= size
    lengths = [length for beat, whole in beats for length in _two(beat, whole=whole and not slow)]
    for first in range(0, len(lengths), size):
        yield lengths[first : first + size]


def _two(beat: Fraction, *, whole: bool) -> list[Fraction]:
    """A beat in two: equal ones, or a long and a short one."""
    if not whole or beat < 1:
        return [beat]
    short = EIGHTH if beat in {1, _PULSE} else beat / 2
    return [beat - short, short]


def _threes(piece: Piece, brief: Brief) -> Iterator[list[Fraction]]:
    """Three notes to a beat, or to two of them."""
    swings = brief.feel is Feel.SWING and piece.bar.meter.swings
    triplets = swings and brief.level is not Level.BEGINNER
    beats = list(_beats(piece))
    while beats:
        beat, whole = beats.pop(0)
        if whole and beat == _PULSE:
            yield [EIGHTH] * 3
        elif whole and beat == 1 and triplets:
            yield [Fraction(1, 3)] * 3
        elif whole and beat == 1 and beats and beats[0] == (beat, True):
            beats.pop(0)
            yield [EIGHTH, EIGHTH, Fraction(1)]
        else:
            yield [beat]
