"""What is known of a student's playing: what was played, when, how it went, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from halfstep.course.skill import Skill as Skill


class Verdict(StrEnum):
    """How a skill went: what a take is heard to say, or the player's own word."""

    CLEAN = "clean"
    NEARLY = "nearly"
    NOT_YET = "not-yet"


@dataclass(frozen=True, slots=True)
class Evidence:
    """One time that a skill was played.

    Attributes
    ----------
    source : str
        What it comes from; evidence of one source and skill is counted once.
    at : datetime
        With a time zone.
    skill : Skill
    tempo_bpm : float
        Pulses a minute.
    verdict : Verdict
    weight : float
        How surely it is known, 0 to 1.
    minutes : float
        How long was practised, as far as it is known.
    trouble : str
        What went wrong most, in a sentence; empty for nothing, or where it is not known.
    trouble_bar : int or None
        The bar of the form where it did, from 1.
    progression : int or None
        Over which of the unit's progressions, from 0; None where it is not known.
    part : float
        Which share of the bars was played, above 0 to 1.
    """

    source: str
    at: datetime
    skill: Skill
    tempo_bpm: float
    verdict: Verdict
    weight: float = 1.0
    minutes: float = 0.0
    trouble: str = ""
    trouble_bar: int | None = None
    progression: int | None = None
    part: float = 1.0
