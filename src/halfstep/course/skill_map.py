"""What leads to what in a course, and where does a student stand? Rows of units, and standings.

A unit stands one row below the lowest of those that it needs. Where it needs one from farther up,
a lane leads through the rows between. In each row all stand beneath the middle of what leads to
them, so that lines cross as little as may be.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate
from typing import NamedTuple

from halfstep.course.course_skills import CoursePlayer, unit_skills
from halfstep.course.skill import Skill
from halfstep.course.unit import Course, CourseUnit


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
    course: Course, standings: Standings, player: CoursePlayer
) -> tuple[UnitStanding, ...]:
    """Where a student stands in each unit, in order."""
    return tuple(
        _unit_standing(unit, number, [*unit_skills(unit, player)], standings)
        for number, unit in enumerate(course.units, 1)
    )


def _unit_standing(
    unit: CourseUnit, number: int, skills: Sequence[Skill], standings: Standings
) -> UnitStanding:
    counts = dict.fromkeys(Standing, 0)
    others = (skill for skill in standings if skill.unit == unit.name)  # in keys of the player's
    every = dict.fromkeys((*skills, *others))
    for skill in every:
        counts[standings.get(skill, Standing.NOT_MET)] += 1
    return UnitStanding(unit, number, len(every), counts)


class Lane(NamedTuple):
    """A way through a row from a unit above it to units below it, by the name of the first."""

    need: str


Place = str | Lane
"""What stands in a row: a unit, by its name, or a lane."""
LANE_WIDE = 0.12
"""How wide a lane is, in units."""


def unit_rows(course: Course) -> tuple[tuple[Place, ...], ...]:
    """The units and lanes in rows, from left to right."""
    depths = _depths(course)
    rows: list[tuple[Place, ...]] = []
    middles: dict[Place, float] = {}
    for depth in range(max(depths.values(), default=-1) + 1):
        row = [*_lanes(course, depths, depth), *(u for u in depths if depths[u] == depth)]
        row.sort(key=lambda place: _middle_above(place, course, middles))
        rows.append(tuple(row))
        middles = place_middles(row)
    return tuple(rows)


def _depths(course: Course) -> dict[str, int]:
    """In which row each unit stands."""
    depths: dict[str, int] = {}
    for unit in course.units:
        depths[unit.name] = max((depths.get(need, -1) + 1 for need in unit.needs), default=0)
    return depths


def _lanes(course: Course, depths: Mapping[str, int], depth: int) -> list[Place]:
    """The lanes of a row: of units above it that units below it need."""
    needs = (
        need
        for unit in course.units
        for need in unit.needs
        if need in depths and depths[need] < depth < depths[unit.name]
    )
    return [Lane(need) for need in dict.fromkeys(needs)]


def place_middles(row: Sequence[Place]) -> dict[Place, float]:
    """Where the middle of each place of a row lies, from 0 to 1."""
    wides = [LANE_WIDE if isinstance(place, Lane) else 1.0 for place in row]
    ends = list(accumulate(wides))
    return {
        place: (end - wide / 2) / ends[-1]
        for place, wide, end in zip(row, wides, ends, strict=True)
    }


def leads_above(place: Place, course: Course, above: Collection[Place]) -> list[Place]:
    """What of the row above leads to a place."""
    unit = None if isinstance(place, Lane) else course.unit(place)
    needs = unit.needs if unit else [place.need] if isinstance(place, Lane) else ()
    return [lead for need in needs for lead in (need, Lane(need)) if lead in above]


def _middle_above(place: Place, course: Course, middles: Mapping[Place, float]) -> float:
    """The middle of all that leads to a place; that of the page without any."""
    leads = [middles[lead] for lead in leads_above(place, course, middles)]
    return sum(leads) / len(leads) if leads else 0.5
