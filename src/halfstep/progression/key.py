"""Which key is it? A tonic with a mode, and its signature.

A signature is counted in fifths, sharps positive; both modes of a signature share it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from halfstep.errors import ReadError
from halfstep.pitch import Interval, Name, ascii_signs, name_at, parse_name

_KEY = re.compile(r"([A-Ga-g][b#]?)\s*(m|-|min|minor|maj|major|M)?")
_MINOR_FIFTHS = 3  # a minor key's signature is that of the tonic three fifths down


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic and a mode."""

    tonic: Name
    minor: bool = False

    @property
    def fifths(self) -> int:
        """The signature: sharps positive, flats negative."""
        return self.tonic.fifths - (_MINOR_FIFTHS if self.minor else 0)

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
        """Text for data: ``Eb``, ``F#m``."""
        return self.tonic.ascii + ("m" if self.minor else "")

    def moved(self, interval: Interval) -> Key:
        """The key an interval higher, respelled where it would need over seven accidentals."""
        fifths = self.fifths + interval.fifths
        turn = -12 if fifths > 7 else 12 if fifths < -7 else 0
        return key_of(fifths + turn, minor=self.minor)

    def __str__(self) -> str:
        return f"{self.tonic} {'minor' if self.minor else 'major'}"


def key_of(fifths: int, *, minor: bool = False) -> Key:
    """The key with that signature."""
    return Key(name_at(fifths + (_MINOR_FIFTHS if minor else 0)), minor)


def parse_key(text: str) -> Key:
    """Read a key such as ``Bb``, ``F#m`` or ``C minor``.

    Raises
    ------
    ReadError
        When there is no such key, or none with seven accidentals or fewer.
    """
    found = _KEY.fullmatch(ascii_signs(text.strip()))
    if not found:
        raise ReadError(f"{text!r} is no key; write a tonic such as Bb, or F#m for a minor key")
    key = Key(parse_name(found[1]), found[2] in {"m", "-", "min", "minor"})
    if abs(key.fifths) > 7:
        better = key_of(key.fifths - 12 if key.fifths > 0 else key.fifths + 12, minor=key.minor)
        raise ReadError(f"{key} would need {key.signature}; write it as {better.ascii}")
    return key
