"""The practice room: it opens on what comes next, and hears how it went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from starlette.responses import Response

from halfstep.app.rights import Deed
from halfstep.app.tasks.practice_tasks import keep_word
from halfstep.app.tasks.room_places import NextPlace, PlanPlace, RoomPlace, SheetPlace
from halfstep.app.tasks.room_tasks import (
    PlacedEtude,
    placed_etude,
    placed_title,
    plan_of_day,
)
from halfstep.app.web.page import STATIC, leads_to, page, static_address
from halfstep.app.web.take_view import shown_take
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError, NoSuchThing
from halfstep.lesson.pages import CARE
from halfstep.lesson.plan_words import VERDICTS, loop_words, minutes_words, stop_words, why_words
from halfstep.practice.evidence import Verdict
from halfstep.school.practised import PractisedItem, practised_on
from halfstep.school.sent_takes import SentTake, find_sent_take
from halfstep.school.students import Student

MODULES = ("band", "tape", "chirp")
"""What the room's script joins."""


@dataclass(frozen=True, slots=True)
class RoomItem:
    """An item of the day, as the room lists it.

    Attributes
    ----------
    number : int
    address, title : str
    word : str
        What the player said of it; empty before.
    is_open : bool
        It is the one that is played just now.
    """

    number: int
    address: str
    title: str
    word: str
    is_open: bool


def show_room(visit: Visit) -> Response:
    """Open on the next item of today's plan."""
    student = _practising(visit)
    today = date.today()
    plan = plan_of_day(visit.school, student, today)
    said = _said(visit, student, today)
    for number, item in enumerate(plan.items, start=1):
        if not any(word.is_of(item) for word in said):
            return leads_to(PlanPlace(today, number).address)
    return page(visit, "room_done.html", items=_items(visit, student, today), care=CARE)


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
    return _room(visit, NextPlace(visit.number("take"), visit.number("next")))


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
    visit.demand(Deed.PRACTISE, take.student)
    return page(visit, "room_take.html", **_told(visit, take))


def _practising(visit: Visit) -> Student:
    student = visit.player()
    visit.demand(Deed.PRACTISE, student.number)
    return student


def _plan_place(visit: Visit) -> PlanPlace:
    try:
        return PlanPlace(date.fromisoformat(visit.word("day")), visit.number("item"))
    except ValueError:
        raise NoSuchThing("there is no such day") from None


def _room(visit: Visit, place: RoomPlace) -> Response:
    student = _practising(visit)
    placed = placed_etude(visit.school, student, place)
    items = _items(visit, student, place.day, place) if isinstance(place, PlanPlace) else ()
    return page(
        visit,
        "room.html",
        place=place,
        title=placed_title(placed),
        student=student,
        items=items,
        facts=_facts(placed),
        words=[(str(verdict), VERDICTS[verdict]) for verdict in Verdict],
        rest=None,
        modules=_modules(),
        care=CARE,
    )


def _modules() -> dict[str, str]:
    """The scripts that the room joins, by their names, as far as they are there."""
    files = {name: f"{name}.js" for name in MODULES}
    return {name: static_address(file) for name, file in files.items() if (STATIC / file).is_file()}


def _items(
    visit: Visit, student: Student, day: date, now: PlanPlace | None = None
) -> tuple[RoomItem, ...]:
    """The items of a day with what was said of them."""
    plan, said = plan_of_day(visit.school, student, day), _said(visit, student, day)
    places = [PlanPlace(day, number) for number in range(1, len(plan.items) + 1)]
    return tuple(
        RoomItem(
            place.item,
            place.address,
            placed_title(placed_etude(visit.school, student, place)),
            next((VERDICTS[word.word] for word in said if word.is_of(item)), ""),
            place == now,
        )
        for place, item in zip(places, plan.items, strict=True)
    )


def _said(visit: Visit, student: Student, day: date) -> tuple[PractisedItem, ...]:
    with visit.school.reading() as connection:
        return practised_on(connection, student.number or 0, day)


def _facts(placed: PlacedEtude) -> tuple[tuple[str, str], ...]:
    """What stands over the music, in rows."""
    if placed.planned is None or placed.plan is None:
        return (("goal", placed.etude.etude.step.task),)
    item = placed.planned.item
    return (
        ("goal", placed.planned.goal),
        ("why", why_words(item, placed.plan.day)),
        (
            "play",
            f"{loop_words(item, len(placed.planned.chart.form))}; {minutes_words(item.minutes)}",
        ),
        ("stop", stop_words(item)),
    )


def _told(visit: Visit, take: SentTake) -> dict[str, Any]:
    try:
        heard = shown_take(visit.school, take)
    except BriefError:
        heard = None
    return {"take": take, "heard": heard}
