"""How far ahead of the steady clock, or behind it, is a player at each note?

A player alone drifts, and one with a band may. Each note is held against the places of the
beat: most begin on the beat or near its half, wherever exactly that is played. The way of
the player through the take is the likeliest one that moves slowly (Viterbi 1967), so that
one late note moves nothing and a tempo that changes by a few percent is followed.

Conventions
-----------
- A cell is what notes are counted in: a quarter note, an eighth where the metre counts in
  eighths. Positions and leads are in cells; behind the clock is positive.

Source: Viterbi's algorithm, from any handbook; the figures were chosen on made-up takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

PHASES = 48
"""Into so many parts a cell is cut."""
_STEADY = 25.0
"""Nats that it costs to move by a cell within two cells; after a rest it costs less."""
_STEADY_CELLS = 2.0
_BEGIN = 0.12
"""A player begins so near to the clock, mostly, in cells."""
_WIDE_CELLS = 8.0
"""A drift is smoothed over so many cells."""
_FAR = 0.15
"""A note farther than this from its place, in cells, says no more than one so far away."""


@dataclass(frozen=True, slots=True)
class CellTiming:
    """Where in a cell notes begin, as far as it is known before listening.

    Attributes
    ----------
    on_share, off_share : float
        Of all notes: on the cell's beginning, and near its half.
    spread, off_spread : float
        How far they scatter, in cells.
    off_place : float
    """

    on_share: float
    off_share: float
    spread: float
    off_place: float
    off_spread: float

    def log_likelihoods(self) -> Floats:
        """Of each phase of a cell, shape (`PHASES`,)."""
        phases = np.arange(PHASES) / PHASES
        on_cell = self.on_share * _bell(_signed(phases), self.spread)
        off_cell = self.off_share * _bell(_signed(phases - self.off_place), self.off_spread)
        return np.asarray(np.log(on_cell + off_cell + 1 - self.on_share - self.off_share))


def quarter_timing(spread: float) -> CellTiming:
    """Where notes begin in a quarter note, even or swung."""
    return CellTiming(0.5, 0.35, spread, 0.57, max(0.09, spread))


def eighth_timing(spread: float) -> CellTiming:
    """Where notes begin in an eighth that is itself counted."""
    return CellTiming(0.8, 0.08, spread, 0.5, max(0.08, spread))


def player_leads(positions: Floats, timing: CellTiming) -> Floats:
    """How far behind the clock the player is at each note, in cells.

    Parameters
    ----------
    positions : float array, shape (notes,)
        In order, in cells from a place that is counted.
    timing : CellTiming
    """
    if not len(positions):
        return np.zeros(0)
    table = timing.log_likelihoods()
    phases = np.round(positions * PHASES).astype(np.int64)
    fits = table[(phases[:, None] - np.arange(PHASES)[None, :]) % PHASES]
    gaps = np.maximum(1.0, np.diff(positions) / _STEADY_CELLS)
    return _unwrapped(_likeliest(fits, _STEADY / gaps))


def _likeliest(fits: Floats, prices: Floats) -> npt.NDArray[np.int64]:
    """The likeliest phase at each note; a step from one note to the next has its price."""
    apart = _apart()
    score = fits[0] - 0.5 * (apart[0] / _BEGIN) ** 2
    origins = np.zeros(fits.shape, dtype=np.int64)
    for note in range(1, len(fits)):
        ways = score[:, None] - prices[note - 1] * apart
        origins[note] = np.argmax(ways, axis=0)
        score = ways[origins[note], np.arange(PHASES)] + fits[note]
    path = np.zeros(len(fits), dtype=np.int64)
    path[-1] = int(np.argmax(score))
    for note in range(len(fits) - 1, 0, -1):
        path[note - 1] = origins[note, path[note]]
    return path


@lru_cache(maxsize=1)
def _apart() -> Floats:
    """How far two phases lie apart the short way round, in cells."""
    phases = np.arange(PHASES) / PHASES
    return np.abs(_signed(phases[:, None] - phases[None, :]))


def _unwrapped(path: npt.NDArray[np.int64]) -> Floats:
    """Phases as a way without jumps that begins near 0."""
    phases = _signed(path / PHASES)
    steps = _signed(np.diff(phases))
    return np.concatenate([phases[:1], phases[0] + np.cumsum(steps)])


def smooth_leads(positions: Floats, leads: Floats) -> Floats:
    """Leads without the scatter of single notes: straight pieces, each over its neighbourhood.

    Parameters
    ----------
    positions, leads : float array, shape (notes,)
        In cells; the leads as they were at single notes.
    """
    first, last = positions[0], positions[-1]
    knots = np.linspace(first, last, 2 + int((last - first) / _WIDE_CELLS * 2))
    rough = np.asarray([_straight_piece(positions, leads, knot) for knot in knots])
    nearer = np.interp(positions, knots, rough)
    calm = nearer + np.clip(leads - nearer, -_FAR, _FAR)
    lines = np.asarray([_straight_piece(positions, calm, knot) for knot in knots])
    return np.asarray(np.interp(positions, knots, lines))


_PRIOR_SLOPE = 0.01
"""What the tempo of a neighbourhood differs by, mostly: with few notes it is not led astray."""
_NOTE_SPREAD = 0.06


def _straight_piece(positions: Floats, leads: Floats, knot: float) -> float:
    """The value at a knot of the line through the leads around it."""
    away = positions - knot
    weights = np.exp(-0.5 * (away / _WIDE_CELLS) ** 2)
    total = weights.sum()
    middle = float(weights @ away / total)
    mean = float(weights @ leads / total)
    width = float(weights @ (away - middle) ** 2)
    stiff = (_NOTE_SPREAD / _PRIOR_SLOPE) ** 2
    slope = float(weights @ ((away - middle) * (leads - mean))) / (width + stiff)
    return mean - slope * middle


def _signed(phases: Floats) -> Floats:
    """Phases as the nearest way from 0, -0.5 to 0.5."""
    return np.asarray((phases + 0.5) % 1 - 0.5)


def _bell(away: Floats, spread: float) -> Floats:
    return np.asarray(np.exp(-0.5 * (away / spread) ** 2) / (spread * 2.5066))
