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

from functools import lru_cache
from typing import NamedTuple

from halfstep.pitch import Degree, Name, name_at, parse_degrees
from halfstep.progression.quality import ChordQuality, Family
from halfstep.progression.symbol import ChordSymbol

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


class ChordTone(NamedTuple):
    """A note of a chord with its place in it."""

    degree: Degree
    name: Name


class _RootTones(dict[int, ChordTone]):
    """The tones on one root, each made when it is first asked for by its key."""

    def __init__(self, root: Name) -> None:
        super().__init__()
        self.root_fifths = root.fifths

    def __missing__(self, key: int) -> ChordTone:
        degree, fifths = _degree_at(key)
        tone = self[key] = ChordTone(degree, name_at(self.root_fifths + fifths))
        return tone


_FLATTEST, _WIDTH = 8, 16
"""A degree's key is a whole number, which is found faster than the degree."""


@lru_cache(maxsize=256)
def _degree_at(key: int) -> tuple[Degree, int]:
    """The degree of a key, and how far it lies along the line of fifths."""
    number, alteration = divmod(key + _FLATTEST, _WIDTH)
    degree = Degree(number, alteration - _FLATTEST)
    return degree, degree.interval.fifths


@lru_cache(maxsize=128)
def _row(root: Name) -> _RootTones:
    return _RootTones(root)


@lru_cache(maxsize=1024)
def _keys(quality: ChordQuality) -> tuple[int, ...]:
    return tuple(_WIDTH * degree.number + degree.alteration for degree in _degrees(quality))


def chord_degrees(symbol: ChordSymbol) -> tuple[Degree, ...]:
    """The degrees a symbol stands for, lowest first.

    >>> from halfstep.progression.symbol import parse_symbol
    >>> [str(degree) for degree in chord_degrees(parse_symbol("C13b9"))]
    ['1', '3', '5', '♭7', '♭9', '13']
    """
    return _degrees(symbol.quality)


def chord_steps(symbol: ChordSymbol) -> frozenset[int]:
    """The tones of a chord in semitones over its root, 0 to 11."""
    return _steps(symbol.quality)


@lru_cache(maxsize=1024)
def _steps(quality: ChordQuality) -> frozenset[int]:
    return frozenset(degree.semitones for degree in _degrees(quality))


# a book of charts has few qualities on many roots
@lru_cache(maxsize=1024)
def _degrees(quality: ChordQuality) -> tuple[Degree, ...]:
    if quality.alt:
        return parse_degrees("1 3 b7")
    degrees = set(_FRAMES[quality.family])
    if quality.sixth:
        degrees.add(Degree(6))
    if quality.seventh:
        degrees.add(quality.seventh)
    degrees |= {Degree(stacked) for stacked in _stack(quality)}
    for degree in quality.altered:
        degrees -= {Degree(degree.number), Degree(degree.number, 0)}
    degrees |= set(quality.altered)
    degrees |= {_placed(degree, quality) for degree in quality.added}
    if Degree(11) in degrees and quality.extension == 11 and Degree(3) not in quality.added:
        degrees.discard(Degree(3))
    return tuple(sorted(d for d in degrees if d.number not in quality.omitted))


def _stack(quality: ChordQuality) -> tuple[int, ...]:
    """What a number stacks above the seventh; a thirteenth leaves the eleventh out."""
    return {9: (9,), 11: (9, 11), 13: (9, 13)}.get(quality.extension, ())


def _placed(degree: Degree, quality: ChordQuality) -> Degree:
    """An added eleventh without a seventh is a fourth, as it is played."""
    if degree == Degree(11) and not quality.extension:
        return Degree(4)
    return degree


def chord_tones(symbol: ChordSymbol) -> tuple[ChordTone, ...]:
    """Every tone of the chord, spelled, in the order of degrees; empty for ``N.C.``

    >>> from halfstep.progression.symbol import parse_symbol
    >>> " ".join(tone.name.ascii for tone in chord_tones(parse_symbol("Cdim7")))
    'C Eb Gb Bbb'
    """
    row = _row(symbol.root)
    return tuple([row[key] for key in _keys(symbol.quality)])


def core_tones(symbol: ChordSymbol) -> tuple[ChordTone, ...]:
    """The tones of an arpeggio: root, third (or fourth), fifth, sixth or seventh."""
    return tuple(tone for tone in chord_tones(symbol) if tone.degree.number <= 7)
