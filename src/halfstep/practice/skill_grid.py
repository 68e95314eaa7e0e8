"""What is the course in arrays? One place for each skill, in the order of the syllabus."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from halfstep.practice.syllabus import Syllabus

if TYPE_CHECKING:
    import numpy.typing as npt

    Numbers = npt.NDArray[np.float64]
    Places = npt.NDArray[np.int64]
    Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class SkillGrid:
    """A syllabus as arrays, all of shape (skills,).

    Attributes
    ----------
    start_bpm, goal_bpm : array of float
        Pulses a minute.
    units, steps, key_orders : array of int
        Place of the unit in the course, of the step in its unit, of the key among those met.
    pieces, step_names : array of int
        The same number for the same step of the same unit; for the same step anywhere.
    choruses : array of bool
    """

    start_bpm: Numbers
    goal_bpm: Numbers
    units: Places
    steps: Places
    key_orders: Places
    pieces: Places
    step_names: Places
    choruses: Flags


def skill_grid(syllabus: Syllabus) -> SkillGrid:
    """The syllabus in arrays."""
    rows = syllabus.rows
    return SkillGrid(
        np.array([row.start_bpm for row in rows], np.float64),
        np.array([row.goal_bpm for row in rows], np.float64),
        np.array([row.unit for row in rows], np.int64),
        np.array([row.step for row in rows], np.int64),
        np.array([row.key_order for row in rows], np.int64),
        _numbered((row.unit, row.step) for row in rows),
        _numbered(row.skill.step for row in rows),
        np.array([row.is_chorus for row in rows], np.bool_),
    )


def _numbered(names: Iterable[Hashable]) -> Places:
    """The same number for the same name, from 0."""
    numbers: dict[Hashable, int] = {}
    return np.array([numbers.setdefault(name, len(numbers)) for name in names], np.int64)
