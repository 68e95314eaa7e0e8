"""The first start finds a class with its chart and sheets on the way, which go at one word."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from halfstep.app.demo import CHART, PLAYERS
from halfstep.app.tasks.chart_tasks import kept_sheet, typed_content
from halfstep.app.tasks.handing_tasks import GiveLesson, end_class, give_in
from halfstep.app.tasks.student_tasks import AddStudent, student_asked_for
from halfstep.school.classes import add_class, every_class, join_class
from halfstep.school.database import School, SchoolConnection
from halfstep.school.demo_things import (
    demo_numbers,
    mark_demo,
    mark_offered,
    own_now,
    was_offered,
)
from halfstep.school.kept_charts import add_chart, find_chart, remove_chart
from halfstep.school.leaving import erase_student
from halfstep.school.students import add_student, every_student, find_student, student_of_number
from halfstep.services.make_lesson import MakeLesson

CLASS_NAME = "Room Twelve (demo)"
STEPS = "1,6"
NOTE = (
    "This is the demo. Play the arpeggio until it is easy. In the one-line etude nothing changes "
    "at a bar line but the notes that must: hear them first, then play them."
)
DAYS_TO_PLAY = 7


def make_demo(school: School) -> bool:
    """Make the demo class where nothing is kept yet; True when it was made.

    Raises
    ------
    StoreError
    """
    with school.writing() as connection:
        if was_offered(connection) or every_student(connection) or every_class(connection):
            return False
        mark_offered(connection)
        _class_handed_out(connection)
    return True


def _class_handed_out(connection: SchoolConnection) -> None:
    class_number = add_class(connection, CLASS_NAME).number
    mark_demo(connection, "class", class_number)
    for request in _players():
        add_student(connection, student_asked_for(request))
        join_class(connection, class_number, request.name)
        mark_demo(connection, "student", find_student(connection, request.name).number or 0)
    content = typed_content(CHART)
    chart = add_chart(connection, title=content.title, text=content.text)
    mark_demo(connection, "chart", chart)
    lesson = MakeLesson(kept_sheet(find_chart(connection, chart)), Path("made"), (), STEPS)
    give_in(
        connection,
        GiveLesson(
            lesson=lesson,
            title=content.title,
            class_number=class_number,
            chart=chart,
            note=NOTE,
            due_on=date.today() + timedelta(days=DAYS_TO_PLAY),
        ),
    )


def _players() -> list[AddStudent]:
    """Those of the demo lesson, each as a student."""
    return [
        AddStudent(name.strip(), instrument, "intermediate")
        for instrument, names in (row.split("::") for row in PLAYERS)
        for name in names.split(",")
    ]


def has_demo(connection: SchoolConnection) -> bool:
    """True while the demo class is there."""
    return bool(demo_numbers(connection, "class"))


def remove_demo(school: School) -> None:
    """Remove the demo: its class, players, sheets, and its chart unless the teacher changed it.

    Raises
    ------
    StoreError
    """
    with school.reading() as connection:
        classes, students = (demo_numbers(connection, kind) for kind in ("class", "student"))
        names = [student_of_number(connection, number).name for number in students]
    for number in classes:
        end_class(school, number)
    for name in names:
        erase_student(school, name)
    with school.writing() as connection:
        for number in demo_numbers(connection, "chart"):
            if find_chart(connection, number).text == typed_content(CHART).text:
                remove_chart(connection, number)
            own_now(connection, "chart", number)
