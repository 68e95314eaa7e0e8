"""A course -> the skills that a player meets, in order."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.course.skill import Skill
from halfstep.course.unit import Course, CourseUnit
from halfstep.course.written_keys import key_order
from halfstep.instruments import Instrument
from halfstep.level import Level


def course_skills(
    course: Course, instrument: Instrument, level: Level | None = None
) -> tuple[Skill, ...]:
    """Every skill of a course in the order that a player meets them.

    Unit by unit; in a unit key by key, the easiest of the instrument first; in a key step by
    step.

    Parameters
    ----------
    course : Course
    instrument : Instrument
    level : Level, optional
        How far the student has come; that of each unit without.
    """
    return tuple(skill for unit in course.units for skill in unit_skills(unit, instrument, level))


def unit_skills(
    unit: CourseUnit, instrument: Instrument, level: Level | None = None
) -> Iterator[Skill]:
    """The skills of one unit in order."""
    for key in unit_keys(unit, instrument, level):
        for step in unit.steps:
            yield Skill(unit.name, step, key)


def unit_keys(
    unit: CourseUnit, instrument: Instrument, level: Level | None = None
) -> tuple[int, ...]:
    """The keys of a unit as the player reads them, the easiest first."""
    order = key_order(instrument, level or unit.level, is_minor=unit.is_minor)
    return order[: unit.keys]
