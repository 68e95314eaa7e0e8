"""The practice room: it opens on what comes next, and hears how it went."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from starlette.responses import Response

from halfstep.app.tasks.heard_take_tasks import awaited_hearing
from halfstep.app.tasks.practice_tasks import keep_word
from halfstep.app.tasks.room_places import NextPlace, PlanPlace, RoomPlace, SheetPlace
from halfstep.app.tasks.room_tasks import (
    day_items,
    items_ahead,
    placed_etude,
    placed_title,
)
from halfstep.app.web.consent_view import consent_view
from halfstep.app.web.page import leads_to, page, static_address
from halfstep.app.web.piece_view import shown_band
from halfstep.app.web.room_view import (
    aims,
    day_of_take,
    due_to_play,
    rest_before,
    room_item,
    room_items,
    way_back,
)
from halfstep.app.web.take_view import shown_take
from halfstep.app.web.visit import Visit
from halfstep.errors import NoSuchThing, ReadError
from halfstep.lesson.pages import CARE
from halfstep.lesson.plan_words import (
    VERDICTS,
)
from halfstep.practice.evidence import Verdict
from halfstep.school.consents import Purpose
from halfstep.school.doublings import instruments_of
from halfstep.school.sent_takes import SentTake, find_sent_take
from halfstep.school.students import Student
from halfstep.services.take_evidence import CHORUS

MODULES = ("interruptions", "band", "tape", "chirp", "heard_notes", "told_take", "room_ways")
"""What the room's script joins."""
UNRECORDED_MODULES = ("interruptions", "band", "room_ways")
"""The same where nothing may be recorded."""


def show_room(visit: Visit) -> Response:
    """Open on the next item of today's plan; where all is done, on what tomorrow brings."""
    student = _practising(visit)
    today = date.today()
    items = day_items(visit.school, student, today)
    for item in items:
        if not item.is_done:
            return leads_to(item.place.address)
    tomorrow = today + timedelta(days=1)
    with visit.school.reading() as connection:
        played = instruments_of(connection, student)
    return page(
        visit,
        "room_done.html",
        student=student,
        played=played,
        items=tuple(map(room_item, items)),
        tomorrow=tomorrow,
        ahead=items_ahead(visit.school, student, tomorrow),
        care=CARE,
    )


def open_item(visit: Visit) -> Response:
    """Open on an item of today's plan."""
    _practising(visit)
    return leads_to(PlanPlace(date.today(), visit.number("item")).address)


def show_plan_item(visit: Visit) -> Response:
    """The room with an item of a day's plan."""
    return _room(visit, _plan_place(visit))


def show_sheet_step(visit: Visit) -> Response:
    """The room with a step of a sheet that was handed out."""
    return _room(visit, SheetPlace(visit.number("sheet"), visit.word("step")))


def show_next(visit: Visit) -> Response:
    """The room with what feedback gave to play next."""
    return _room(visit, NextPlace(visit.number("take"), visit.number("number")))


def say_word(visit: Visit) -> Response:
    """Take down how an item went, in the player's own word, and go on to the next."""
    student, place = _practising(visit), _plan_place(visit)
    day = place.day.isoformat()
    keep_word(visit.school, student.name, str(place.item), visit.text("word"), day=day)
    return leads_to("/room")


def show_told(visit: Visit) -> Response:
    """What was heard in a take of the room, as a part of its page."""
    with visit.school.reading() as connection:
        take = find_sent_take(connection, visit.number("take"))
    return page(visit, "room_take.html", **_told(visit, take))


def _practising(visit: Visit) -> Student:
    student = visit.player()
    return student


def _plan_place(visit: Visit) -> PlanPlace:
    try:
        return PlanPlace(date.fromisoformat(visit.word("day")), visit.number("item"))
    except ValueError:
        raise NoSuchThing("there is no such day") from None


def _room(visit: Visit, place: RoomPlace) -> Response:
    school, student = visit.school, _practising(visit)
    placed = placed_etude(school, student, place)
    with school.reading() as connection:
        consents = consent_view(connection, student.number or 0, visit.visitor)
        played = instruments_of(connection, student)
    modules = MODULES if consents.allows(Purpose.RECORDING) else UNRECORDED_MODULES
    return page(
        visit,
        "room.html",
        place=place,
        title=placed_title(placed),
        band=shown_band(placed.etude),
        student=student,
        played=played,
        items=room_items(school, student, place) if isinstance(place, PlanPlace) else (),
        is_today=isinstance(place, PlanPlace) and place.day == date.today(),
        due=due_to_play(school, student, date.today()),
        back=way_back(school, place),
        aims=tuple(aims(school, placed)),
        rest=rest_before(placed),
        is_own_line=placed.etude.etude.step.name == CHORUS,
        words=[(str(verdict), VERDICTS[verdict]) for verdict in Verdict],
        modules={name: static_address(f"{name}.js") for name in modules},
        consents=consents,
        care=CARE,
    )


def _told(visit: Visit, take: SentTake) -> dict[str, Any]:
    """What is shown of a take in the room, and where the day goes on."""
    try:
        heard = shown_take(visit.school, take)
    except ReadError:
        heard = None
    job = awaited_hearing(visit.school, take)
    day = day_of_take(visit.school, visit.player(), take)
    return {"take": take, "heard": heard, "job": job, "day": day}
