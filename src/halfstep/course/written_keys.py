"""In which order does a player meet the keys? Those that are easy to read and to play first.

A key costs an accidental of its signature each, and something for every two neighbours of its
scale that are hard to alternate on this instrument and at this level, for every note of the
scale that does not lie well, and for those who blow a little for each fifth that it lies from B
flat in concert pitch, where methods for bands begin. Of equal ones flats stand first for those
who blow, and sharps for the others, whose open strings are on that side.

Conventions
-----------
- A key is its tonic as the player reads it, on the cycle of fifths from C: -5 (D flat) to 6 (F
  sharp); a minor key has the same number as the major key on its tonic. It stands for the key
  that sounds so, and is printed with the fewest accidentals, in flats at six.

Source: common practice, no source. What is awkward on an instrument: `halfstep.instruments`.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.pitch import Name, name_at
from halfstep.progression.key import Key, alterations

KEYS = range(-5, 7)
"""The tonics, on the cycle of fifths from C."""
AWKWARD = 0.35
"""What two neighbours that are hard to alternate cost, in accidentals."""
HARD = 0.15
"""What a note costs that does not lie well, in accidentals."""
FAR = 0.2
"""What a fifth away from the key that bands begin in costs, in accidentals."""
_BAND_KEY = -2


def written_key(key: int, *, is_minor: bool = False) -> Key:
    """The key on a tonic as it is printed: with the fewest accidentals, in flats at six.

    >>> str(written_key(-5)), str(written_key(-5, is_minor=True))
    ('D♭ major', 'C♯ minor')
    """
    spellings = (Key(name_at(fifths), minor=is_minor) for fifths in (key - 12, key, key + 12))
    return min(spellings, key=lambda spelled: (abs(spelled.fifths), spelled.fifths))


def signature_place(key: Key) -> int:
    """Where a signature stands among the twelve that sound differently."""
    return key.fifths % 12


def concert_key(key: int, instrument: Instrument, *, is_minor: bool = False) -> Key:
    """The key that sounds where a player reads a key, spelled as `written_key` does.

    >>> from halfstep.instruments import INSTRUMENTS
    >>> str(concert_key(0, INSTRUMENTS["alto-sax"]))
    'E♭ major'
    """
    down = key - instrument.rise.fifths
    return written_key((down + 5) % 12 - 5, is_minor=is_minor)


def key_of_written(tonic: Name) -> int:
    """The number of a key, by its tonic.

    >>> [key_of_written(name_at(fifths)) for fifths in (0, -6, 7)]
    [0, 6, -5]
    """
    return (tonic.fifths + 5) % 12 - 5


@cache
def key_order(instrument: Instrument, level: Level, *, is_minor: bool = False) -> tuple[int, ...]:
    """The twelve keys in the order that a player meets them."""
    side = 1 if instrument.breath else -1

    def cost(key: int) -> tuple[float, int, int]:
        fifths = written_key(key, is_minor=is_minor).fifths
        return key_cost(fifths, instrument, level), abs(fifths), side * fifths

    return tuple(sorted(KEYS, key=cost))


def key_cost(fifths: int, instrument: Instrument, level: Level) -> float:
    """What a signature costs a player: its accidentals, and what lies badly in its scale."""
    compass = instrument.compass(level)
    notes = [n for n in range(compass.low.midi, compass.high.midi + 1) if n % 12 in _scale(fifths)]
    rise = instrument.rise.semitones
    awkward = awkward_pairs(instrument)
    pairs = sum((low - rise, high - rise) in awkward for low, high in pairwise(notes))
    easy = instrument.easy
    hard = sum(not easy.low.midi <= note <= easy.high.midi for note in notes) if easy else 0
    far = abs(fifths - instrument.rise.fifths - _BAND_KEY) if instrument.breath else 0
    return abs(fifths) + AWKWARD * pairs + HARD * hard + FAR * far


def _scale(fifths: int) -> frozenset[int]:
    """The pitch classes of a signature."""
    naturals = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))
    return frozenset((naturals[letter] + sign) % 12 for letter, sign in alterations(fifths).items())
