"""What is likely to be played, as plain numbers: a soft word in the ear.

Where the sound leaves two readings open, what was meant to be played may decide; where it
does not, nothing changes. Nothing here knows where the numbers come from.

Conventions
-----------
- Weights are nats: a note with 1 is taken for e times as likely as one with 0.
- Time is that of the take, as `HeardTake` counts it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.spectra import HOP, RATE, SEMITONES

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

MOST_NATS = 2.0
"""No weight counts for more, in either direction: a wrong note stays wrong."""


@dataclass(frozen=True, slots=True)
class TakeTimes:
    """What is known of a take before its notes are heard; as in `HeardTake`."""

    length_s: float
    delay_s: float | None = None
    delay_modulo_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class PitchPrior:
    """How likely each semitone is to begin, by time.

    Attributes
    ----------
    step_s : float
        Between rows.
    weights : float32 array, shape (times, SEMITONES)
        From `spectra.LOW` up.

    Raises
    ------
    ValueError
        If the shape is another, a weight is no number, or the step is not over 0.
    """

    step_s: float
    weights: Floats

    def __post_init__(self) -> None:
        if self.weights.ndim != 2 or self.weights.shape[1] != SEMITONES or not self.step_s > 0:
            raise ValueError(f"weights are rows of {SEMITONES}, a step of time over 0 apart")
        if not np.isfinite(self.weights).all():
            raise ValueError("every weight is a number")

    def by_frame(self, first_s: float, frames: int, frame_s: float = HOP / RATE) -> Floats:
        """Weights of frames from a time on, shape (frames, SEMITONES); 0 outside what is known."""
        places = np.round((first_s + np.arange(frames) * frame_s) / self.step_s).astype(int)
        known = (places >= 0) & (places < len(self.weights))
        rows = np.zeros((frames, SEMITONES), dtype=np.float32)
        rows[known] = np.clip(self.weights[places[known]], -MOST_NATS, MOST_NATS)
        return rows


PriorMaker = Callable[[TakeTimes], PitchPrior | None]
"""Says what is likely once it is known where the backing lies; None where it says nothing."""
