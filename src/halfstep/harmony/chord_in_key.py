"""What is a chord to a key? Its place over the tonic, its kind, and its roman numeral.

Conventions
-----------
- Places are semitones from the tonic up to the chord's root, 0 to 11, however spelled;
  a numeral follows the spelling.
- ``N.C.`` is neither tonic nor dominant and falls nowhere.

Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.pitch import Degree, Name, name_at, shown_alteration
from halfstep.progression.key import Key
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

_MINOR_SEVENTH = Degree(7, -1)
_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
_DOMINANT_FRAMES = (Family.MAJOR, Family.SUS4)
_MINOR_FRAMES = (Family.MINOR, Family.HALF_DIMINISHED, Family.DIMINISHED)


def degree_in(symbol: ChordSymbol, key: Key) -> int:
    """Semitones from the tonic up to the chord's root, 0 to 11."""
    return (symbol.root.pitch_class - key.tonic.pitch_class) % 12


def is_dominant(symbol: ChordSymbol) -> bool:
    """True for a chord with a major third (or fourth) and a minor seventh."""
    return symbol.family in _DOMINANT_FRAMES and symbol.seventh == _MINOR_SEVENTH


def is_minor(symbol: ChordSymbol) -> bool:
    """True for a chord with a minor third."""
    return symbol.family in _MINOR_FRAMES


def falls_a_fifth(symbol: ChordSymbol, following: ChordSymbol) -> bool:
    """True when the next root lies a perfect fifth below, however spelled."""
    if symbol.silent or following.silent:
        return False
    return (following.root.pitch_class - symbol.root.pitch_class) % 12 == 5


def can_be_tonic(symbol: ChordSymbol, *, minor: bool) -> bool:
    """True for a chord on which a key of that mode can rest; a dominant seventh is none."""
    if minor:
        return symbol.family is Family.MINOR
    return symbol.family is Family.MAJOR and not is_dominant(symbol)


def is_tonic(symbol: ChordSymbol, key: Key) -> bool:
    """True for the key's own chord; in Mixolydian it may have its minor seventh, or a fourth."""
    if degree_in(symbol, key) != 0:
        return False
    if key.mode == "mixolydian":
        return symbol.family in _DOMINANT_FRAMES and symbol.seventh in {None, _MINOR_SEVENTH}
    return can_be_tonic(symbol, minor=key.minor)


def rests_as_seventh(symbol: ChordSymbol, following: ChordSymbol, key: Key) -> bool:
    """True for a dominant seventh on a major tonic that does not fall a fifth."""
    on_one = is_dominant(symbol) and degree_in(symbol, key) == 0 and not key.minor
    return on_one and not falls_a_fifth(symbol, following)


def numeral_of(root: Name, key: Key, *, raised: bool = False) -> str:
    """The degree the root is spelled as; one past ♭V or ♯IV is named by its sound.

    Parameters
    ----------
    root : Name
    key : Key
    raised : bool
        True for a chord that leads up from its root, such as ♯I°7: it may lie as far as ♯VI.

    >>> from halfstep.progression.key import parse_key
    >>> numeral_of(Name(4, 1), parse_key("C")), numeral_of(Name(4, 1), parse_key("C"), raised=True)
    ('♭VI', '♯V')
    """
    away = root.fifths - key.tonic.fifths
    if not -6 <= away <= (10 if raised else 6):
        away = (away + 5) % 12 - 5
    degree = name_at(away)
    return shown_alteration(degree.alteration) + _ROMAN[degree.letter]


def numeral(symbol: ChordSymbol, key: Key) -> str:
    """The chord's roman numeral in the key, small for a minor third.

    >>> from halfstep.progression.key import parse_key
    >>> from halfstep.progression.symbol import parse_symbol
    >>> numeral(parse_symbol("Dm7"), parse_key("C"))
    'ii7'
    """
    if symbol.silent:
        return "N.C."
    leads_up = symbol.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}
    text = numeral_of(symbol.root, key, raised=leads_up)
    if is_minor(symbol):
        text = text.lower()
    quality = "" if symbol.family is Family.MINOR else symbol.quality_text
    return text + quality + symbol.extension_text
