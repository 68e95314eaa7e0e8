"""The practice room: it opens on what comes next, and hears how it went."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from starlette.responses import Response

from halfstep.app.rights import Deed
from halfstep.app.tasks.heard_take_tasks import belonging_of, place_of_take
from halfstep.app.tasks.practice_tasks import keep_word
from halfstep.app.tasks.room_places import NextPlace, PlanPlace, RoomPlace, SheetPlace
from halfstep.app.tasks.room_tasks import (
    DayItem,
    PlacedEtude,
    day_items,
    items_ahead,
    placed_etude,
    placed_title,
)
from halfstep.app.web.page import STATIC, leads_to, page, static_address
from halfstep.app.web.piece_view import shown_band
from halfstep.app.web.practised_words import practised_words
from halfstep.app.web.take_view import shown_take
from halfstep.app.web.visit import Visit
from halfstep.errors import NoSuchThing, ReadError
from halfstep.lesson.pages import CARE
from halfstep.lesson.plan_words import (
    VERDICTS,
    loop_words,
    minutes_words,
    rest_words,
    stop_words,
    why_words,
)
from halfstep.practice.evidence import Verdict
from halfstep.school.jobs import jobs_of
from halfstep.school.sent_takes import SentTake, find_sent_take
from halfstep.school.students import Student
from halfstep.services.take_evidence import CHORUS

MODULES = ("band", "tape", "chirp", "heard_notes")
"""What the room's script joins."""


@dataclass(frozen=True, slots=True)
class RoomItem:
    """An item of the day, as the room lists it.

    Attributes
    ----------
    number : int
    address, title : str
    word : str
        How it went, in a word; empty before.
    is_done : bool
    is_open : bool
        It is the one that is played just now.
    """

    number: int
    address: str
    title: str
    word: str
    is_done: bool
    is_open: bool


@dataclass(frozen=True, slots=True)
class DayOfTake:
    """The day of which a take is one item.

    Attributes
    ----------
    items : tuple of RoomItem
    word : str
        How its item went; empty where it was not judged yet.
    following : RoomItem or None
        The next one to be played; None where all others are done.
    """

    items: tuple[RoomItem, ...]
    word: str
    following: RoomItem | None


def show_room(visit: Visit) -> Response:
    """Open on the next item of today's plan; where all is done, on what tomorrow brings."""
    student = _practising(visit)
    today = date.today()
    items = day_items(visit.school, student, today)
    for item in items:
        if not item.is_done:
            return leads_to(item.place.address)
    tomorrow = today + timedelta(days=1)
    return page(
        visit,
        "room_done.html",
        items=tuple(map(_shown, items)),
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
    return page(
        visit,
        "room.html",
        place=place,
        title=placed_title(placed),
        band=shown_band(placed.etude),
        student=student,
        items=_items(visit, student, place) if isinstance(place, PlanPlace) else (),
        is_today=isinstance(place, PlanPlace) and place.day == date.today(),
        facts=tuple(_facts(placed)),
        rest=_rest(placed),
        is_own_line=placed.etude.etude.step.name == CHORUS,
        words=[(str(verdict), VERDICTS[verdict]) for verdict in Verdict],
        modules=_modules(),
        care=CARE,
    )


def _rest(placed: PlacedEtude) -> str:
    """What is said of a rest before an item; empty where there is none."""
    if not isinstance(placed.place, PlanPlace) or placed.plan is None:
        return ""
    before = placed.place.item - 1
    rests = (rest for rest in placed.plan.rests if rest.after == before)
    return next((f"{rest_words(rest)} {minutes_words(rest.minutes)}." for rest in rests), "")


def _modules() -> dict[str, str]:
    """The scripts that the room joins, by their names, as far as they are there."""
    files = {name: f"{name}.js" for name in MODULES}
    return {name: static_address(file) for name, file in files.items() if (STATIC / file).is_file()}


def _items(visit: Visit, student: Student, now: PlanPlace) -> tuple[RoomItem, ...]:
    """The items of a day with how they went."""
    return tuple(_shown(item, now) for item in day_items(visit.school, student, now.day))


def _shown(item: DayItem, now: PlanPlace | None = None) -> RoomItem:
    return RoomItem(
        item.place.item,
        item.place.address,
        item.planned.title,
        practised_words(item.practised),
        item.is_done,
        item.place == now,
    )


def _facts(placed: PlacedEtude) -> Iterator[tuple[str, str]]:
    """What is said of what is played, in rows."""
    if placed.planned is None or placed.plan is None:
        yield "goal", placed.etude.etude.step.task
        return
    item = placed.planned.item
    bars, minutes = len(placed.planned.chart.form), minutes_words(item.minutes)
    yield "goal", placed.planned.goal
    yield "why", why_words(item, placed.plan.day)
    yield "play", f"{loop_words(item, bars)}; {minutes}"
    yield "stop", stop_words(item)


def _told(visit: Visit, take: SentTake) -> dict[str, Any]:
    """What is shown of a take in the room, and where the day goes on."""
    try:
        heard = shown_take(visit.school, take)
    except ReadError:
        heard = None
    with visit.school.reading() as connection:
        jobs = jobs_of(connection, belonging_of(take))
    job = jobs[-1] if jobs else None
    return {"take": take, "heard": heard, "job": job, "day": _day_of_take(visit, take)}


def _day_of_take(visit: Visit, take: SentTake) -> DayOfTake | None:
    """The day that a take belongs to; None for one of no plan."""
    place = place_of_take(take)
    if not isinstance(place, PlanPlace):
        return None
    items = _items(visit, visit.player(), place)
    others = (item for item in items if not item.is_done and not item.is_open)
    word = next((item.word for item in items if item.is_open), "")
    return DayOfTake(items, word, next(others, None))
