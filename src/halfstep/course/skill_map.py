"""What leads to what in a course, and where does a student stand? Rows of units, and standings.

A unit stands one row below the lowest of those that it needs. In its row it stands beneath the
middle of them, so that lines cross as little as may be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from halfstep.course.course_skills import unit_skills
from halfstep.course.skill import Skill
from halfstep.course.unit import Course, CourseUnit
from halfstep.instruments import Instrument
from halfstep.level import Level


class Standing(StrEnum):
    """How well a skill is known, in words."""

    NOT_MET = "not met"
    BEGUN = "begun"
    KNOWN = "known"
    DUE = "due again"


Standings = Mapping[Skill, Standing]
"""Of each skill that was met; others are not met."""


@dataclass(frozen=True, slots=True)
class UnitStanding:
    """Where a student stands in a unit.

    Attributes
    ----------
    unit : CourseUnit
    number : int
        Its place in the course, from 1.
    skills : int
        How many there are.
    counts : dict of Standing to int
        How many stand where.
    """

    unit: CourseUnit
    number: int
    skills: int
    counts: Mapping[Standing, int]

    @property
    def known(self) -> int:
        """How many skills are known, those that are due again among them."""
        return self.counts[Standing.KNOWN] + self.counts[Standing.DUE]

    @property
    def standing(self) -> Standing:
        """That of the unit: known where all of it is, due again where some of that is due."""
        if self.known == self.skills:
            return Standing.DUE if self.counts[Standing.DUE] else Standing.KNOWN
        is_met = self.counts[Standing.NOT_MET] < self.skills
        return Standing.BEGUN if is_met else Standing.NOT_MET


def unit_standings(
    course: Course,
    standings: Standings,
    instrument: Instrument,
    level: Level | None = None,
) -> tuple[UnitStanding, ...]:
    """Where a student stands in each unit, in order."""
    return tuple(
        _unit_standing(unit, number, [*unit_skills(unit, instrument, level)], standings)
        for number, unit in enumerate(course.units, 1)
    )


def _unit_standing(
    unit: CourseUnit, number: int, skills: Sequence[Skill], standings: Standings
) -> UnitStanding:
    counts = dict.fromkeys(Standing, 0)
    for skill in skills:
        counts[standings.get(skill, Standing.NOT_MET)] += 1
    return UnitStanding(unit, number, len(skills), counts)


def unit_rows(course: Course) -> tuple[tuple[str, ...], ...]:
    """The names of the units in rows, from left to right."""
    depths: dict[str, int] = {}
    for unit in course.units:
        depths[unit.name] = max((depths.get(need, -1) + 1 for need in unit.needs), default=0)
    rows: list[tuple[str, ...]] = []
    places: dict[str, float] = {}
    for depth in range(max(depths.values(), default=-1) + 1):
        units = [unit for unit in course.units if depths[unit.name] == depth]
        units.sort(key=lambda unit: _middle(unit, places))
        rows.append(tuple(unit.name for unit in units))
        places |= {unit.name: (n + 0.5) / len(units) for n, unit in enumerate(units)}
    return tuple(rows)


def _middle(unit: CourseUnit, places: Mapping[str, float]) -> float:
    """Where between left and right, 0 to 1, the units stand that a unit needs."""
    needed = [places[need] for need in unit.needs if need in places]
    return sum(needed) / len(needed) if needed else 0.5
