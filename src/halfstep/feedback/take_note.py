"""What is a note of a take, once it is counted in beats?"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from halfstep.listen.heard_take import HeardNote


@dataclass(frozen=True, slots=True)
class TakeNote:
    """A note of a take.

    Attributes
    ----------
    onset, beats : float
        Where it is judged, in quarter notes: swing and lag as played, a drift of the tempo and
        a slip of the form taken out; and how long it sounds.
    place : Fraction
        The nearest place that a player counts on, swing and lag taken out.
    midi : int
        Concert; a part read in a wrong transposition is read right.
    sounded : float
        Quarter notes on the steady clock of the take: as it was played.
    sound : HeardNote or None
        What was heard; None for a note that is known without listening.
    """

    onset: float
    beats: float
    place: Fraction
    midi: int
    sounded: float
    sound: HeardNote | None = None

    @property
    def certainty(self) -> float:
        """How surely it was heard, 0 to 1."""
        return 1.0 if self.sound is None else self.sound.certainty
