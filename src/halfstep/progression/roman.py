"""Which chord does a Roman numeral name in a key? ``ii7``, ``V7``, ``Imaj7``, ``V7/ii``.

Conventions
-----------
- A small numeral is minor, or diminished where ``°`` or ``ø`` follows; what follows the
  numeral is the suffix of a chord symbol.
- A numeral counts the scale of the key: in a minor key III, VI and VII are those of natural
  minor, with a flat before them or without; a sharp raises them.
- ``V7/ii`` is V7 of the key whose tonic is ii, minor where that numeral is small.

Source: common practice, no source.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from halfstep.errors import ReadError

if TYPE_CHECKING:
    from halfstep.pitch import Name
    from halfstep.progression.key import Key

_DEGREES = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}


@cache
def _numeral() -> re.Pattern[str]:
    return re.compile(
        r"""
        (?P<sign> [b♭\#♯]? )
        (?P<numeral> VII | VI | IV | V | III | II | I | vii | vi | iv | v | iii | ii | i )
        (?P<suffix> (?: (?: [\d°øo+△Δ∆(-] | m | M | sus | add | dim | aug | alt ) .*? )? )
        (?: / (?P<of> [b♭\#♯]? (?: VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i ) ) )?
        """,
        re.VERBOSE,
    )


def is_numeral(text: str) -> bool:
    """True where a word begins with a Roman numeral; no chord symbol does.

    >>> is_numeral("bVII7"), is_numeral("iiø7"), is_numeral("bb"), is_numeral("Dm7")
    (True, True, False, False)
    """
    return bool(_numeral().fullmatch(text))


def symbol_text(text: str, key: Key | None) -> str:
    """The chord symbol of a Roman numeral in a key, as it would be typed.

    Parameters
    ----------
    text : str
        Such as ``ii7``, ``bVII7``, ``vii°7``, ``V7/ii``.
    key : Key or None

    Raises
    ------
    ReadError
        Without a key.

    Examples
    --------
    >>> from halfstep.progression.key import parse_key
    >>> [symbol_text(numeral, parse_key("F")) for numeral in ("ii7", "V7/ii", "Imaj7", "bVII7")]
    ['Gm7', 'D7', 'Fmaj7', 'Eb7']
    >>> [symbol_text(numeral, parse_key("Am")) for numeral in ("iiø7", "V7b9", "bVI", "#vii°7")]
    ['Bø7', 'E7b9', 'F', 'G#°7']
    """
    parts = _numeral().fullmatch(text)
    if key is None or parts is None:
        raise ReadError(f"{text!r} is a Roman numeral; state a key, such as key: C", column=1)
    if parts["of"]:
        key = _key_of(parts["of"], key)
    root = _root(parts["sign"], parts["numeral"], key)
    return root.ascii + _minor_sign(parts["numeral"], parts["suffix"]) + parts["suffix"]


def _minor_sign(numeral: str, suffix: str) -> str:
    """The m that a small numeral stands for, where its suffix does not say more."""
    says_more = suffix.startswith(("°", "o", "ø", "dim", "m", "-", "sus"))
    major_seventh = suffix.startswith("maj")
    return "" if numeral.isupper() or (says_more and not major_seventh) else "m"


def _key_of(numeral: str, key: Key) -> Key:
    """The key whose tonic a numeral names."""
    from halfstep.progression.key import Key

    sign, letters = numeral[: numeral[0] in "b♭#♯"], numeral.lstrip("b♭#♯")
    return Key(_root(sign, letters, key), minor=letters.islower())


def _root(sign: str, numeral: str, key: Key) -> Name:
    """A degree of the key's own scale, lowered or raised where a sign says so.

    A flat before a degree that lies low in that key already says what is so.
    """
    from halfstep.pitch import LETTERS, Degree, Name
    from halfstep.progression.key import alterations

    number = _DEGREES[numeral.upper()]
    letter = (key.tonic.letter + number - 1) % len(LETTERS)
    natural = Name(letter, alterations(key.fifths).get(LETTERS[letter], 0))
    in_major = key.tonic + Degree(number).interval
    if sign in {"#", "♯"}:
        return Name(letter, natural.alteration + 1)
    lowers = sign in {"b", "♭"} and natural == in_major
    return Name(letter, natural.alteration - lowers)
