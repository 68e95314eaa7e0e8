"""A course as data: its units in order, with the keys in which a player meets them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.skill_map import Standing, UnitStanding
from halfstep.course.unit import Course, CourseUnit, PassMark
from halfstep.course.written_keys import written_key
from halfstep.data.documents import JsonForm

COURSE_FORM = JsonForm("halfstep-course", "a course")


def course_data(
    course: Course,
    player: CoursePlayer,
    standings: Mapping[str, UnitStanding],
) -> dict[str, Any]:
    """A course as one player meets it.

    Parameters
    ----------
    course : Course
    player : CoursePlayer
    standings : mapping of str to UnitStanding
        By the name of the unit; empty where no student is meant.
    """
    return {
        **COURSE_FORM.head,
        "title": course.title,
        "instrument": player.instrument.key,
        "level": player.level and str(player.level),
        "units": [
            {
                **_unit(unit, number),
                "keys": [
                    written_key(key, is_minor=unit.is_minor).ascii
                    for key in unit_keys(unit, player)
                ],
                "standing": _standing(standings[unit.name]) if standings else None,
            }
            for number, unit in enumerate(course.units, 1)
        ],
    }


def _unit(unit: CourseUnit, number: int) -> dict[str, Any]:
    return {
        "number": number,
        "name": unit.name,
        "title": unit.title,
        "goal": unit.goal,
        "needs": list(unit.needs),
        "level": str(unit.level),
        "minor": unit.is_minor,
        "progressions": [
            {"title": progression.title, "chart": progression.chart}
            for progression in unit.progressions
        ],
        "steps": list(unit.steps),
        "start_bpm": unit.start_bpm,
        "goal_bpm": unit.goal_bpm,
        "style": unit.style,
        "facets": [str(facet) for facet in unit.facets],
        "marks": [_mark(mark) for mark in unit.marks],
        "advice": unit.advice,
    }


def _mark(mark: PassMark) -> dict[str, Any]:
    limits = {"at_least": mark.at_least, "at_most": mark.at_most}
    return {
        "measure": str(mark.measure),
        **{name: limit for name, limit in limits.items() if limit is not None},
    }


def _standing(standing: UnitStanding) -> dict[str, Any]:
    counts = {str(word): standing.counts[word] for word in Standing}
    return {"unit": str(standing.standing), "skills": standing.skills, "counts": counts}
