"""Which note is it, as spelled?

A note is a letter, an alteration and an octave; the spelling carries meaning.
MIDI number and frequency are derived from it and never the other way round
without a reason.

Conventions
-----------
- `Name` is a note without an octave (E♭), `Pitch` one with (E♭4), `Interval` the
  distance between two of either, counted in letters and in semitones.
- Octaves are those of scientific pitch notation: C4 is middle C, MIDI 60.
- ASCII text writes ``b`` and ``#`` (``Bbb3``, ``F##4``); shown text writes ♭ ♯ 𝄫 𝄪.
- The *line of fifths* … F C G D … numbers every name once: C is 0, G 1, F -1.

Sources: MIDI 1.0 and ISO 16 (A4 = 69 = 440 Hz).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from halfstep.errors import ReadError

LETTERS = "CDEFGAB"
NATURAL_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
"""Semitones above C of each natural letter."""

_LETTER_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
_SHOWN = {-3: "♭𝄫", -2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪", 3: "♯𝄪"}
_SIGNS = {"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "♮": "", "x": "##"}
_NAME = r"([A-Ga-g])([b#]*)"
_PITCH = r"([A-Ga-g])([b#]*)(-?\d)"


def ascii_signs(text: str) -> str:
    """Accidental signs as ASCII.

    >>> ascii_signs("B𝄫 F𝄪 E♭")
    'Bbb F## Eb'
    """
    for sign, plain in _SIGNS.items():
        text = text.replace(sign, plain)
    return text


def shown_alteration(alteration: int) -> str:
    """The sign printed for an alteration in semitones, any size.

    >>> shown_alteration(-1), shown_alteration(2)
    ('♭', '𝄪')
    """
    if alteration in _SHOWN:
        return _SHOWN[alteration]
    sign = _SHOWN[1] if alteration > 0 else _SHOWN[-1]
    return sign * abs(alteration)


@dataclass(frozen=True, slots=True)
class Interval:
    """A directed distance: ``letters`` on the staff, ``semitones`` by ear.

    A minor third up is ``Interval(2, 3)``, a diminished second ``Interval(1, 0)``.
    """

    letters: int
    semitones: int

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.letters + other.letters, self.semitones + other.semitones)

    def __neg__(self) -> Interval:
        return Interval(-self.letters, -self.semitones)

    @property
    def fifths(self) -> int:
        """How far the interval moves a name along the line of fifths."""
        octaves, letter = divmod(self.letters, 7)
        natural = NATURAL_SEMITONES[letter] + 12 * octaves
        return _LETTER_FIFTHS[letter] + 7 * (self.semitones - natural)


UNISON = Interval(0, 0)
OCTAVE = Interval(7, 12)
DIMINISHED_SECOND = Interval(1, 0)
"""The step between two spellings of one sound, such as C♯ up to D♭."""
FIFTH = Interval(4, 7)


def octaves_up(count: int) -> Interval:
    """So many octaves up; down, where negative."""
    return Interval(OCTAVE.letters * count, OCTAVE.semitones * count)


def turn_of(turns: int) -> Interval:
    """Diminished seconds up, which turn a spelling to flats; down, to sharps, where negative."""
    return Interval(DIMINISHED_SECOND.letters * turns, DIMINISHED_SECOND.semitones * turns)


@dataclass(frozen=True, slots=True)
class Name:
    """A spelled note without an octave.

    Attributes
    ----------
    letter : int
        0 for C to 6 for B.
    alteration : int
        Semitones up (sharps) or down (flats) from the natural letter.
    """

    letter: int
    alteration: int = 0

    @property
    def pitch_class(self) -> int:
        """0 for C to 11 for B."""
        return (NATURAL_SEMITONES[self.letter] + self.alteration) % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths; C is 0, G 1, F -1."""
        return _LETTER_FIFTHS[self.letter] + 7 * self.alteration

    @property
    def ascii(self) -> str:
        """Text for data: ``Eb``, ``F##``."""
        sign = "#" if self.alteration > 0 else "b"
        return LETTERS[self.letter] + sign * abs(self.alteration)

    def __add__(self, interval: Interval) -> Name:
        return name_at(self.fifths + interval.fifths)

    def __sub__(self, interval: Interval) -> Name:
        return name_at(self.fifths - interval.fifths)

    def __str__(self) -> str:
        return LETTERS[self.letter] + shown_alteration(self.alteration)


@lru_cache(maxsize=256)
def name_at(fifths: int) -> Name:
    """The name at a place on the line of fifths.

    >>> str(name_at(-3)), str(name_at(8))
    ('E♭', 'G♯')
    """
    letter = (4 * fifths) % 7
    return Name(letter, (fifths - _LETTER_FIFTHS[letter]) // 7)


class Degree(NamedTuple):
    """A note's place in a chord or scale, counted against the major scale of the root.

    The minor seventh is ``Degree(7, -1)``, printed ♭7; 9, 11 and 13 are 2, 4 and 6 an
    octave up.
    """

    number: int
    alteration: int = 0

    @property
    def interval(self) -> Interval:
        """From the root up to the degree."""
        octaves, letter = divmod(self.number - 1, 7)
        semitones = NATURAL_SEMITONES[letter] + 12 * octaves + self.alteration
        return Interval(self.number - 1, semitones)

    @property
    def semitones(self) -> int:
        """Above the root, 0 to 11."""
        return (NATURAL_SEMITONES[(self.number - 1) % 7] + self.alteration) % 12

    @property
    def simple(self) -> Degree:
        """The same note within the octave: 9 becomes 2."""
        return Degree((self.number - 1) % 7 + 1, self.alteration)

    @property
    def ascii(self) -> str:
        """Text for data: ``b7``, ``#11``, ``bb7``."""
        return ("#" if self.alteration > 0 else "b") * abs(self.alteration) + str(self.number)

    def __str__(self) -> str:
        return shown_alteration(self.alteration) + str(self.number)


def parse_degrees(text: str) -> tuple[Degree, ...]:
    """Read a formula such as ``1 b3 5 b7``; for the tables of this project.

    >>> [str(degree) for degree in parse_degrees("1 b3 #11")]
    ['1', '♭3', '♯11']
    """
    matches = (re.fullmatch(r"([b#]*)(\d+)", word) for word in text.split())
    return tuple(Degree(int(f[2]), f[1].count("#") - f[1].count("b")) for f in matches if f)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled note with its octave.

    Attributes
    ----------
    name : Name
    octave : int
        Of the letter: B♯3 and C4 sound alike.
    """

    name: Name
    octave: int

    @property
    def midi(self) -> int:
        """MIDI note number; A4 is 69."""
        return 12 * (self.octave + 1) + NATURAL_SEMITONES[self.name.letter] + self.name.alteration

    @property
    def hz(self) -> float:
        """Frequency in hertz at A4 = 440, equal temperament (ISO 16)."""
        return float(440.0 * 2.0 ** ((self.midi - 69) / 12))

    @property
    def ascii(self) -> str:
        """Text for data: ``Eb4``."""
        return f"{self.name.ascii}{self.octave}"

    @property
    def staff_step(self) -> int:
        """Diatonic steps above C0; one for each line and space."""
        return 7 * self.octave + self.name.letter

    def __add__(self, interval: Interval) -> Pitch:
        name = self.name + interval
        return Pitch(name, (self.staff_step + interval.letters - name.letter) // 7)

    def __sub__(self, interval: Interval) -> Pitch:
        return self + -interval

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


@lru_cache(maxsize=512)
def parse_name(text: str) -> Name:
    """Read a note name such as ``Eb``, ``F#``, ``B𝄫``.

    Raises
    ------
    ReadError
        When the text is not a letter A to G with flats or sharps.
    """
    match = re.fullmatch(_NAME, ascii_signs(text.strip()))
    if not match or len(set(match[2])) > 1:
        raise ReadError(f"{text!r} is no note name; write a letter A to G with b or #, such as Eb")
    return Name(LETTERS.index(match[1].upper()), match[2].count("#") - match[2].count("b"))


def parse_pitch(text: str) -> Pitch:
    """Read a note with its octave such as ``Eb4``.

    Raises
    ------
    ReadError
        When the text is not a note name followed by an octave number.
    """
    match = re.fullmatch(_PITCH, ascii_signs(text.strip()))
    if not match:
        raise ReadError(f"{text!r} is no note with octave; write it like Eb4")
    return Pitch(parse_name(match[1] + match[2]), int(match[3]))


def pitch_near(name: Name, midi: int) -> Pitch:
    """``name`` in the octave whose sound lies nearest to ``midi``."""
    natural = NATURAL_SEMITONES[name.letter] + name.alteration
    return Pitch(name, round((midi - natural) / 12) - 1)


def practical_pitch(pitch: Pitch) -> Pitch:
    """The same sound as a player's part spells it."""
    return pitch_near(practical(pitch.name), pitch.midi)


def practical(name: Name) -> Name:
    """The spelling a player's part uses: no double signs (A for B𝄫).

    >>> str(practical(parse_name("Bbb"))), str(practical(parse_name("Eb")))
    ('A', 'E♭')
    """
    while abs(name.alteration) > 1:
        name = _respelled(name)
    return name


def is_odd(name: Name) -> bool:
    """True for E♯, B♯, F♭, C♭ and for names with two signs: a plainer one is at hand."""
    return name.fifths not in _PLAIN_FIFTHS


def plain(name: Name) -> Name:
    """The spelling that is read at sight: F for E♯, B for C♭, and no double signs.

    >>> str(plain(parse_name("E#"))), str(plain(parse_name("Bbb"))), str(plain(parse_name("Eb")))
    ('F', 'A', 'E♭')
    """
    while is_odd(name):
        name = _respelled(name)
    return name


_PLAIN_FIFTHS = range(-6, 11)
"""The line of fifths from G♭ to A♯."""


def _respelled(name: Name) -> Name:
    """The other name of a sound, with fewer signs or none."""
    return name_at(name.fifths + (12 if name.fifths < 0 else -12))
