"""What does a Harte label say? ``C:maj7``, ``Bb:min7/b3``, ``C:(b3,b5,b7)``.

A Harte label is a root, a shorthand with degrees added or taken away (``*``), and a bass
given as a degree. Degrees count against the major scale, so that ♭5 stays a fifth.

Conventions
-----------
- ``N`` is no chord; ``X``, a chord that has no label, is read as none with a notice.
- ``11`` and the thirteenths are read as players read the symbols of that name: C11 leaves
  its third out, C13 its eleventh.

Source: C. Harte et al. 2005, Symbolic representation of musical chords, from memory;
checked against mir_eval in the tests.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from functools import cache, lru_cache

from halfstep.errors import ReadError
from halfstep.pitch import Degree, Name, parse_degrees, parse_name, practical
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol, parse_symbol

_SHORTHANDS = {
    "": ("", "1 3 5"),
    "maj": ("", "1 3 5"),
    "min": ("m", "1 b3 5"),
    "dim": ("dim", "1 b3 b5"),
    "aug": ("+", "1 3 #5"),
    "maj7": ("maj7", "1 3 5 7"),
    "min7": ("m7", "1 b3 5 b7"),
    "7": ("7", "1 3 5 b7"),
    "dim7": ("dim7", "1 b3 b5 bb7"),
    "hdim7": ("m7b5", "1 b3 b5 b7"),
    "minmaj7": ("m(maj7)", "1 b3 5 7"),
    "aug7": ("7#5", "1 3 #5 b7"),
    "maj6": ("6", "1 3 5 6"),
    "min6": ("m6", "1 b3 5 6"),
    "9": ("9", "1 3 5 b7 9"),
    "maj9": ("maj9", "1 3 5 7 9"),
    "min9": ("m9", "1 b3 5 b7 9"),
    "11": ("11", "1 3 5 b7 9 11"),
    "maj11": ("maj11", "1 3 5 7 9 11"),
    "min11": ("m11", "1 b3 5 b7 9 11"),
    "13": ("13", "1 3 5 b7 9 13"),
    "maj13": ("maj13", "1 3 5 7 9 13"),
    "min13": ("m13", "1 b3 5 b7 9 13"),
    "sus2": ("sus2", "1 2 5"),
    "sus4": ("sus4", "1 4 5"),
    "5": ("5", "1 5"),
    "1": ("no3no5", "1"),
}
"""Each shorthand with what follows the root in our symbol, and its degrees."""

_DEGREE = r"(?:b{0,3}|\#{0,3})(?:1[0-3]|[1-9])"


@cache
def _label_parts() -> re.Pattern[str]:
    return re.compile(
        rf"""
        (?P<root>[A-G](?:b{{0,6}}|\#{{0,6}}))
        (?: : (?P<shorthand>[a-z]*\d*) )?
        (?: \( \s* (?P<degrees>\*?{_DEGREE}(?:\s*,\s*\*?{_DEGREE})*) \s* \) )?
        (?: / (?P<bass>{_DEGREE}) )?
        """,
        re.VERBOSE,
    )


_BY_SEMITONES = parse_degrees("1 b9 9 b3 3 11 #11 5 b13 6 b7 7")
_KNOWN = set(parse_degrees("1 b2 2 #2 b3 3 4 #4 b5 5 #5 b6 6 bb7 b7 7 b9 9 #9 11 #11 b13 13"))
_THIRD, _FLAT_THIRD = Degree(3), Degree(3, -1)
_DIMINISHED_SEVENTH = Degree(7, -2)
_GIVEN_AS = "write it like C:maj7, Bb:min7/b3 or C:(b3,b5,b7)"


@lru_cache(maxsize=4096)
def parse_harte(label: str) -> ChordSymbol:
    """Read one Harte label.

    Parameters
    ----------
    label : str
        Such as ``C:maj7``, ``Bb:min7/b3``, ``C:(b3,b5,b7)``, ``N``.

    Raises
    ------
    ReadError

    Examples
    --------
    >>> [str(parse_harte(label)) for label in ("Bb:min7/b3", "C:hdim7", "C:(b3,b5,b7)")]
    ['B♭m7/D♭', 'Cø7', 'Cø7']
    """
    if label in {"N", "X"}:
        notices = ("X, a chord without a label, is read as no chord",) if label == "X" else ()
        return ChordSymbol("N.C.", Name(0), Family.SILENT, notices=notices)
    parts = _label_parts().fullmatch(label) if len(label) <= 80 else None
    if not parts or (parts["shorthand"] or "") not in _SHORTHANDS:
        raise ReadError(f"{label[:40]!r} is no Harte label; {_GIVEN_AS}", column=1)
    root = _writable(parse_name(parts["root"]))
    symbol = parse_symbol(root.ascii + _suffix(parts["shorthand"], parts["degrees"]))
    bass = _bass(root, parts["bass"])
    symbol = replace(symbol, bass=bass)
    return replace(symbol, typed=symbol.ascii)


def _writable(name: Name) -> Name:
    """A name of at most two signs."""
    return practical(name) if abs(name.alteration) > 2 else name


def _bass(root: Name, degree: str | None) -> Name | None:
    if not degree:
        return None
    bass = _writable(root + parse_degrees(degree)[0].interval)
    return None if bass == root else bass


def _suffix(shorthand: str | None, edits: str | None) -> str:
    """What follows the root; a label of degrees alone names all but the root."""
    if not edits:
        return _SHORTHANDS[shorthand or ""][0]
    degrees = {Degree(1)}
    if shorthand:
        degrees |= set(parse_degrees(_SHORTHANDS[shorthand][1]))
    for edit in edits.split(","):
        degree = parse_degrees(edit.strip().lstrip("*"))[0]
        if "*" in edit:
            degrees = {other for other in degrees if other.semitones != degree.semitones}
        else:
            degrees.add(degree)
    return suffix_of_degrees(degrees)


def suffix_of_degrees(degrees: Iterable[Degree]) -> str:
    """The text that follows the root of a chord with these degrees.

    >>> suffix_of_degrees(parse_degrees("1 b3 b5 b7")), suffix_of_degrees(parse_degrees("1 4"))
    ('m(7)(b5)', 'sus4no5')
    """
    left = {_plain(degree) for degree in degrees}
    words = ("" if _taken(left, Degree(1)) else "no1") + _frame(left)
    words += _stack(left) + _fifths(left)
    return words + "".join(map(_tension, sorted(left)))


def _plain(degree: Degree) -> Degree:
    """The degree as a symbol names it: within the octave up to 7, or a tension."""
    if degree.number in {8, 10, 12}:
        degree = degree.simple
    return degree if degree in _KNOWN else _BY_SEMITONES[degree.semitones]


def _taken(left: set[Degree], degree: Degree) -> bool:
    """True when the degree was there; it has been said and is taken out."""
    if degree not in left:
        return False
    left.remove(degree)
    return True


def _frame(left: set[Degree]) -> str:
    """What the third says; of two thirds the minor one sounds as a raised ninth."""
    if _taken(left, _THIRD):
        if _taken(left, _FLAT_THIRD):
            left.add(Degree(9, 1))
        return ""
    if _taken(left, _FLAT_THIRD):
        others = {Degree(5), Degree(7), Degree(7, -1)}
        if {_DIMINISHED_SEVENTH, Degree(5, -1)} <= left and not others & left:
            left -= {_DIMINISHED_SEVENTH, Degree(5, -1)}
            left.add(Degree(5))
            return "dim7"
        return "m"
    for suspended in (4, 2):
        if _taken(left, Degree(suspended)):
            return f"sus{suspended}"
    return "5" if Degree(5) in left else "no3"


def _stack(left: set[Degree]) -> str:
    """The seventh or the sixth; a sixth under a seventh is a thirteenth."""
    if _taken(left, _DIMINISHED_SEVENTH):
        left.add(Degree(6))
    seventh = "(7)" if _taken(left, Degree(7, -1)) else ""
    if not seventh and _taken(left, Degree(7)):
        seventh = "(maj7)"
    if seventh:
        if _taken(left, Degree(6)):
            left.add(Degree(13))
        return seventh
    return "(6)" if _taken(left, Degree(6)) else ""


def _fifths(left: set[Degree]) -> str:
    """Nothing for a perfect fifth, beside which a flat or sharp one is a tension."""
    if _taken(left, Degree(5)):
        for altered, tension in ((Degree(5, -1), Degree(11, 1)), (Degree(5, 1), Degree(13, -1))):
            if _taken(left, altered):
                left.add(tension)
        return ""
    altered_fifths = [d for d in (Degree(5, -1), Degree(5, 1)) if _taken(left, d)]
    return "".join(f"({d.ascii})" for d in altered_fifths) or "no5"


def _tension(degree: Degree) -> str:
    number = {2: 9, 4: 11, 6: 13}.get(degree.number, degree.number)
    tension = Degree(number, degree.alteration)
    return f"({tension.ascii})" if tension.alteration else f"(add{number})"
