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

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from halfstep.etude.etude_brief import Brief
from halfstep.etude.rhythm_grammar import beats_of, held_last
from halfstep.etude.slots import Piece
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel, Meter

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
    at, meter = piece.start - piece.bar_start, piece.bar.meter
    is_beginner, swings = brief.level is Level.BEGINNER, brief.feel is Feel.SWING and meter.swings
    beats = _beats(meter, at, piece.beats)
    if in_threes:
        return _rhythm_of(_threes(beats, triplets=swings and not is_beginner), meter, closes)
    return _rhythm_of(_fours(beats, size, is_slow=is_beginner), meter, closes)


Parts = tuple[tuple[Fraction, ...], ...]
"""The lengths of the notes of each figure."""


@lru_cache(512)
def _rhythm_of(parts: Parts, meter: Meter, closes: bool) -> PatternRhythm:
    lengths = [length for part in parts for length in part]
    if closes:
        lengths = held_last(lengths, meter.tempo_beats)
    counts: list[int] = []
    for part in parts:
        left = len(lengths) - sum(counts)
        counts += [min(len(part), left)] if left else []
    return PatternRhythm(tuple(lengths), tuple(counts))


class _PartOfBeat(NamedTuple):
    """What of a beat a chord has."""

    length: Fraction
    whole: bool


_Beats = tuple[_PartOfBeat, ...]


@lru_cache(512)
def _beats(meter: Meter, at: Fraction, length: Fraction) -> _Beats:
    """The beats that a chord has a part in, from a place in its bar on."""
    parts = ((max(at, low), min(at + length, high), high - low) for low, high in beats_of(meter))
    return tuple(
        _PartOfBeat(end - start, end - start == beat) for start, end, beat in parts if end > start
    )


def _beats_of_piece(piece: Piece) -> _Beats:
    return _beats(piece.bar.meter, piece.start - piece.bar_start, piece.beats)


def on_beats(piece: Piece) -> list[Fraction]:
    """A note to every beat of a piece."""
    return [beat.length for beat in _beats_of_piece(piece)]


def in_eighths(piece: Piece, *, closes: bool) -> list[Fraction]:
    """Two notes to every beat of a piece, whoever plays."""
    lengths = [length for beat in _beats_of_piece(piece) for length in _two(beat)]
    return held_last(lengths, piece.bar.meter.tempo_beats) if closes else lengths


@lru_cache(512)
def _fours(beats: _Beats, size: int, *, is_slow: bool) -> Parts:
    """Two notes to the beat, or one where there is room for a whole figure so."""
    if is_slow and len(beats) >= size:
        lengths = [beat.length for beat in beats]
    else:
        lengths = [length for beat in beats for length in _two(beat)]
    return tuple(tuple(lengths[n : n + size]) for n in range(0, len(lengths), size))


def _two(beat: _PartOfBeat) -> list[Fraction]:
    """A beat in two: equal ones, or a long and a short one."""
    length = beat.length
    if not beat.whole or length < 1:
        return [length]
    short = EIGHTH if length in {1, _PULSE} else length / 2
    return [length - short, short]


@lru_cache(512)
def _threes(beats: _Beats, *, triplets: bool) -> Parts:
    """Three notes to a beat, or to two of them."""
    parts: list[tuple[Fraction, ...]] = []
    left = list(beats)
    while left:
        beat = left.pop(0)
        if beat == (_PULSE, True):
            parts.append((EIGHTH,) * 3)
        elif beat == (Fraction(1), True) and triplets:
            parts.append((Fraction(1, 3),) * 3)
        elif beat == (Fraction(1), True) and left and left[0] == beat:
            left.pop(0)
            parts.append((EIGHTH, EIGHTH, Fraction(1)))
        else:
            parts.append((beat.length,))
    return tuple(parts)
