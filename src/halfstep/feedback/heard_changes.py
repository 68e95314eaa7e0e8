"""At each change of each pass, is the new chord heard, and when?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfstep.feedback.findings import PassPlace


class ChangeVerdict(StrEnum):
    """What is heard of a change, by the names it is stored under."""

    ON_TIME = "on-time"
    EARLY = "early"
    LATE = "late"
    MISSED = "missed"
    NOTHING_DIFFERS = "nothing-differs"
    NOT_JUDGED = "not-judged"


@dataclass(frozen=True, slots=True)
class HeardChange:
    """A change of chord under a take.

    Attributes
    ----------
    place : PassPlace
        Where the new chord begins.
    onset : float
        The same in quarter notes from bar 1 of the first pass.
    chord : int
        The place of the new chord in the analysis.
    verdict : ChangeVerdict
    beats_late : float
        Pulses after the chord's first beat at which it is heard, before it negative; 0 where
        it is not heard or not judged.
    certainty : float
        0 to 1.
    reason : str
        Why it was not judged.
    """

    place: PassPlace
    onset: float
    chord: int
    verdict: ChangeVerdict
    beats_late: float = 0.0
    certainty: float = 1.0
    reason: str = ""
