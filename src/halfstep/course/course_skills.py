"""A course -> the skills that a player meets, in order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from halfstep.course.skill import Skill
from halfstep.course.unit import Course, CourseUnit
from halfstep.course.written_keys import key_order, signature_place, written_key
from halfstep.instruments import Instrument
from halfstep.level import Level


@dataclass(frozen=True, slots=True)
class CoursePlayer:
    """Who meets a course.

    Attributes
    ----------
    instrument : Instrument
    level : Level or None
        How far the player has come; that of each unit without.
    signatures : frozenset of int
        The only ones that are read, by their `signature_place`; empty for all.
    """

    instrument: Instrument
    level: Level | None = None
    signatures: frozenset[int] = frozenset()


def course_skills(course: Course, player: CoursePlayer) -> tuple[Skill, ...]:
    """Every skill of a course in the order that a player meets them.

    Unit by unit; in a unit key by key, the easiest of the instrument first; in a key step by
    step.
    """
    return tuple(skill for unit in course.units for skill in unit_skills(unit, player))


def unit_skills(unit: CourseUnit, player: CoursePlayer) -> Iterator[Skill]:
    """The skills of one unit in order."""
    for key in unit_keys(unit, player):
        for step in unit.steps:
            yield Skill(unit.name, step, key)


def unit_keys(unit: CourseUnit, player: CoursePlayer) -> tuple[int, ...]:
    """The keys of a unit as the player reads them, the easiest first.

    As many as the unit has, or as are known. Known is a signature: who reads F major reads D minor.
    """
    is_minor, signatures = unit.is_minor, player.signatures
    order = key_order(player.instrument, player.level or unit.level, is_minor=is_minor)
    if signatures:
        places = ((key, signature_place(written_key(key, is_minor=is_minor))) for key in order)
        order = tuple(key for key, place in places if place in signatures)
    return order[: unit.keys]
