"""Which key is it? A tonic with a mode, and its signature.

A signature is counted in fifths, sharps positive; seven modes share each. Ionian is
major and Aeolian minor; the other five keep their names, in small letters.

Source of the signatures: MusicXML 4.0, mode (W3C), and ABC 2.1, K: (2011).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from halfstep.errors import ReadError
from halfstep.pitch import Interval, Name, name_at, parse_name

_ORDER_OF_SHARPS = "FCGDAEB"
_FIFTHS = {
    "lydian": 1, "major": 0, "mixolydian": -1, "dorian": -2, "minor": -3, "phrygian": -4,
    "locrian": -5,
}  # fmt: skip
"""From the signature of the tonic's major key to that of the mode."""

_WORDS = {word[:3]: word for word in _FIFTHS}
_WORDS |= {"ion": "major", "aeo": "minor", "m": "minor", "-": "minor"}


@cache
def _key_parts() -> re.Pattern[str]:
    return re.compile(
        r"""
        (?P<tonic> [A-Ga-g] [b\#♭♯]? )
        \s*
        (?P<mode>  m | - | M
                 | (?i: maj(?:or)? | min(?:or)? | ion(?:ian)? | dor(?:ian)? | phr(?:ygian)?
                      | lyd(?:ian)? | mix(?:olydian)? | aeo(?:lian)? | loc(?:rian)? )
        )?
        """,
        re.VERBOSE,
    )


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic and a mode.

    Attributes
    ----------
    tonic : Name
    minor : bool
        True where the mode has a minor third.
    mode : str
        ``major``, ``minor`` or a church mode; without one it follows ``minor``, and with
        one ``minor`` follows it.
    """

    tonic: Name
    minor: bool = False
    mode: str = ""

    def __post_init__(self) -> None:
        mode = self.mode or ("minor" if self.minor else "major")
        object.__setattr__(self, "mode", mode)
        object.__setattr__(self, "minor", _FIFTHS[mode] < _FIFTHS["mixolydian"])

    @property
    def fifths(self) -> int:
        """The signature: sharps positive, flats negative."""
        return self.tonic.fifths + _FIFTHS[self.mode]

    @property
    def signature(self) -> str:
        """The signature in words.

        >>> Key(parse_name("Eb")).signature
        '3 flats'
        """
        count = abs(self.fifths)
        if not count:
            return "no sharps or flats"
        return f"{count} {'sharp' if self.fifths > 0 else 'flat'}{'s' if count > 1 else ''}"

    @property
    def ascii(self) -> str:
        """Text for data, which `parse_key` reads back: ``Eb``, ``F#m``, ``D dorian``."""
        plain = {"major": "", "minor": "m"}
        return self.tonic.ascii + plain.get(self.mode, f" {self.mode}")

    @property
    def practical(self) -> Key:
        """The key, or the one that sounds the same where it needs over seven accidentals.

        >>> str(Key(parse_name("G#")).practical)
        'A♭ major'
        """
        turns = -((7 - abs(self.fifths)) // 12)
        back = -12 * turns if self.fifths > 0 else 12 * turns
        return key_of(self.fifths + back, mode=self.mode)

    def moved(self, interval: Interval) -> Key:
        """The key an interval higher, respelled where it would need over seven accidentals."""
        return (self + interval).practical

    def __add__(self, interval: Interval) -> Key:
        """The key an interval higher, spelled as it comes."""
        return Key(self.tonic + interval, mode=self.mode)

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


def key_of(fifths: int, *, minor: bool = False, mode: str = "") -> Key:
    """The key with that signature.

    >>> str(key_of(0, mode="dorian"))
    'D dorian'
    """
    mode = mode or ("minor" if minor else "major")
    return Key(name_at(fifths - _FIFTHS[mode]), mode=mode)


def mode_of(word: str) -> str:
    """The mode a word means, told by its first three letters; empty for none.

    >>> mode_of("Ionian"), mode_of("Mix"), mode_of("")
    ('major', 'mixolydian', '')
    """
    return _WORDS.get(word.strip().lower()[:3], "")


def alterations(fifths: int) -> dict[str, int]:
    """The alteration that a signature gives to each letter.

    >>> {letter: n for letter, n in alterations(-2).items() if n}
    {'E': -1, 'B': -1}
    """
    return {letter: (fifths + 6 - n) // 7 for n, letter in enumerate(_ORDER_OF_SHARPS)}


def parse_key(text: str) -> Key:
    """Read a key such as ``Bb``, ``F#m``, ``C minor``, ``D dorian`` or ``Ddor``.

    Raises
    ------
    ReadError
        When there is no such key, or none with seven accidentals or fewer.
    """
    parts = _key_parts().fullmatch(text.strip())
    if not parts:
        raise ReadError(f"{text!r} is no key; write a tonic such as Bb, or F#m for a minor key")
    word = parts["mode"] or "M"
    key = Key(parse_name(parts["tonic"]), mode="major" if word == "M" else mode_of(word))
    if abs(key.fifths) > 7:
        raise ReadError(f"{key} would need {key.signature}; write it as {key.practical.ascii}")
    return key
