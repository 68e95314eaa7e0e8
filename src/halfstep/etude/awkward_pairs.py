"""Which two notes are hard to go to and fro between? Pairs, by instrument.

`Instrument.awkward` lists them as the player reads them. Any other alternation is free.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations

from halfstep.instruments import Instrument
from halfstep.pitch import parse_pitch

Pairs = frozenset[tuple[int, int]]


def _written(lists: tuple[str, ...]) -> Iterator[tuple[int, int]]:
    """Any two notes of a list."""
    for notes_in_lists in lists:
        for notes in notes_in_lists.split(","):
            yield from combinations([parse_pitch(word).midi for word in notes.split()], 2)


@lru_cache
def awkward_pairs(instrument: Instrument) -> Pairs:
    """Concert MIDI numbers of two notes that are hard to alternate, the lower one first."""
    down = instrument.rise.semitones
    pairs = ((first - down, second - down) for first, second in _written(instrument.awkward))
    return frozenset((min(pair), max(pair)) for pair in pairs)
