"""What does the planner see of a course? Its skills as rows of numbers, in the order they are met.

A row says where its skill stands: which unit, which step of it, which key of those met, how
fast it begins and where it ends. Chords, notes and sheets stay with the course.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.unit import Course, CourseUnit
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.practice.evidence import Skill


class SyllabusRow(NamedTuple):
    """One skill and its place.

    Attributes
    ----------
    skill : Skill
    unit, step : int
        Place of the unit in the course, of the step in its unit, from 0.
    key_order : int
        Place of its key among those the player meets, from 0.
    start_bpm, goal_bpm : float
        Pulses a minute.
    is_chorus : bool
        The last step of its unit, which passes it: all of it in one go.
    """

    skill: Skill
    unit: int
    step: int
    key_order: int
    start_bpm: float
    goal_bpm: float
    is_chorus: bool


_KEPT = 32
"""Players' courses that are kept ready: instruments at levels."""


@dataclass(frozen=True, slots=True)
class Syllabus:
    """A course as one player meets it.

    Attributes
    ----------
    rows : tuple of SyllabusRow
        In the order of the course: by unit, then key by key through its steps.
    needs : tuple of tuple of int
        For each unit, the places of those that come before it.
    progressions : tuple of int
        For each unit, how many progressions it has.
    level : Level
    places : dict
        The place of each skill among the rows; derived.
    """

    rows: tuple[SyllabusRow, ...]
    needs: tuple[tuple[int, ...], ...]
    progressions: tuple[int, ...]
    level: Level
    places: dict[Skill, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        places = {row.skill: place for place, row in enumerate(self.rows)}
        object.__setattr__(self, "places", places)


@lru_cache(_KEPT)
def syllabus_of(
    course: Course, instrument: Instrument, level: Level, signatures: frozenset[int] = frozenset()
) -> Syllabus:
    """The course as a player of that instrument and level meets it, in the signatures known."""
    player, units = CoursePlayer(instrument, level, signatures), course.units
    order = {unit.name: place for place, unit in enumerate(units)}
    return Syllabus(
        tuple(
            row
            for place, unit in enumerate(units)
            for row in _unit_rows(place, unit, unit_keys(unit, player))
        ),
        tuple(tuple(order[name] for name in unit.needs if name in order) for unit in units),
        tuple(len(unit.progressions) for unit in units),
        level,
    )


def _unit_rows(place: int, unit: CourseUnit, keys: Sequence[int]) -> Iterator[SyllabusRow]:
    for (key_order, key), (step, name) in product(enumerate(keys), enumerate(unit.steps)):
        yield SyllabusRow(
            Skill(unit.name, name, key),
            place,
            step,
            key_order,
            unit.start_bpm,
            unit.goal_bpm,
            is_chorus=step == len(unit.steps) - 1,
        )
