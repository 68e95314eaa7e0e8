"""A course shown: its units in order, what leads to what, where a student stands."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.course.course_folder import course_in
from halfstep.course.course_skills import CoursePlayer
from halfstep.course.kind_of_chart import ChartKind, kind_of_chart
from halfstep.course.skill_map import Standings, UnitStanding, unit_standings
from halfstep.course.unit import Course, CourseUnit
from halfstep.errors import BriefError, did_you_mean
from halfstep.services.file_content import FileContent
from halfstep.services.known_keys import player_in_keys
from halfstep.services.request_fields import (
    ChartSource,
    chart_of,
    level_of,
    player_of,
    sheet_of,
)


@dataclass(frozen=True, slots=True)
class ShowCourse:
    """A request to show a course.

    Attributes
    ----------
    folder : Path or None
        Of another course, or of units that are added to the program's own; None for that.
    instrument : str or None
        Who meets its keys; None for concert pitch.
    level : str or None
        How far the student has come; None for the level of each unit.
    chart : str, Path, LeadSheet or None
        Whose unit is wanted.
    keys : str
        The only written keys to use, ``C G F``; empty for those of the course.
    """

    folder: Path | None = None
    instrument: str | None = None
    level: str | None = None
    chart: ChartSource | None = None
    keys: str = ""


@dataclass(frozen=True, slots=True)
class CourseReply:
    """A course as one player meets it.

    Attributes
    ----------
    course : Course
    player : CoursePlayer
    standings : tuple of UnitStanding
        Where the student stands in each unit; empty where none is meant.
    student : str
        What the student is called; empty for none.
    kind : ChartKind or None
        The unit that the chart belongs to; None without a chart, or for one unlike them all.
    """

    course: Course
    player: CoursePlayer
    standings: tuple[UnitStanding, ...] = ()
    student: str = ""
    kind: ChartKind | None = None

    def data(self) -> dict[str, Any]:
        """The course as plain lists and dictionaries."""
        from halfstep.data.course_json import course_data

        by_name = {standing.unit.name: standing for standing in self.standings}
        return course_data(self.course, self.player, by_name)

    def unit(self, name: str) -> CourseUnit:
        """The unit of that name.

        Raises
        ------
        BriefError
        """
        unit = self.course.unit(name)
        if unit is None:
            known = [unit.name for unit in self.course.units]
            meant = did_you_mean(name, known) or f"; choose from {', '.join(known)}"
            raise BriefError(f"`unit` {name!r}: the course has no such unit{meant}")
        return unit

    def map_file(self, suffix: str) -> FileContent:
        """The map of the course as a file that ends in one of `COURSE_MAP_SUFFIXES`."""
        from halfstep.lesson.course_page import course_map
        from halfstep.render.course_map import course_map_file

        page = course_map(self.course, self.player, self.standings, self.student)
        data, notices = course_map_file(page, suffix)
        return FileContent((data,), notices)

    def _repr_svg_(self) -> str:
        from halfstep.services.notebook import inline_svg

        return inline_svg(self.map_file(".svg").data.decode())


COURSE_MAP_SUFFIXES = (".pdf", ".svg")


def show_course(
    request: ShowCourse, *, standings: Standings | None = None, student: str = ""
) -> CourseReply:
    """A course as one player meets it.

    Parameters
    ----------
    request : ShowCourse
    standings : mapping of Skill to Standing, optional
        Where a student stands.
    student : str
        What the student is called.

    Raises
    ------
    ReadError
        When the folder holds no course, or something is wrong with it; when the chart cannot be
        read.
    BriefError
        When there is no such instrument, level or key.
    """
    level = None if request.level is None else level_of(request.level)
    player = player_in_keys(player_of(request.instrument), level, request.keys)
    course = course_in(request.folder)
    stands = () if standings is None else unit_standings(course, standings, player)
    return CourseReply(course, player, stands, student, _kind(request.chart, course))


def _kind(source: ChartSource | None, course: Course) -> ChartKind | None:
    if source is None:
        return None
    return kind_of_chart(chart_of(source, sheet_of(source, reading=None, tune=None)), course)
