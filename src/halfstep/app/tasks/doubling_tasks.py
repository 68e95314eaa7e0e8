"""A student comes to another instrument, and takes up one of the own ones."""

from __future__ import annotations

from dataclasses import replace

from halfstep.app.tasks.student_tasks import AddStudent, student_asked_for
from halfstep.instruments import find_instrument
from halfstep.school.database import School
from halfstep.school.doublings import add_doubling, instruments_of, take_up
from halfstep.school.students import Student, student_of_number


def add_instrument(school: School, number: int, request: AddStudent) -> None:
    """Keep another instrument of a student; the one at hand stays at hand.

    Parameters
    ----------
    number : int
        The student's.
    request : AddStudent
        With the instrument, and level, notes and keys for it; its other fields are not asked.

    Raises
    ------
    BriefError
        When a field is none, or the student plays that instrument already.
    NoSuchThing
    """
    with school.writing() as connection:
        student = student_of_number(connection, number)
        asked = replace(request, name=student.name, minutes=student.minutes, print_setting="")
        add_doubling(connection, student, student_asked_for(asked))


def play_instrument(school: School, number: int, instrument: str) -> Student:
    """Take up one of a student's instruments: plan, room and sheets are then those of it.

    Raises
    ------
    BriefError
        When it is none of the student's.
    NoSuchThing
    """
    with school.writing() as connection:
        return take_up(connection, number, find_instrument(instrument).key)


def players_of_student(school: School, student: Student) -> tuple[Student, ...]:
    """A student as the player of each of the own instruments."""
    with school.reading() as connection:
        return instruments_of(connection, student)
