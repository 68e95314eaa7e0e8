"""How do they stand? A player's way as a picture, and a class unit by unit."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from starlette.responses import Response

from halfstep.app.tasks.student_tasks import progress_of_student, standings_of_student
from halfstep.app.web.page import page
from halfstep.app.web.page_words import gettext
from halfstep.app.web.visit import Visit
from halfstep.course.course_folder import our_course
from halfstep.course.skill_map import Standing, UnitStanding
from halfstep.school.classes import find_class, students_of
from halfstep.school.database import School
from halfstep.school.students import Student, student_of_number
from halfstep.services.show_course import ShowCourse, show_course
from halfstep.services.show_progress import ProgressReply

SIGNS = {
    Standing.NOT_MET: "○",
    Standing.BEGUN: "◐",
    Standing.KNOWN: "●",
    Standing.DUE: "◍",
}
"""A disc for each unit, told apart without colour."""
MEANINGS = tuple((sign, str(standing)) for standing, sign in SIGNS.items())


@dataclass(frozen=True, slots=True)
class ShownStanding:
    """Where one player stands in a course.

    Attributes
    ----------
    student : Student
    units : tuple of UnitStanding
    """

    student: Student
    units: tuple[UnitStanding, ...]

    @property
    def signs(self) -> tuple[str, ...]:
        """A disc for each unit."""
        return tuple(SIGNS[unit.standing] for unit in self.units)

    @property
    def words(self) -> str:
        """``3 known, 2 begun``."""
        counts = Counter(unit.standing for unit in self.units)
        told = (Standing.KNOWN, Standing.DUE, Standing.BEGUN)
        parts = [f"{counts[standing]} {gettext(standing)}" for standing in told if counts[standing]]
        return ", ".join(parts) or gettext("nothing heard yet")

    @property
    def aloud(self) -> str:
        """The units that were met, for who hears the page: ``Guide tones: known``."""
        met = (one for one in self.units if one.standing != Standing.NOT_MET)
        words = "; ".join(f"{gettext(one.unit.title)}: {gettext(one.standing)}" for one in met)
        return words or gettext("no unit is met")


def show_way(visit: Visit) -> Response:
    """A player's way so far, as a picture."""
    number = visit.number("number")
    return Response(_reply(visit.school, number).file(".svg"), media_type="image/svg+xml")


def _reply(school: School, number: int) -> ProgressReply:
    with school.reading() as connection:
        student = student_of_number(connection, number)
    return progress_of_student(school, student.name)[1]


def show_class_standing(visit: Visit) -> Response:
    """A class, unit by unit; each player's row is asked for by itself, so that none waits."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        school_class = find_class(connection, number)
        students = students_of(connection, number)
    return page(
        visit,
        "class_standing.html",
        school_class=school_class,
        students=students,
        units=our_course().units,
        meanings=MEANINGS,
    )


def show_student_standing(visit: Visit) -> Response:
    """One player, unit by unit."""
    with visit.school.reading() as connection:
        student = student_of_number(connection, visit.number("number"))
    row = _standing(visit.school, student)
    units = [standing.unit for standing in row.units]
    return page(visit, "student_standing.html", row=row, units=units, meanings=MEANINGS)


def _standing(school: School, player: Student) -> ShownStanding:
    student, standings = standings_of_student(school, player.name)
    request = ShowCourse(
        instrument=student.instrument.key, level=str(student.level), keys=student.keys
    )
    course = show_course(request, standings=standings, student=student.name)
    return ShownStanding(student, course.standings)
