"""How far ahead of the steady clock, or behind it, is a player at each note?

A player alone drifts, and one with a band may. Each note is held against the places of the
beat: most begin on the beat or near its half, wherever exactly that is played. The way of
the player through the take is the likeliest one of straight pieces, each of which costs by
how much its tempo differs, so that one late note moves nothing and a tempo that changes by
a few percent is followed.

Conventions
-----------
- A cell is what notes are counted in: a quarter note, an eighth where the metre counts in
  eighths. Positions and leads are in cells; behind the clock is positive.

Source: the search is Viterbi's algorithm, from any handbook; the figures were chosen on
made-up takes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

PHASES = 48
"""Into so many parts a cell is cut."""
_PIECE = 8.0
"""The way is made of straight pieces of so many cells."""
_TEMPI = np.arange(-24, 25, 3)
"""By how many phases the player may fall behind in a piece: up to 6 % of the tempo."""
_TURN, _HURRY, _HURRY_BESIDE_BAND = 0.35, 0.05, 0.2
"""Nats that a phase costs: by which a piece goes slower than the one before, and than the clock,
of a player alone and of one with a band."""
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
    on_share, off_share, between_share : float
        Of all notes: on the cell's beginning, near its half, and on the quarters between.
    spread, off_spread : float
        How far they scatter, in cells.
    off_place : float
    """

    on_share: float
    off_share: float
    spread: float
    off_place: float
    off_spread: float
    between_share: float = 0.0

    def log_likelihoods(self) -> Floats:
        """Of each phase of a cell, shape (`PHASES`,)."""
        phases = np.arange(PHASES) / PHASES
        on_cell = self.on_share * _bell(_signed(phases), self.spread)
        off_cell = self.off_share * _bell(_signed(phases - self.off_place), self.off_spread)
        between = self.between_share * _bell(_signed(2 * phases - 0.5), 2 * self.spread)
        rest = 1 - self.on_share - self.off_share - self.between_share
        return np.asarray(np.log(on_cell + off_cell + between + rest))


def quarter_timing(spread: float) -> CellTiming:
    """Where notes begin in a quarter note, even or swung."""
    return CellTiming(0.46, 0.32, spread, 0.57, max(0.09, spread), 0.1)


def eighth_timing(spread: float) -> CellTiming:
    """Where notes begin in an eighth that is itself counted."""
    return CellTiming(0.8, 0.08, spread, 0.5, max(0.08, spread))


def player_leads(positions: Floats, timing: CellTiming, *, has_backing: bool) -> Floats:
    """How far behind the clock the player is at each note, in cells.

    Parameters
    ----------
    positions : float array, shape (notes,)
        In order, in cells from a place that is counted.
    timing : CellTiming
    has_backing : bool
        A band holds the player to the clock.
    """
    if not len(positions):
        return np.zeros(0)
    first = positions[0]
    pieces = ((positions - first) // _PIECE).astype(np.int64)
    note_fits = _note_fits(positions, (positions - first) % _PIECE, timing)
    fits = np.zeros((pieces[-1] + 1, len(_TEMPI), PHASES))
    filled, starts = np.unique(pieces, return_index=True)
    fits[filled] = np.add.reduceat(note_fits, starts, axis=0)
    phases = np.arange(PHASES) / PHASES
    begin = -0.5 * (_signed(phases) / _BEGIN) ** 2
    hurry = _HURRY_BESIDE_BAND if has_backing else _HURRY
    knots = _likeliest_way(fits, begin, hurry) / PHASES
    return np.asarray(np.interp(positions, first + _PIECE * np.arange(len(knots)), knots))


def _note_fits(positions: Floats, into: Floats, timing: CellTiming) -> Floats:
    """How well each note fits each tempo and each phase at the beginning of its piece.

    Parameters
    ----------
    positions, into : float array, shape (notes,)
        In cells, and how far into its piece each note lies.

    Returns
    -------
    float array, shape (notes, tempi, phases)
    """
    phases = positions[:, None] * PHASES - into[:, None] / _PIECE * _TEMPI[None, :]
    steps = np.round(phases).astype(np.int64)[:, :, None] - np.arange(PHASES)
    return np.asarray(timing.log_likelihoods()[steps % PHASES])


def _likeliest_way(fits: Floats, begin: Floats, hurry: float) -> Floats:
    """Where the likeliest way stands at the ends of its pieces, in phases.

    Parameters
    ----------
    fits : float array, shape (pieces, tempi, phases)
        By the phase at the beginning of the piece.
    begin : float array, shape (phases,)
        How likely each phase is at first.
    hurry : float
        Nats for each phase by which a piece goes slower or faster than the clock.
    """
    turns = _TURN * np.abs(_TEMPI[:, None] - _TEMPI[None, :])
    after = (np.arange(PHASES)[None, :] - _TEMPI[:, None]) % PHASES
    score = np.broadcast_to(begin, fits.shape[1:])
    origins = np.zeros(fits.shape, dtype=np.int64)
    for piece, fit in enumerate(fits):
        if piece:
            scores = score[:, None, :] - turns[:, :, None]
            origins[piece] = scores.argmax(axis=0)
            score = scores.max(axis=0)
        ended = score + fit - hurry * np.abs(_TEMPI)[:, None]
        score = np.take_along_axis(ended, after, axis=1)
    tempo, phase = np.unravel_index(int(score.argmax()), score.shape)
    steps = []
    for piece in range(len(fits) - 1, -1, -1):
        steps.append(_TEMPI[tempo])
        phase = (phase - _TEMPI[tempo]) % PHASES
        tempo = origins[piece, tempo, phase]
    first = (phase + PHASES // 2) % PHASES - PHASES // 2
    return np.asarray(first + np.concatenate([[0], np.cumsum(steps[::-1])]), dtype=np.float64)


def smooth_leads(positions: Floats, leads: Floats) -> Floats:
    """Leads without the scatter of single notes: straight pieces, each over its neighbourhood.

    Parameters
    ----------
    positions, leads : float array, shape (notes,)
        In cells; the leads as they were at single notes.
    """
    first, last = positions[0], positions[-1]
    knots = np.linspace(first, last, 2 + int((last - first) / _WIDE_CELLS))
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
