"""How long are the notes? Cells of rhythm by length and level.

A cell is a few note lengths in beats that fill one, two, three or four beats. Longer
stretches are filled with cells one after another, along the groups of the metre.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.instruments import Level
from halfstep.meter import Meter

_Q, _E, _DQ, _H = Fraction(1), Fraction(1, 2), Fraction(3, 2), Fraction(2)

_PLAIN: dict[Fraction, tuple[tuple[Fraction, ...], ...]] = {
    Fraction(4): (
        (_Q, _Q, _E, _E, _Q),
        (_E, _E, _Q, _E, _E, _Q),
        (_Q, _E, _E, _Q, _Q),
        (_DQ, _E, _Q, _Q),
        (_E, _E, _E, _E, _Q, _Q),
        (_E, _E, _Q, _Q, _Q),
    ),
    Fraction(3): (
        (_Q, _E, _E, _Q),
        (_E, _E, _Q, _Q),
        (_E, _E, _E, _E, _Q),
        (_DQ, _E, _Q),
        (_Q, _Q, _E, _E),
    ),
    Fraction(2): ((_E, _E, _Q), (_Q, _E, _E), (_E, _E, _E, _E), (_DQ, _E)),
    Fraction(1): ((_E, _E), (_Q,)),
    Fraction(3, 2): ((_E, _E, _E), (_Q, _E), (_E, _Q)),
    Fraction(1, 2): ((_E,),),
}
_SYNCOPATED: dict[Fraction, tuple[tuple[Fraction, ...], ...]] = {
    Fraction(4): (
        (_E, _Q, _E, _Q, _Q),
        (_DQ, _E, _E, _E, _Q),
        (_E, _E, _E, _Q, _E, _Q),
        (_Q, _E, _Q, _E, _Q),
        (_E, _Q, _E, _E, _Q, _E),
        (_DQ, _E, _E, _Q, _E),
    ),
    Fraction(3): (
        (_E, _Q, _E, _Q),
        (_DQ, _E, _E, _E),
        (_DQ, _DQ),
        (_E, _E, _Q, _E, _E),
    ),
    Fraction(2): ((_E, _Q, _E),),
}


_TRIES = 50
"""Draws until a rhythm differs; two choices suffice for it to be as good as certain."""


def cells(beats: Fraction, level: Level) -> tuple[tuple[Fraction, ...], ...]:
    """The cells that fill ``beats``, the plain ones first; empty when none does."""
    plain = _PLAIN.get(beats, ())
    return plain if level is Level.BEGINNER else plain + _SYNCOPATED.get(beats, ())


def filled(
    beats: Fraction, level: Level, rng: np.random.Generator, *, not_like: list[Fraction]
) -> list[Fraction]:
    """A drawn rhythm that fills ``beats`` and differs from the one before.

    Parameters
    ----------
    beats : Fraction
    level : Level
    rng : numpy.random.Generator
    not_like : list of Fraction
        The lengths of the rhythm before.
    """
    return _unlike([beats], level, rng, not_like)


def filled_in(
    meter: Meter,
    start: Fraction,
    beats: Fraction,
    level: Level,
    rng: np.random.Generator,
    *,
    not_like: list[Fraction],
) -> list[Fraction]:
    """As `filled`, from a place in a bar; no note crosses a group of a compound or odd bar.

    Parameters
    ----------
    meter : Meter
    start : Fraction
        Beats from the start of the bar.
    beats : Fraction
    level : Level
    rng : numpy.random.Generator
    not_like : list of Fraction
    """
    if meter.bar_beats in _PLAIN and not meter.compound:
        return filled(beats, level, rng, not_like=not_like)
    edges = [start]
    for at in meter.strong_beats:  # shorter than a beat, a group leaves no choice of rhythm
        if at - edges[-1] >= 1 and start + beats - at >= 1:
            edges.append(at)
    edges.append(start + beats)
    return _unlike([high - low for low, high in pairwise(edges)], level, rng, not_like)


def held_last(lengths: Sequence[Fraction], least: Fraction = _Q) -> list[Fraction]:
    """The lengths with the last ones joined to ``least`` beats or more."""
    count = len(lengths)
    while count > 1 and sum(lengths[count - 1 :], Fraction(0)) < least:
        count -= 1
    return [*lengths[: count - 1], sum(lengths[count - 1 :], Fraction(0))]


def _unlike(
    stretches: Sequence[Fraction],
    level: Level,
    rng: np.random.Generator,
    not_like: list[Fraction],
) -> list[Fraction]:
    for _ in range(_TRIES):
        lengths = [length for beats in stretches for length in _drawn(beats, level, rng)]
        if lengths != not_like:
            break
    return lengths


def _drawn(beats: Fraction, level: Level, rng: np.random.Generator) -> list[Fraction]:
    lengths: list[Fraction] = []
    while (left := beats - sum(lengths, Fraction(0))) > 0:
        size = next((size for size in sorted(_PLAIN, reverse=True) if size <= left), None)
        choices = cells(size, level) if size else ((left,),)
        lengths += choices[int(rng.integers(len(choices)))]
    return lengths
