"""What does a page of the practice room say? The day, the aims of what is played, the way back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from halfstep.app.tasks.heard_take_tasks import place_of_take
from halfstep.app.tasks.room_places import NextPlace, PlanPlace, RoomPlace, SheetPlace
from halfstep.app.tasks.room_tasks import DayItem, PlacedEtude, day_items
from halfstep.app.web.page_words import gettext, noted
from halfstep.app.web.practised_words import practised_words
from halfstep.app.web.take_view import shown_take
from halfstep.errors import ReadError
from halfstep.lesson.plan_words import (
    loop_words,
    minutes_words,
    rest_words,
    spot_bars,
    stop_words,
    why_words,
)
from halfstep.school.database import School
from halfstep.school.hand_outs import HandOut, hand_outs_of_student
from halfstep.school.sent_takes import SentTake, find_sent_take
from halfstep.school.students import Student


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


def room_items(school: School, student: Student, now: PlanPlace) -> tuple[RoomItem, ...]:
    """The items of a day with how they went."""
    return tuple(room_item(item, now) for item in day_items(school, student, now.day))


def room_item(item: DayItem, now: PlanPlace | None = None) -> RoomItem:
    """An item as the room lists it."""
    return RoomItem(
        item.place.item,
        item.place.address,
        item.planned.title,
        practised_words(item.practised),
        item.is_done,
        item.place == now,
    )


class Aim(NamedTuple):
    """A row of what is said of what is played.

    Attributes
    ----------
    name, words : str
    loop : tuple of int
        The first and the last of the bars that go round first; empty for all.
    """

    name: str
    words: str
    loop: tuple[int, ...] = ()


def aims(school: School, placed: PlacedEtude) -> Iterator[Aim]:
    """What is said of what is played, in rows."""
    if isinstance(placed.place, NextPlace):
        yield from _aims_of_next(school, placed.place)
    elif placed.planned is None or placed.plan is None:
        yield Aim(noted("goal"), placed.etude.etude.step.task)
    else:
        item = placed.planned.item
        bars, minutes = len(placed.planned.chart.form), minutes_words(item.minutes)
        yield Aim(noted("goal"), placed.planned.goal)
        yield Aim(noted("why"), why_words(item, placed.plan.day))
        yield Aim(noted("play"), f"{loop_words(item, bars)}; {minutes}", spot_bars(item, bars))
        yield Aim(noted("stop"), stop_words(item))


def _aims_of_next(school: School, place: NextPlace) -> Iterator[Aim]:
    """What was found in the take, and what to do."""
    with school.reading() as connection:
        take = find_sent_take(connection, place.take)
    try:
        heard = shown_take(school, take)
    except ReadError:
        return
    things = [thing for thing in heard.things if thing.number == place.number] if heard else []
    for thing in things:
        yield Aim(noted("goal"), f"{thing.words.title}.")
        yield Aim(noted("why"), thing.words.happened)
        yield Aim(noted("play"), thing.words.advice)


def rest_before(placed: PlacedEtude) -> str:
    """What is said of a rest before an item; empty where there is none."""
    if not isinstance(placed.place, PlanPlace) or placed.plan is None:
        return ""
    before = placed.place.item - 1
    rests = (rest for rest in placed.plan.rests if rest.after == before)
    return next((f"{rest_words(rest)} {minutes_words(rest.minutes)}." for rest in rests), "")


def way_back(school: School, place: RoomPlace) -> tuple[str, str]:
    """Where what is played belongs, as an address and in words; empty for an item of the plan."""
    if isinstance(place, SheetPlace):
        return f"/week#sheet-{place.sheet}", gettext("This week")
    if isinstance(place, PlanPlace):
        return "", ""
    with school.reading() as connection:
        take = find_sent_take(connection, place.take)
    played = place_of_take(take)
    return (
        (f"/my-takes/{take.number}", take.name) if played is None else (played.address, take.name)
    )


STAYS = timedelta(days=1)
"""So long after its day a sheet is still called to mind."""


def due_to_play(school: School, student: Student, today: date) -> tuple[HandOut, ...]:
    """What was handed out to a student and is to be played by a day to come."""
    with school.reading() as connection:
        given = hand_outs_of_student(connection, student.number or 0)
    return tuple(one for one in given if one.due_on and one.due_on + STAYS >= today)


def day_of_take(school: School, student: Student, take: SentTake) -> DayOfTake | None:
    """The day that a take belongs to; None for one of no plan."""
    place = place_of_take(take)
    if not isinstance(place, PlanPlace):
        return None
    items = room_items(school, student, place)
    others = (item for item in items if not item.is_done and not item.is_open)
    word = next((item.word for item in items if item.is_open), "")
    return DayOfTake(items, word, next(others, None))
