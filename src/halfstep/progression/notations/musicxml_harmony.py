"""What does one element of MusicXML say of a chord or a pitch? Its root, its degrees, its bass.

The kinds of chord are `halfstep.progression.kinds`; here are the elements around them.

Source: MusicXML 4.0 (W3C).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from halfstep.pitch import (
    DIMINISHED_SECOND,
    LETTERS,
    NATURAL_SEMITONES,
    UNISON,
    Degree,
    Interval,
    Name,
    Pitch,
    practical,
    practical_pitch,
)
from halfstep.progression.kinds import KindDegree, symbol_of_kind
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_DIATONIC = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Letters of a transposition that states only its semitones."""


@cache
def _decimal() -> re.Pattern[str]:
    return re.compile(r"[+-]?\d{1,12}(?:\.\d{1,6})?")


def symbol_of_harmony(harmony: Element) -> ChordSymbol | None:
    """The chord of a harmony as written; None where it has no root."""
    kind = harmony.find("kind")
    word = (kind.text or "").strip() if kind is not None else ""
    root = name_of(harmony.find("root"), "root-")
    if root is None and word != "none":
        return None
    symbol = symbol_of_kind(
        root or Name(0),
        word,
        tuple(kind_degrees(harmony)),
        bass=name_of(harmony.find("bass"), "bass-"),
        text=kind.get("text") if kind is not None else None,
    )
    if symbol.bass is None and not symbol.silent:
        symbol = inverted(symbol, integer_of(harmony.findtext("inversion")))
    return symbol


@lru_cache(maxsize=1024)
def number_of(text: str | None) -> Fraction | None:
    """A decimal of sane size; None for anything else."""
    plain = (text or "").strip()
    return Fraction(plain) if _decimal().fullmatch(plain) else None


def integer_of(text: str | None, default: int = 0) -> int:
    """A decimal without what stands after its point; the default for anything else."""
    number = number_of(text)
    return default if number is None else int(number)


def transposition_of(transpose: Element) -> Interval:
    """From written to sounding, octaves left out: they do not change a chord."""
    semitones = integer_of(transpose.findtext("chromatic"))
    semitones = max(-48, min(48, semitones))
    sign = -1 if semitones < 0 else 1
    octaves, rest = divmod(abs(semitones), 12)
    guess = sign * (_DIATONIC[rest] + 7 * octaves)
    letters = integer_of(transpose.findtext("diatonic"), guess)
    if abs(letters) > 28 or abs(_natural(letters) - semitones) > 1:
        letters = guess
    return Interval(letters, semitones)


def _natural(letters: int) -> int:
    octaves, letter = divmod(letters, 7)
    return NATURAL_SEMITONES[letter] + 12 * octaves


def name_of(element: Element | None, stem: str) -> Name | None:
    """The note of an element whose children begin with ``stem``; None without one."""
    if element is None:
        return None
    return _named(element.findtext(f"{stem}step"), element.findtext(f"{stem}alter"))


@lru_cache(maxsize=256)
def _named(step_text: str | None, alter_text: str | None) -> Name | None:
    step, alter = (step_text or "").strip().upper(), integer_of(alter_text)
    if len(step) != 1 or step not in LETTERS:
        return None
    name = Name(LETTERS.index(step), max(-14, min(14, alter)))
    return practical(name) if abs(alter) > 2 else name


@lru_cache(maxsize=1024)
def sounding_pitch(
    step: str | None, alter: str | None, octave: str | None, move: Interval
) -> Pitch | None:
    """A written note as it sounds; None for what is no note of nine octaves."""
    name, number = _named(step, alter), number_of(octave)
    if name is None or number is None or not 0 <= number <= 9:
        return None
    pitch = Pitch(name, int(number)) + move
    return practical_pitch(pitch) if abs(pitch.name.alteration) > 2 else pitch


def kind_degrees(harmony: Element) -> Iterator[KindDegree]:
    """The degrees that a harmony adds to its kind, alters or takes away."""
    for degree in harmony.findall("degree")[:16]:
        value = integer_of(degree.findtext("degree-value"))
        how = (degree.findtext("degree-type") or "").strip()
        if 1 <= value <= 13 and how in {"add", "alter", "subtract"}:
            yield KindDegree(value, integer_of(degree.findtext("degree-alter")), how)


def sounding(symbol: ChordSymbol, move: Interval) -> ChordSymbol:
    """A written symbol as it sounds, with signs that can be read."""
    if move == UNISON or symbol.silent:
        return symbol
    moved = symbol.moved(move)
    if max(abs(name.alteration) for name in (moved.root, moved.bass or moved.root)) <= 2:
        return moved
    flip = DIMINISHED_SECOND if moved.root.alteration > 0 else -DIMINISHED_SECOND
    return moved.moved(flip)


def inverted(symbol: ChordSymbol, inversion: int) -> ChordSymbol:
    """An inversion that states no bass: its third, fifth or seventh."""
    if not inversion:
        return symbol
    flat_third = symbol.family in {Family.MINOR, Family.DIMINISHED, Family.HALF_DIMINISHED}
    flat_fifth = symbol.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}
    third = {Family.SUS4: Degree(4), Family.SUS2: Degree(2)}.get(
        symbol.family, Degree(3, -1 if flat_third else 0)
    )
    sharp = symbol.family is Family.AUGMENTED or Degree(5, 1) in symbol.altered
    fifth = Degree(5, -1 if flat_fifth or Degree(5, -1) in symbol.altered else int(sharp))
    seventh = symbol.seventh or (Degree(6) if symbol.sixth else None)
    lowest = {1: third, 2: fifth, 3: seventh}.get(inversion)
    if lowest is None:
        return symbol
    bass = symbol.root + lowest.interval
    inverted = replace(symbol, bass=bass)
    return replace(inverted, typed=inverted.ascii)
