"""Can notes be struck at once on a guitar? One string each, under one hand.

Conventions
-----------
- Standard tuning in sounding MIDI numbers, the lowest string first; string 6 is the lowest.
- A hand reaches four frets in a row, and open strings wherever it is. Strings between those that
  sound are muted, so they need not lie side by side.

Source: standard tuning E A D G B E; the four frets of a position are common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

TUNING = (40, 45, 50, 55, 59, 64)
POSITION = 4
"""Frets that a hand reaches without moving."""
HIGHEST = 12
MUTED = 3
"""Frets that a hand rather moves up than to mute one string more."""


class Fingering(NamedTuple):
    """Where notes are stopped: strings from 6 to 1 and frets, 0 for an open string."""

    strings: tuple[int, ...]
    frets: tuple[int, ...]


@lru_cache(4096)
def fingering_of(midis: tuple[int, ...]) -> Fingering | None:
    """How notes are stopped, the lowest first, on strings near each other; None where they are not.

    >>> fingering_of((48, 52, 58))  # C E B flat
    Fingering(strings=(5, 4, 3), frets=(3, 2, 3))
    """
    ways = (_fingering(midis, strings) for strings in permutations(range(6), len(midis)))
    fitting = [way for way in ways if way and _lies_in_position(way)]
    return min(fitting, key=_effort, default=None)


def _fingering(midis: tuple[int, ...], places: tuple[int, ...]) -> Fingering | None:
    """The notes on those strings, where higher notes lie on higher strings."""
    frets = tuple(midi - TUNING[place] for midi, place in zip(midis, places, strict=True))
    if list(places) != sorted(places) or min(frets) < 0 or max(frets) > HIGHEST:
        return None
    return Fingering(tuple(6 - place for place in places), frets)


def _lies_in_position(way: Fingering) -> bool:
    stopped = [fret for fret in way.frets if fret]
    return not stopped or max(stopped) - min(stopped) < POSITION


def _effort(way: Fingering) -> int:
    """How high it lies, and how many strings must be muted between those that sound."""
    return max(way.frets) + MUTED * (way.strings[0] - way.strings[-1])
