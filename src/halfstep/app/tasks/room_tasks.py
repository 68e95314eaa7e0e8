"""The practice room: what is played at a place, and a take of it that is sent.

Whatever the place, what is played is one etude: its chart, tempo and feel say what the band does,
and a take is heard by the same etude.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from halfstep.app.tasks.heard_take_tasks import ask_to_hear_piece
from halfstep.app.tasks.practice_tasks import PlanDay, plan_ahead, plan_day
from halfstep.app.tasks.room_places import (
    NO_SUCH_PLACE,
    NextPlace,
    PlanPlace,
    RoomPlace,
    SheetPlace,
    place_at,
)
from halfstep.course.course_folder import our_course
from halfstep.data.about_json import TakeAbout, read_about
from halfstep.data.feedback_json import next_etudes
from halfstep.errors import BriefError, NoSuchThing, ReadError
from halfstep.instruments import Instrument
from halfstep.lesson.plan_page import PlannedItem
from halfstep.level import Level
from halfstep.practice.practice_plan import PlanItem, PracticePlan
from halfstep.school.database import School, SchoolConnection
from halfstep.school.hand_outs import find_sheet
from halfstep.school.kept_files import KeptFiles
from halfstep.school.kept_plans import plan_of
from halfstep.school.practised import PractisedItem, practised_on
from halfstep.school.sent_takes import (
    SentTake,
    StoredRecording,
    find_sent_take,
    keep_sent_take,
)
from halfstep.school.students import Student
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.lesson_etude import lesson_etude, opened_reply
from halfstep.services.looped_etude import looped_etude
from halfstep.services.make_plan import etude_of_item, is_of_course, planned_item
from halfstep.services.opened_etude import opened_etude
from halfstep.services.room_piece import RoomWish, room_piece

LESSON_FILE = "lesson.json"
_KEPT_ETUDES = 128


def plan_of_day(school: School, student: Student, day: date) -> PracticePlan:
    """What is planned for a day; today's is made where there is none yet.

    Raises
    ------
    NoSuchThing
        When nothing was planned for another day.
    """
    with school.reading() as connection:
        plan = plan_of(connection, student.name, day)
    if plan is not None and is_of_course(plan, our_course()):
        return plan
    if day != date.today():
        raise NoSuchThing("nothing was planned for that day; begin at today's plan")
    return plan_day(school, PlanDay(student.name)).plan


class DayItem(NamedTuple):
    """An item of a day's plan, and how it went.

    Attributes
    ----------
    place : PlanPlace
    planned : PlannedItem
    practised : PractisedItem or None
        None before it was heard or spoken of.
    """

    place: PlanPlace
    planned: PlannedItem
    practised: PractisedItem | None

    @property
    def is_done(self) -> bool:
        """True where there is nothing more to do for it today."""
        return self.practised is not None and self.practised.is_done


def day_items(school: School, student: Student, day: date) -> tuple[DayItem, ...]:
    """The items of a day's plan, with how they went.

    Raises
    ------
    NoSuchThing
        When nothing was planned for that day.
    """
    plan = plan_of_day(school, student, day)
    with school.reading() as connection:
        kept = practised_on(connection, student.number or 0, day)
    return tuple(
        DayItem(
            PlanPlace(day, number),
            _planned_item(item, student.instrument),
            next((one for one in kept if one.is_of(item)), None),
        )
        for number, item in enumerate(plan.items, start=1)
    )


def items_ahead(school: School, student: Student, day: date) -> tuple[PlannedItem, ...]:
    """What would be planned for a day to come by what is known today; it is not kept."""
    reply = plan_ahead(school, student.name, day)
    return reply.items


class PlacedEtude(NamedTuple):
    """What is played at a place.

    Attributes
    ----------
    place : RoomPlace
    etude : EtudeReply
    planned : PlannedItem or None
        The item of the plan that it is.
    plan : PracticePlan or None
    """

    place: RoomPlace
    etude: EtudeReply
    planned: PlannedItem | None = None
    plan: PracticePlan | None = None


def placed_etude(school: School, student: Student, place: RoomPlace) -> PlacedEtude:
    """What a student plays at a place of the room.

    Raises
    ------
    NoSuchThing
        When there is no such place, or it is another student's.
    BriefError
        When no line can be written there.
    """
    match place:
        case PlanPlace():
            return _planned(school, student, place)
        case SheetPlace():
            return PlacedEtude(place, _of_sheet(school, student, place))
        case NextPlace():
            return PlacedEtude(place, _of_feedback(school, student, place))


def _planned(school: School, student: Student, place: PlanPlace) -> PlacedEtude:
    plan = plan_of_day(school, student, place.day)
    if not 0 < place.item <= len(plan.items):
        raise NoSuchThing(NO_SUCH_PLACE)
    item = plan.items[place.item - 1]
    planned, etude = _item_etude(item, student.instrument, student.level, student.known_notes)
    return PlacedEtude(place, etude, planned, plan)


@lru_cache(_KEPT_ETUDES)
def _planned_item(item: PlanItem, player: Instrument) -> PlannedItem:
    return planned_item(item, our_course(), player)


@lru_cache(_KEPT_ETUDES)
def _item_etude(
    item: PlanItem, player: Instrument, level: Level, known_notes: str
) -> tuple[PlannedItem, EtudeReply]:
    """Kept, since each sound of a piece asks for it."""
    planned = _planned_item(item, player)
    return planned, etude_of_item(planned, player, level, known_notes)


def _of_sheet(school: School, student: Student, place: SheetPlace) -> EtudeReply:
    with school.reading() as connection:
        sheet = find_sheet(connection, place.sheet)
    if sheet.student.number != student.number or not sheet.folder:
        raise NoSuchThing(NO_SUCH_PLACE)
    if sheet.student.doubling != student.doubling:
        instrument = sheet.student.instrument.label.lower()
        raise NoSuchThing(f"this is for the {instrument}; take it up on this week's page first")
    try:
        return _step_etude(school.files, f"{sheet.folder}/{LESSON_FILE}", place.step)
    except BriefError as error:
        raise NoSuchThing(error.marked_text) from None


@lru_cache(_KEPT_ETUDES)
def _step_etude(files: KeptFiles, lesson: str, step: str) -> EtudeReply:
    with files.at_hand(lesson) as folder:
        return lesson_etude(folder / lesson, step)


def _of_feedback(school: School, student: Student, place: NextPlace) -> EtudeReply:
    with school.reading() as connection:
        take = find_sent_take(connection, place.take)
    own = (take.student, take.doubling) == (student.number, student.doubling)
    etudes = next_etudes(take.feedback) if own else ()
    if not 0 < place.number <= len(etudes):
        raise NoSuchThing(NO_SUCH_PLACE)
    return opened_reply(opened_etude(etudes[place.number - 1]))


class RoomTake(NamedTuple):
    """What a take of the room is heard by.

    Attributes
    ----------
    placed : PlacedEtude
    about : TakeAbout
    hand_out : int or None
        What was handed out that it belongs to.
    etude : EtudeReply
        In the tempo, key and feel, and of the bars, that were played.
    whole : EtudeReply
        The same with all its bars.
    """

    placed: PlacedEtude
    about: TakeAbout
    hand_out: int | None
    etude: EtudeReply
    whole: EtudeReply

    @property
    def band_text(self) -> str:
        """Whose band sounded, as data."""
        return self.whole.file(".json").data.decode()


def room_take(school: School, student: Student, known: Mapping[str, Any]) -> RoomTake | None:
    """What a take is heard by, from what is known of it; None where that is there no more."""
    try:
        about = read_about(dict(known))
        placed = placed_etude(school, student, place_at(about.piece))
        wish = RoomWish(about.tempo_bpm, about.key, about.feel)
        whole = room_piece(placed.etude, wish).reply
        etude = looped_etude(whole, about.loop)
        return RoomTake(placed, about, _hand_out(school, placed.place), etude, whole)
    except (NoSuchThing, ReadError, BriefError):
        return None


def _hand_out(school: School, place: RoomPlace) -> int | None:
    if not isinstance(place, SheetPlace):
        return None
    with school.reading() as connection:
        return find_sheet(connection, place.sheet).hand_out


def keep_room_take(
    connection: SchoolConnection,
    student: Student,
    recording: StoredRecording,
    played: RoomTake | None,
    *,
    name: str,
    early: Path | None = None,
) -> SentTake:
    """Keep a take that was recorded in the room, to be heard by what it was played from.

    Parameters
    ----------
    connection : Connection
    student : Student
    recording : StoredRecording
    played : RoomTake or None
        Where it is None, the take is kept for the teacher alone.
    name : str
        What it is called.
    early : Path, optional
        The folder of what was heard of it while it was recorded, below the school's.
    """
    if played is None:
        return keep_sent_take(connection, recording, hand_out=None, name=name)
    take = keep_sent_take(
        connection, recording, hand_out=played.hand_out, name=name, about=played.about.text
    )
    ask_to_hear_piece(
        connection, student, take, played.etude, played.whole, played.about, early=early
    )
    return take


def placed_title(placed: PlacedEtude) -> str:
    """What is played, as it is called."""
    if placed.planned is not None:
        return placed.planned.title
    etude = placed.etude.etude
    return f"{etude.analysis.chart.title}: {etude.step.title.lower()}".removeprefix(": ")
