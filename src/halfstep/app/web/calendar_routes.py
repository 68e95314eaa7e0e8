"""What is due as a calendar: the teacher's with all of it, and each player's own."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import date, timedelta

from starlette.responses import Response

from halfstep.app.rights import Visitor
from halfstep.app.web.calendar_feed import CalendarDay, calendar_text
from halfstep.app.web.site_state import Site
from halfstep.app.web.visit import Visit
from halfstep.school.classes import every_class
from halfstep.school.hand_outs import HandOut, due_hand_outs, hand_outs_of_student
from halfstep.school.invitations import (
    calendar_number,
    calendar_word,
    links_of,
    standing_invitation,
)
from halfstep.school.students import every_student

DAYS_PAST, DAYS_AHEAD = 366, 3 * 366
"""What the teacher's calendar shows."""


def show_calendar(visit: Visit) -> Response:
    """The calendar of a word, which is all that it shows.

    Raises
    ------
    NoSuchThing
        When the word is none, or its link was withdrawn.
    """
    number = calendar_number(visit.site.secret, visit.word("word"))
    text = _teachers(visit) if number is None else _players(visit, number)
    return Response(text, media_type="text/calendar; charset=utf-8")


def calendar_link(visit: Visit) -> str:
    """The address of the calendar of who visits; empty for who has none."""
    path = calendar_path(visit.site, visit.visitor)
    return visit.link(path) if path else ""


def calendar_path(site: Site, visitor: Visitor) -> str:
    """Where somebody's calendar is; empty for who has none."""
    if visitor.is_teacher and visitor.teaches_as is None:
        return f"/calendar/{calendar_word(site.secret, None)}.ics"
    student = visitor.student
    if student is None:
        return ""
    with site.school.reading() as connection:
        link = links_of(connection, [student]).get(student.number or 0)
    return f"/calendar/{calendar_word(site.secret, link.number)}.ics" if link else ""


def _teachers(visit: Visit) -> str:
    with visit.school.reading() as connection:
        given = due_hand_outs(connection, *_shown_days())
        classes = {one.number: one.name for one in every_class(connection)}
        students = {one.number: one.name for one in every_student(connection)}
    rows = (
        (f"{classes.get(one.class_number or 0) or students[one.student or 0]}: {one.title}", one)
        for one in given
    )
    return calendar_text("Handed out", _days(visit, rows, "/hand-outs/{}"))


def _shown_days() -> tuple[date, date]:
    today = date.today()
    return today - timedelta(days=DAYS_PAST), today + timedelta(days=DAYS_AHEAD)


def _players(visit: Visit, number: int) -> str:
    with visit.school.reading() as connection:
        student = standing_invitation(connection, number).student
        given = () if student is None else hand_outs_of_student(connection, student.number or 0)
    return calendar_text("To play", _days(visit, ((one.title, one) for one in given), "/week"))


def _days(visit: Visit, rows: Iterable[tuple[str, HandOut]], page: str) -> Iterable[CalendarDay]:
    """Days of what has one, each with the address of a page."""
    school = hashlib.sha256(b"calendar" + visit.site.secret).hexdigest()[:16]
    return (
        CalendarDay(
            name=f"hand-out-{one.number}-{one.made_at:%Y%m%d%H%M%S}@{school}.halfstep",
            day=one.due_on,
            title=title,
            words=one.note,
            address=visit.link(page.format(one.number)),
            changed_at=one.made_at,
        )
        for title, one in rows
        if one.due_on
    )
