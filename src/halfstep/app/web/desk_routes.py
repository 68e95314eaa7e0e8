"""The desk: what waits for the teacher."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from starlette.responses import Response

from halfstep.app.tasks.demo_tasks import has_demo, remove_demo
from halfstep.app.tasks.handing_tasks import has_failed
from halfstep.app.web.calendar_routes import calendar_link
from halfstep.app.web.page import NO_FAULT, FormFault, leads_to, page
from halfstep.app.web.visit import Visit
from halfstep.school.belonging import Belonging, Reach
from halfstep.school.classes import every_class
from halfstep.school.database import SchoolConnection
from halfstep.school.hand_outs import HandOut, due_hand_outs, sheets_of
from halfstep.school.practised import last_practised
from halfstep.school.sent_takes import sent_for, unanswered
from halfstep.school.students import every_student

DAYS_AHEAD, DAYS_PAST = 7, 7
"""What is due within these stands on the desk."""
PRACTISED_SHOWN = timedelta(days=7)
"""Who practised since then stands on the desk."""
_SHOWN_TAKES = 6


@dataclass(frozen=True, slots=True)
class DueHandOut:
    """What is due soon, or was a short while ago.

    Attributes
    ----------
    given : HandOut
    whom : str
    silent : tuple of str
        Who has sent nothing for it.
    players : int
        How many have it.
    failed : int
        How many could not get it.
    """

    given: HandOut
    whom: str
    silent: tuple[str, ...]
    players: int
    failed: int

    @property
    def sent(self) -> int:
        """How many have sent a take."""
        return self.players - len(self.silent)


def show_desk(visit: Visit) -> Response:
    """What waits."""
    return desk_page(visit)


def desk_page(visit: Visit, phones_fault: FormFault = NO_FAULT) -> Response:
    """The desk; with why phones cannot be let in, where they cannot."""
    today = date.today()
    with visit.school.reading() as connection:
        reach = visit.reach(connection)
        classes = [one for one in every_class(connection) if one.number in reach.classes]
        students = [one for one in every_student(connection) if one.number in reach.students]
        whom = {("class", one.number): one.name for one in classes}
        whom |= {("student", one.number or 0): one.name for one in students}
        due = [_due(connection, one, whom, reach) for one in _soon(connection, today, reach)]
        takes = [one for one in unanswered(connection) if one.student in reach.senders]
        played = last_practised(connection, today - PRACTISED_SHOWN)
        practised = {one: day for one, day in played.items() if one in reach.students}
        is_demo = has_demo(connection)
    return page(
        visit,
        "desk.html",
        status=422 if phones_fault.line else 200,
        phones_fault=phones_fault,
        classes=classes,
        students=students,
        names={student.number: student.name for student in students},
        takes=takes[::-1][:_SHOWN_TAKES],
        waiting=len(takes),
        due=due,
        practised=sorted(practised.items(), key=lambda item: item[1], reverse=True),
        today=today,
        is_demo=is_demo,
        calendar=calendar_link(visit),
    )


def _soon(connection: SchoolConnection, today: date, reach: Reach) -> list[HandOut]:
    """What is due about now, the earliest day first."""
    first, last = today - timedelta(days=DAYS_PAST), today + timedelta(days=DAYS_AHEAD)
    near = (
        one
        for one in due_hand_outs(connection, first, last)
        if reach.has(Belonging(class_number=one.class_number, student=one.student))
    )
    return sorted(near, key=lambda one: (one.due_on or last, one.number))


def _due(
    connection: SchoolConnection, given: HandOut, whom: dict[tuple[str, int], str], reach: Reach
) -> DueHandOut:
    sheets = sheets_of(connection, given.number)
    sent = {take.student for take in sent_for(connection, given.number)}
    senders = {number for number in sent if number in reach.senders}
    key = ("class", given.class_number) if given.class_number else ("student", given.student or 0)
    players = {sheet.student.number: sheet.student.name for sheet in sheets}
    return DueHandOut(
        given,
        whom[key],
        tuple(name for number, name in players.items() if number not in senders),
        len(players),
        sum(map(has_failed, sheets)),
    )


def end_demo(visit: Visit) -> Response:
    """Remove the demo class with all that belongs to it."""
    remove_demo(visit.school)
    return leads_to("/desk")
