"""On which place of the beat was each note meant, however it was played?

The notes of a take are dealt out to the cells of the beat, each cell with a rhythm that is
played there: the best dealing is found exactly, from cell to cell. A rhythm is the better the
nearer its places are to the notes and the commoner it is, so that two swung eighths are no
triplet with a hole and four notes are sixteenths wherever they begin. A triplet of quarters
takes two cells.

Conventions
-----------
- A cell is a quarter note, or an eighth where the metre counts in eighths.
- The half of a cell is played where ``half`` says: later than even where eighths swing.

Source: how common a rhythm is, in nats: rounded from the rhythms of a beat in the derived
tables of six transcribed solos (jazzodata repository, commit 0dc98cf, MIT).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations
from math import ceil
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_EARLIEST, _LATEST = -0.34, 1.06
"""A note may lie so far outside of the cell that it is dealt to."""
_MOST = 40
"""Nobody plays so many notes in a cell."""
_COMMON = {
    (): 1.2,
    (Fraction(0),): 1.2,
    (Fraction(1, 2),): 1.8,
    (Fraction(0), Fraction(1, 2)): 0.8,
    (Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)): 2.6,
    (Fraction(0), Fraction(1, 3), Fraction(2, 3)): 2.4,
}
"""Nats of the rhythms that are most played."""
_SIXTEENTHS, _TRIPLETS, _FASTER, _CLUSTER = 3.6, 4.2, 5.0, 8.0
"""Nats of other rhythms: in sixteenths, in triplets, in rows of six and of eight, and of any
number of notes in even parts."""
_LATE_BEGIN = 0.8
"""Nats more where nothing stands on the cell's beginning."""


@lru_cache(maxsize=256)
def _as_float(place: Fraction) -> float:
    return float(place)


class _WideRhythm(NamedTuple):
    """A rhythm that takes two cells: its places in each of them, and its nats."""

    first: tuple[Fraction, ...]
    second: tuple[Fraction, ...]
    nats: float

    @property
    def number(self) -> int:
        """How many notes it has."""
        return len(self.first) + len(self.second)

    def away(self, positions: Sequence[float]) -> float:
        """How far its notes lie from their places, in cells squared; the first cell is at 0."""
        places = (*map(_as_float, self.first), *(1 + _as_float(at) for at in self.second))
        return sum((at - place) ** 2 for at, place in zip(positions, places, strict=True))


_OVER_TWO = (
    _WideRhythm((Fraction(0), Fraction(2, 3)), (Fraction(1, 3),), 4.2),
    _WideRhythm((Fraction(0),), (Fraction(1, 3),), 4.9),
    _WideRhythm((Fraction(2, 3),), (Fraction(1, 3),), 5.4),
)
"""Triplets of quarters, the last two with a note that is held or rests. The tables have too few
to count: common practice, no source."""


class _Rhythms(NamedTuple):
    """All rhythms of so many notes: their places, shape (rhythms, notes), and their nats."""

    places: tuple[tuple[Fraction, ...], ...]
    rows: Floats
    nats: Floats


@dataclass(frozen=True, slots=True)
class PlayedGrid:
    """How a player plays the places of a cell.

    Attributes
    ----------
    half : float
        Where the half of a cell is played, 0 to 1.
    spread : float
        How far notes scatter about their places, in cells.
    in_quarters : bool
        A cell is a quarter note: two of them may hold a triplet.
    """

    half: float
    spread: float
    in_quarters: bool = True

    def played(self, places: Floats) -> Floats:
        """Where in a cell places are played; thirds and sixths are played even."""
        thirds = np.abs((places * 3 + 0.25) % 1 - 0.25) < 1e-6
        bent = np.where(
            places < 0.5,
            2 * places * self.half,
            self.half + (2 * places - 1) * (1 - self.half),
        )
        return np.where(thirds, places, bent)


class _PlayedRhythms(dict[int, _Rhythms]):
    """Rhythms by their number of notes, in units in which a miss squared is its nats."""

    def __init__(self, grid: PlayedGrid) -> None:
        super().__init__()
        self._grid = grid
        self.unit = grid.spread * 2**0.5
        self.over_two = _OVER_TWO if grid.in_quarters else ()
        self.bounds = ((1 + _EARLIEST) / self.unit, _LATEST / self.unit)

    def __missing__(self, number: int) -> _Rhythms:
        rhythms = _rhythms(number)
        self[number] = rhythms._replace(rows=self._grid.played(rhythms.rows) / self.unit)
        return self[number]


class _Dealt(NamedTuple):
    """A cell with its rhythm, after those before it."""

    before: _Dealt | None
    cell: int
    places: tuple[Fraction, ...]


_Reached = dict[int, tuple[float, _Dealt | None]]
"""By how many notes are dealt: the nats of the best dealing, and how it ends."""


class CellPlaces(NamedTuple):
    """Places in a take: the cell of each, and where in it, 0 to 1."""

    cells: list[int]
    inside: list[Fraction]

    def played(self, grid: PlayedGrid) -> Floats:
        """Where they are played, in cells."""
        return np.array(self.cells, dtype=np.float64) + grid.played(self.inside_floats())

    def inside_floats(self) -> Floats:
        """Where in their cells they lie."""
        return np.array([_as_float(place) for place in self.inside])


def nearest_places(positions: Floats, grid: PlayedGrid) -> CellPlaces:
    """The place that each note was meant on, in cells.

    Parameters
    ----------
    positions : float array, shape (notes,)
        In order, in cells, with the player's drift and lag taken out.
    grid : PlayedGrid
    """
    table = _PlayedRhythms(grid)
    count = len(positions)
    reached: _Reached = {0: (0.0, None)}
    wide: _Reached = {}
    cell = 0
    while [*reached] != [count] or wide:
        if len(reached) == 1 and not wide:
            cell = max(cell, ceil(positions[min(reached)] - _LATEST))
        following = _dealt_on(positions, table, reached, cell)
        _keep_best(following, wide)
        wide = _dealt_wide(positions, table, reached, cell)
        reached = following
        cell += 1
    return _unrolled(reached[count][1])


def _dealt_on(positions: Floats, table: _PlayedRhythms, reached: _Reached, cell: int) -> _Reached:
    """The best dealings up to the next cell."""
    following: _Reached = {}
    for dealt, (nats, last) in reached.items():
        for places, cost in _best_rhythms(
            (positions[dealt : dealt + _MOST] - cell) / table.unit, table
        ):
            step = _Dealt(last, cell, places) if places else last
            _keep_best(following, {dealt + len(places): (nats + cost, step)})
    return following


def _keep_best(reached: _Reached, others: _Reached) -> None:
    """The better of two dealings of so many notes."""
    for number, dealing in others.items():
        if number not in reached or dealing[0] < reached[number][0]:
            reached[number] = dealing


def _dealt_wide(positions: Floats, table: _PlayedRhythms, reached: _Reached, cell: int) -> _Reached:
    """The best dealings up to the cell after the next, with a rhythm that takes two."""
    following: _Reached = {}
    within = range(*positions.searchsorted((cell + _EARLIEST, cell + 2 + _EARLIEST)))
    for dealt in reached.keys() & {within.start, within.stop - 2, within.stop - 3}:
        for rhythm in table.over_two:
            if dealt >= within.start and dealt + rhythm.number == within.stop:
                nats, last = reached[dealt]
                step = _Dealt(_Dealt(last, cell, rhythm.first), cell + 1, rhythm.second)
                away = rhythm.away((positions[dealt : within.stop] - cell).tolist())
                nats += rhythm.nats + away / table.unit**2
                _keep_best(following, {within.stop: (nats, step)})
    return following


def _best_rhythms(
    away: Floats, table: _PlayedRhythms
) -> Iterator[tuple[tuple[Fraction, ...], float]]:
    """For each number of notes that a cell may take, the best rhythm and its nats.

    Parameters
    ----------
    away : float array
        The notes that are left, from the beginning of the cell, in spreads.
    """
    least, most = away.searchsorted(table.bounds)
    for number in range(least, most + 1):
        places, rows, prices = table[number]
        misses = away[:number] - rows
        nats = prices + np.einsum("ij,ij->i", misses, misses)
        best = nats.argmin()
        yield places[best], nats[best]


def _unrolled(last: _Dealt | None) -> CellPlaces:
    """The places of a dealing, from its end."""
    dealt = []
    while last:
        dealt.append(last)
        last = last.before
    dealt.reverse()
    return CellPlaces(
        [rhythm.cell for rhythm in dealt for _ in rhythm.places],
        [place for rhythm in dealt for place in rhythm.places],
    )


@lru_cache(maxsize=32)
def _rhythms(number: int) -> _Rhythms:
    """All rhythms of so many notes in a cell."""
    nats: dict[tuple[Fraction, ...], float] = {}
    for places, cost in _priced(number):
        nats[places] = min(cost, nats.get(places, cost))
    rows = np.array([[float(place) for place in places] for places in nats])
    return _Rhythms(tuple(nats), rows.reshape(len(nats), number), np.array([*nats.values()]))


def _priced(number: int) -> Iterator[tuple[tuple[Fraction, ...], float]]:
    for parts, cost in ((4, _SIXTEENTHS), (3, _TRIPLETS)):
        for places in combinations(range(parts), number):
            yield _of_parts(places, parts, cost)
    for parts in (6, 8):
        for first in range(parts - number + 1):
            yield _of_parts(range(first, first + number), parts, _FASTER + 0.5 * (parts == 8))
    yield _of_parts(range(number), max(1, number), _CLUSTER)


def _of_parts(places: Sequence[int], parts: int, cost: float) -> tuple[tuple[Fraction, ...], float]:
    """A rhythm in so many even parts of a cell."""
    rhythm = tuple(Fraction(place, parts) for place in places)
    late = _LATE_BEGIN * (not rhythm or rhythm[0] != 0)
    return rhythm, _COMMON.get(rhythm, cost + late)
