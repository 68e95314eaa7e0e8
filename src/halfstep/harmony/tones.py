"""Which notes are in the chord? Spelled tones, each with its degree.

The third of any chord is two letters above its root and the seventh six, whatever
they sound like: C°7 is C E♭ G♭ B𝄫.

Conventions
-----------
- Tones come in the order of their degrees, the bass apart.
- A natural eleventh over a major third leaves the third out, unless it is asked for.
- The altered dominant has three certain tones, 1 3 ♭7; its colours are its scale's.

Source: common practice, no source; checked against music21 and mir_eval in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from halfstep.pitch import Degree, Name, parse_degrees
from halfstep.progression.symbol import ChordSymbol, Family

_FRAMES = {
    Family.MAJOR: parse_degrees("1 3 5"),
    Family.MINOR: parse_degrees("1 b3 5"),
    Family.DIMINISHED: parse_degrees("1 b3 b5"),
    Family.HALF_DIMINISHED: parse_degrees("1 b3 b5"),
    Family.AUGMENTED: parse_degrees("1 3 #5"),
    Family.SUS4: parse_degrees("1 4 5"),
    Family.SUS2: parse_degrees("1 2 5"),
    Family.POWER: parse_degrees("1 5"),
    Family.SILENT: (),
}


@dataclass(frozen=True, slots=True)
class ChordTone:
    """A note of a chord with its place in it."""

    degree: Degree
    name: Name


@lru_cache(maxsize=4096)
def chord_degrees(symbol: ChordSymbol) -> tuple[Degree, ...]:
    """The degrees a symbol stands for, lowest first.

    >>> from halfstep.progression.symbol import parse_symbol
    >>> [str(degree) for degree in chord_degrees(parse_symbol("C13b9"))]
    ['1', '3', '5', '♭7', '♭9', '13']
    """
    if symbol.alt:
        return parse_degrees("1 3 b7")
    degrees = set(_FRAMES[symbol.family])
    if symbol.sixth:
        degrees.add(Degree(6))
    if symbol.seventh:
        degrees.add(symbol.seventh)
    degrees |= {Degree(stacked) for stacked in _stack(symbol)}
    for degree in symbol.altered:
        degrees -= {Degree(degree.number), Degree(degree.number, 0)}
    degrees |= set(symbol.altered)
    degrees |= {_placed(degree, symbol) for degree in symbol.added}
    if Degree(11) in degrees and symbol.extension == 11 and Degree(3) not in symbol.added:
        degrees.discard(Degree(3))
    return tuple(sorted(d for d in degrees if d.number not in symbol.omitted))


def _stack(symbol: ChordSymbol) -> tuple[int, ...]:
    """What a number stacks above the seventh; a thirteenth leaves the eleventh out."""
    return {9: (9,), 11: (9, 11), 13: (9, 13)}.get(symbol.extension, ())


def _placed(degree: Degree, symbol: ChordSymbol) -> Degree:
    """An added eleventh without a seventh is a fourth, as it is played."""
    if degree == Degree(11) and not symbol.extension:
        return Degree(4)
    return degree


@lru_cache(maxsize=4096)
def chord_tones(symbol: ChordSymbol) -> tuple[ChordTone, ...]:
    """Every tone of the chord, spelled, in the order of degrees; empty for ``N.C.``

    >>> from halfstep.progression.symbol import parse_symbol
    >>> " ".join(tone.name.ascii for tone in chord_tones(parse_symbol("Cdim7")))
    'C Eb Gb Bbb'
    """
    return tuple(
        ChordTone(degree, symbol.root + degree.interval) for degree in chord_degrees(symbol)
    )


def core_tones(symbol: ChordSymbol) -> tuple[ChordTone, ...]:
    """The tones of an arpeggio: root, third (or fourth), fifth, sixth or seventh."""
    return tuple(tone for tone in chord_tones(symbol) if tone.degree.number <= 7)
