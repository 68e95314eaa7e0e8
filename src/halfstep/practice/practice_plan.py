"""What is a day's practice? A few items in order, each with its reason and its stop rule."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from halfstep.practice.evidence import Evidence, Skill


class ItemRole(StrEnum):
    """Why an item has its place in a plan."""

    WARM_UP = "warm-up"
    MEND = "mend"  # what went wrong not long ago
    NEW = "new"
    REVIEW = "review"  # known, and due again
    CHORUS = "chorus"  # the last: all of it in one go


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One thing to practise.

    Attributes
    ----------
    role : ItemRole
    skill : Skill
    tempo_bpm : float
        Pulses a minute.
    minutes : float
    chance : float
        How likely it is played clean today, 0 to 1.
    last : Evidence or None
        The last time it was played.
    passes : int
        Clean passes in a row after which it is done; the stop rule.
    progression : int
        Which of the unit's progressions, from 0.
    seed : int
        Of the etude: what comes again is written anew.
    """

    role: ItemRole
    skill: Skill
    tempo_bpm: float
    minutes: float
    chance: float
    last: Evidence | None
    passes: int
    progression: int
    seed: int


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """A day's practice.

    Attributes
    ----------
    day : date
    minutes : float
    items : tuple of PlanItem
        Two to five, the last one a chorus.
    """

    day: date
    minutes: float
    items: tuple[PlanItem, ...]
