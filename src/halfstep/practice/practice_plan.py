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
    NEXT_KEY = "next-key"  # known, and for the first time in this key
    REVIEW = "review"  # known, and due again
    CHORUS = "chorus"  # the last: all of it in one go


class Manner(StrEnum):
    """How the items between warm-up and chorus follow one another."""

    BLOCKED = "blocked"  # each is done before the next
    MIXED = "mixed"  # in two rounds, half of each item in each


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One thing to practise.

    Attributes
    ----------
    role : ItemRole
    skill : Skill
    tempo_bpm : float
        Pulses a minute, whole.
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
    share_left : float
        How much of its memory is left, 0 to 1; 1 where there is none yet.
    is_easier : bool
        Its tempo is lower than where it stood the last time, or it is fewer bars: it was away long
        or too hard.
    part : float
        Which share of the bars is played, 1 for all.
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
    share_left: float = 1.0
    is_easier: bool = False
    part: float = 1.0


@dataclass(frozen=True, slots=True)
class Rest:
    """A pause.

    Attributes
    ----------
    after : int
        The number of items that come before it.
    minutes : float
    """

    after: int
    minutes: float


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """A day's practice.

    Attributes
    ----------
    day : date
    minutes : float
        With the rests.
    items : tuple of PlanItem
        Two to five, the last one a chorus.
    rests : tuple of Rest
        In order.
    manner : Manner
    """

    day: date
    minutes: float
    items: tuple[PlanItem, ...]
    rests: tuple[Rest, ...] = ()
    manner: Manner = Manner.BLOCKED
