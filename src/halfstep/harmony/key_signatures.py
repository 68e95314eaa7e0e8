"""Which key signatures fit a whole chorus, with few changes and few accidentals?

A chord costs the notes of its scale that its signature does not give; a change of
signature costs as much as `CHANGE` of them, since a player must think at it. The cheapest
path through the fifteen signatures is found exactly.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

from halfstep.harmony.scales import Scale
from halfstep.pitch import Name
from halfstep.progression.key import Key, alterations, key_of

CHANGE = 4
"""Accidentals that are as much trouble as one change of signature."""
_SIGNATURES = range(-7, 8)


class Signature(NamedTuple):
    """A key signature and the chords it serves.

    Attributes
    ----------
    fifths : int
        Sharps positive, flats negative.
    first, last : int
        Places of the first and last chord in the analysis.
    """

    fifths: int
    first: int
    last: int

    @property
    def key(self) -> Key:
        """The major key that has it."""
        return key_of(self.fifths)


def fitting_signatures(scales: Sequence[Scale | None], *, home: int) -> tuple[Signature, ...]:
    """Runs of chords under one signature: the least of accidentals and changes together.

    Parameters
    ----------
    scales : sequence of Scale or None
        The scale of each chord; None where it is silent.
    home : int
        The signature of the home key, which wins between equal ones.
    """
    order = sorted(_SIGNATURES, key=lambda fifths: abs(fifths - home))
    best = {fifths: int(fifths != home) for fifths in order}
    came_from: list[dict[int, int]] = []
    for scale in scales:
        cheapest = min(order, key=best.__getitem__)
        limit = best[cheapest] + CHANGE
        sources = {fifths: fifths if best[fifths] <= limit else cheapest for fifths in order}
        costs = _accidentals(scale.names) if scale else dict.fromkeys(order, 0)
        best = {f: min(best[f], limit) + costs[f] for f in order}
        came_from.append(sources)
    return tuple(_runs(_path(came_from, min(order, key=best.__getitem__))))


def _path(came_from: Sequence[dict[int, int]], last: int) -> list[int]:
    path = [last]
    for sources in reversed(came_from[1:]):
        path.append(sources[path[-1]])
    return path[::-1]


@lru_cache(maxsize=1024)
def _accidentals(names: tuple[Name, ...]) -> dict[int, int]:
    """How many of the notes each signature does not give."""
    signs_of = {fifths: alterations(fifths) for fifths in _SIGNATURES}
    return {
        fifths: sum(name.alteration != signs["CDEFGAB"[name.letter]] for name in names)
        for fifths, signs in signs_of.items()
    }


def _runs(path: Sequence[int]) -> Iterator[Signature]:
    for fifths, run in groupby(enumerate(path), lambda at: at[1]):
        places = [place for place, _ in run]
        yield Signature(fifths, places[0], places[-1])
