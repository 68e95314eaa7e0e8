"""How does a player place notes about the beat, through a whole take?

Conventions
-----------
- Milliseconds, later is positive.
- Counted are notes on the beat and on its half, in metres that count in eighths those on
  the eighths.
- Drift is what changes slowly through the take; what is left at a note is its lateness.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from halfstep.feedback.estimate import Estimate, Floats, line_estimates, middle_of, spread_of
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote

_HALF = Fraction(1, 2)
_BLOCK = 8
"""Quarter notes in which a player has one habit."""
_FEWEST_BLOCKS = 5
_FEWEST_IN_BLOCK = 2


@dataclass(frozen=True, slots=True, eq=False)
class BeatTiming:
    """The counted notes of a take.

    Attributes
    ----------
    notes : tuple of TakeNote
    on_beat : bool array, shape (notes,)
    late_ms : float array, shape (notes,)
        After the place, a drift taken out.
    drift_ms : float array, shape (notes,)
        How late the player's clock is against that of the take; a slip of the form is none.
    blocks : int array, shape (notes,)
        The stretch of `_BLOCK` quarter notes that each stands in.
    """

    notes: tuple[TakeNote, ...]
    on_beat: npt.NDArray[np.bool_]
    late_ms: Floats
    drift_ms: Floats
    blocks: npt.NDArray[np.int64]

    @property
    def steady_ms(self) -> Floats:
        """Lateness without the player's own habit on the beat and off it."""
        steady = self.late_ms.copy()
        for kind in (self.on_beat, ~self.on_beat):
            if kind.any():
                steady[kind] -= np.median(steady[kind])
        return steady

    @property
    def scatter_ms(self) -> float:
        """How far they spread, the ear's own spread with it."""
        return spread_of(self.steady_ms)

    def on_beat_ms(self) -> Estimate:
        """How late notes on the beat are."""
        late = (self.late_ms + self.drift_ms - np.median(self.drift_ms))[self.on_beat]
        estimate = middle_of(late, self.blocks[self.on_beat].tolist())
        return Estimate(float(np.median(self.late_ms[self.on_beat])), *_error(estimate))


def _error(estimate: Estimate) -> tuple[float, float]:
    return estimate.error, estimate.freedom


def beat_timing(take: JudgedTake) -> BeatTiming:
    """The counted notes of a take, and how each is placed."""
    cell = take.form.cell
    inside = {Fraction(0), _HALF} if cell == 1 else {Fraction(0)}
    notes = tuple(note for note in take.notes if note.place % cell in inside)
    quarter_ms = 1000 * take.clock.quarter_s
    drifts = np.array([note.sounded - note.onset for note in notes])
    return BeatTiming(
        notes,
        np.array([note.place % cell == 0 for note in notes], dtype=np.bool_),
        quarter_ms * np.array([note.onset - float(note.place) for note in notes]),
        # a slip of the form moves a note by whole beats
        quarter_ms * np.unwrap(drifts, period=1.0),
        np.array([int(note.sounded // _BLOCK) for note in notes], dtype=np.int64),
    )


def drift_estimates(timing: BeatTiming, degree: int) -> tuple[Estimate, ...] | None:
    """The player's clock against that of the take as a curve; None for too short a take.

    Returns
    -------
    tuple of Estimate or None
        In milliseconds, lowest power first, over the take's length counted from -0.5 to 0.5.
    """
    steady = timing.steady_ms + timing.drift_ms
    counts = np.unique(timing.blocks, return_counts=True)
    blocks = [block for block, count in zip(*counts, strict=True) if count >= _FEWEST_IN_BLOCK]
    if len(blocks) < _FEWEST_BLOCKS:
        return None
    kinds = [timing.blocks == block for block in blocks]
    sounded = np.array([note.sounded for note in timing.notes])
    places = np.array([sounded[kind].mean() for kind in kinds])
    middles = np.array([np.median(steady[kind]) for kind in kinds])
    weights = np.array([min(8.0, float(kind.sum())) for kind in kinds])
    first, last = sounded[0], sounded[-1]
    return line_estimates((places - first) / (last - first) - 0.5, middles, weights, degree)


def eighth_pairs(take: JudgedTake) -> Floats:
    """Where the second of two eighths falls between two beats, 0 to 1, pair by pair."""
    triples = zip(take.notes, take.notes[1:], take.notes[2:], strict=False)
    return np.array(
        [
            (half.sounded - beat.sounded) / (following.sounded - beat.sounded)
            for beat, half, following in triples
            if beat.place.denominator == 1
            and half.place - beat.place == _HALF
            and following.place - beat.place == 1
            and following.sounded > beat.sounded
        ]
    )
