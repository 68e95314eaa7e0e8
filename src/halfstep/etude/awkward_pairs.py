"""Which two notes are hard to go to and fro between? Pairs of written notes, by instrument.

A pair is here when one finger must slide from key to key, when side or palm keys follow
one another, when the register break lies between, or when a slide or three valves must
move far. Any other alternation is free.

Source: fingering charts and slide positions from memory; what is awkward is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations

from halfstep.instruments import Instrument
from halfstep.pitch import parse_pitch

Pairs = frozenset[tuple[int, int]]
_SAX = (
    "Bb3 B3 C#4 G#4",  # the left little finger's table
    "C4 Eb4",  # the right little finger
    "C5 D5, C#5 D5, C#5 Eb5",  # from an open tube to a closed one
    "Bb4 B4, Bb4 C5, Bb5 B5, Bb5 C6",  # side keys
    "D6 Eb6 E6 F6",  # palm keys
)
_PAIRS = {
    "clarinet": (
        "E3 F3 F#3 G#3, B4 C5 C#5 Eb5",  # the little fingers
        "G#4 A4 Bb4",  # the left first finger and thumb
        "A4 B4, Bb4 B4, A4 C5, Bb4 C5",  # the break
    ),
    "flute": (
        "C4 C#4 Eb4",  # the right little finger
        "C5 D5, C#5 D5, C#5 Eb5",  # from an open tube to a closed one
    ),
    "trumpet": (
        "F#3 G#3, G3 G#3, C#4 Eb4, D4 Eb4, Eb4 E4, G#4 A4, G4 G#4",  # the third valve to and fro
    ),
    "trombone": (
        "E2 A2, E2 Bb2, F2 Bb2, A2 B2, Bb2 B2, A2 C3, Bb2 C3, E3 B2, F3 B2, F3 C3",
        # five positions of the slide or six
    ),
}
"""Written notes, each two of a list a pair. Saxophones share one table."""


def _listed(lists: tuple[str, ...]) -> Iterator[tuple[int, int]]:
    for notes_in_lists in lists:
        for notes in notes_in_lists.split(","):
            yield from combinations([parse_pitch(word).midi for word in notes.split()], 2)


@lru_cache
def awkward_pairs(instrument: Instrument) -> Pairs:
    """Concert MIDI numbers of two notes that are hard to alternate, the lower one first."""
    lists = _SAX if instrument.key.endswith("-sax") else _PAIRS.get(instrument.key, ())
    down = instrument.rise.semitones
    pairs = ((low - down, high - down) for low, high in _listed(lists))
    return frozenset((min(pair), max(pair)) for pair in pairs)
