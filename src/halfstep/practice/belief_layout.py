"""What is a skill made of? Parts that it shares with its like, so one take tells of many.

How well a skill goes is a sum: of the student's pace, of its unit, of its step, of that step
over that unit in whatever key, of its key, and of the skill alone. Keys are blurred over the cycle
of fifths, so that keys next door share half of theirs. How widely each part varies among
students is all that is said beforehand; see docs/practice-model.md for the reasons.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache
from math import log2, sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from halfstep.level import Level
from halfstep.practice.skill_grid import SkillGrid, skill_grid
from halfstep.practice.syllabus import Syllabus, SyllabusRow

if TYPE_CHECKING:
    from halfstep.practice.skill_grid import Numbers, Places

KEYS = 12

STEP_PART, PIECE_PART, SKILL_PART = 1, 2, 6
"""Where those stand among the parts of a skill."""

NEW_PIECE, NEW_KEY, PRACTICE, OTHER_KEYS, ELSEWHERE, FORGOTTEN, SLOWER, STUDENT = range(8)
"""A student's pace: what all skills have, in a share that changes as they are played. What is
new, what practice taught, what days and tempo take, and how far the student is. As each of them
might explain the same take, it is also believed how they go together."""


class Prior(NamedTuple):
    """What is held of a part before anything is known: log odds, and how they vary."""

    mean: float
    variance: float


class Priors(NamedTuple):
    """What is held of each kind of part."""

    unit: Prior = Prior(0.0, 0.3)
    step: Prior = Prior(0.0, 0.35)
    piece: Prior = Prior(0.0, 0.06)
    key: Prior = Prior(0.0, 0.07)
    skill: Prior = Prior(0.0, 0.7)


PRIORS = Priors()

PACE = {
    NEW_PIECE: Prior(-0.3, 1.2),  # where a step over a unit was played in no key
    NEW_KEY: Prior(-0.2, 0.2),  # where it was, but not in this one
    PRACTICE: Prior(0.5, 0.01),  # for each e-fold of the times it was played, and once
    OTHER_KEYS: Prior(0.33, 0.03),  # the same, of the step over the unit in other keys
    ELSEWHERE: Prior(0.01, 0.001),  # the same, of the step over other units
    FORGOTTEN: Prior(-2.0, 0.2),  # where a memory has quite gone
    SLOWER: Prior(3.3, 0.05),  # at half the tempo
    STUDENT: Prior(0.0, 0.4),
}
"""What is held of a student's pace, each part for itself."""

START = {Level.BEGINNER: -2.3, Level.INTERMEDIATE: -1.7, Level.ADVANCED: -1.1}
"""Log odds that the first skill of a course is clean at its goal tempo before it was played."""

STEP_HARDER = 0.2
"""Log odds that a step is harder than the one before it in its unit."""

KEY_HARDER = 0.1
"""Log odds that a key is harder than the one met before it."""

UNIT_HARDER = 0.04
"""Log odds that a unit is harder than the one before it in the course."""

FEWER_BARS = 0.7
"""Log odds by which half of the bars are easier than all; so much again for half of those."""

NEXT_KEY = 0.5
"""What the key next door counts for, beside the key itself."""

_KEPT = 32
"""Layouts that are kept ready."""
_OWN_KEY = 1 / sqrt(1 + 2 * NEXT_KEY**2)  # so that blurred keys vary as widely as keys

SHARES = (1.0, 1.0, 1.0, _OWN_KEY, _OWN_KEY * NEXT_KEY, _OWN_KEY * NEXT_KEY, 1.0)
"""What each part of a skill counts for."""


@dataclass(frozen=True, slots=True)
class BeliefLayout:
    """Which parts each skill of a syllabus is the sum of.

    Attributes
    ----------
    syllabus : Syllabus
    parts : tuple of tuple of int
        For each skill, the numbers of its parts: unit, step, piece, key, the keys below and
        above, skill.
    shares : tuple of float
        What each of them counts for, the same for all skills.
    means, variances : tuple of float
        Of each part before anything is known.
    offsets : tuple of float
        Of each skill before anything is known: log odds of clean at the goal tempo.
    grid : SkillGrid
        The syllabus as arrays.
    part_grid, share_grid, offset_grid : array
        Parts, shares and offsets as arrays, of shapes (skills, 7), (7,), (skills,).
    """

    syllabus: Syllabus
    parts: tuple[tuple[int, ...], ...]
    shares: tuple[float, ...]
    means: tuple[float, ...]
    variances: tuple[float, ...]
    offsets: tuple[float, ...]
    grid: SkillGrid
    part_grid: Places
    share_grid: Numbers
    offset_grid: Numbers


def eased_by(part: float) -> float:
    """Log odds by which such a share of the bars is easier than all of them."""
    return -FEWER_BARS * log2(part)


@lru_cache(_KEPT)
def belief_layout(syllabus: Syllabus) -> BeliefLayout:
    """The parts of each skill."""
    priors: list[Prior] = []
    numbers: dict[Hashable, int] = {}
    for name, prior in (named for row in syllabus.rows for named in _named_parts(row)):
        if name not in numbers:
            numbers[name] = len(priors)
            priors.append(prior)
    parts = tuple(tuple(numbers[name] for name, _ in _named_parts(row)) for row in syllabus.rows)
    offsets = tuple(_offset(row, syllabus.level) for row in syllabus.rows)
    return BeliefLayout(
        syllabus,
        parts,
        SHARES,
        tuple(prior.mean for prior in priors),
        tuple(prior.variance for prior in priors),
        offsets,
        skill_grid(syllabus),
        np.array(parts, np.int64).reshape(-1, len(SHARES)),
        np.array(SHARES),
        np.array(offsets, np.float64),
    )


def _named_parts(row: SyllabusRow) -> list[tuple[Hashable, Prior]]:
    """The parts of a skill by name, with what is held of them."""
    skill = row.skill
    keys = [("key", (skill.key + away) % KEYS) for away in (0, -1, 1)]
    return [
        (("unit", skill.unit), PRIORS.unit),
        (("step", skill.step), PRIORS.step),
        (("piece", skill.unit, skill.step), PRIORS.piece),
        *((key, PRIORS.key) for key in keys),
        (skill, PRIORS.skill),
    ]


def _offset(row: SyllabusRow, level: Level) -> float:
    return (
        START[level] - STEP_HARDER * row.step - KEY_HARDER * row.key_order - UNIT_HARDER * row.unit
    )
