"""What is there to learn, as one thing that can be known or not? A step of a unit in a key."""

from __future__ import annotations

from typing import NamedTuple


class Skill(NamedTuple):
    """What is learnt: a step over a kind of progression, a unit of a course, in a key.

    Its tempo is the fourth side, told beside it, since one belief answers for all tempi.

    Attributes
    ----------
    unit : str
        The name of the unit.
    step : str
        The name of the step.
    key : int
        The tonic as the player reads it, on the cycle of fifths from C: -5 (D flat) to 6 (F
        sharp).
    """

    unit: str
    step: str
    key: int
