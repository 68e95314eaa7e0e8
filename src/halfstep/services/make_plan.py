"""What does a student practise on a day? Evidence in, items out: sheets, backings and a page.

Nothing is known here of who the student is, or where evidence is kept; both come as values.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.course.unit import Course
from halfstep.course.written_keys import written_key
from halfstep.data.documents import json_text
from halfstep.data.plan_json import WEEK_FORM, plan_data, read_plan
from halfstep.errors import BriefError, ReadError
from halfstep.etude.steps import find_step
from halfstep.files import whole_folder
from halfstep.instruments import Instrument
from halfstep.lesson.course_sheet import keyed_sheet
from halfstep.lesson.plan_page import PlannedItem, plan_page, week_page
from halfstep.lesson.plan_words import few_bars
from halfstep.level import Level
from halfstep.practice.practice_plan import PlanItem, PracticePlan
from halfstep.progression.form import played
from halfstep.render.plan_paper import PlanPaper, WeekPaper, plan_pdf, week_pdf
from halfstep.render.print_setting import USUAL, PrintSetting, print_setting
from halfstep.services.looped_etude import looped_etude
from halfstep.services.request_fields import (
    Progress,
    demand_minutes,
    no_progress,
    paper_of,
)
from halfstep.services.student_request import StudentRequest, reader_words, student_course
from halfstep.services.write_etude import WriteEtude, write_one_etude

if TYPE_CHECKING:
    from halfstep.practice.belief_milestones import KeptMilestone
    from halfstep.practice.beliefs import Beliefs
    from halfstep.render.typesetting import PaperName
    from halfstep.services.etude_reply import EtudeReply

PLAN_STEM, WEEK_STEM = "plan", "week"
ITEM_STEM = "item"
HEARD_TIMES = 2
"""How often a line goes round in its sound: it is heard first, then played along with."""


@dataclass(frozen=True, slots=True)
class MakePlan(StudentRequest):
    """A request for a day's practice.

    Attributes
    ----------
    minutes : float
    known_notes : str
        The only written notes to use; empty for all of the level.
    plan : PracticePlan or None
        One that stands already for that day, instead of a new one.
    paper : str
        ``a4`` or ``letter``.
    print_setting : str
        How large, how many bars on a line, on which tint: ``large``, ``9mm 3 bars cream``; empty
        for the usual. See `halfstep.render.print_setting`.
    """

    minutes: float = 30.0
    known_notes: str = ""
    plan: PracticePlan | None = None
    paper: str = "a4"
    print_setting: str = ""


@dataclass(frozen=True)
class PlanReply:
    """A day's practice.

    Attributes
    ----------
    plan : PracticePlan
    course : Course
    player : Instrument
    level : Level
    name, known_notes : str
    beliefs : Beliefs
        What the plan rests on.
    paper : {'a4', 'letter'}
    setting : PrintSetting
        How large its pages are, and on which tint.
    """

    plan: PracticePlan
    course: Course
    player: Instrument
    level: Level
    name: str
    known_notes: str
    beliefs: Beliefs = field(repr=False)
    paper: PaperName
    setting: PrintSetting = USUAL

    @property
    def notices(self) -> tuple[str, ...]:
        """What was not counted, and why."""
        return self.beliefs.notices

    @cached_property
    def items(self) -> tuple[PlannedItem, ...]:
        """The items with what they stand for."""
        return tuple(planned_item(item, self.course, self.player) for item in self.plan.items)

    @property
    def reader(self) -> str:
        """Who practises, as printed."""
        return reader_words(self.name, self.player)

    def data(self) -> dict[str, Any]:
        """The plan as plain lists and dictionaries."""
        return plan_data(self.plan)

    def page(self, *, with_files: bool = True) -> PlanPaper:
        """All that stands on the page, in words."""
        numbers = range(1, len(self.items) + 1)
        files = [_file_words(number) if with_files else "" for number in numbers]
        return plan_page(self.plan, self.items, files, player=self.reader)

    def _repr_html_(self) -> str:
        from halfstep.services.notebook import plan_html

        return plan_html(self.page(with_files=False))

    def write(self, folder: Path, *, progress: Progress = no_progress) -> tuple[Path, ...]:
        """Write page, sheets, sounds and backings into a folder, or nothing, and return them.

        Raises
        ------
        BriefError
            When it cannot be written to, or holds something else.
        """
        earlier = _earlier_files(folder)
        with whole_folder(folder) as work:
            names = list(_written(self, work, progress))
        for name in earlier - {*names}:
            (folder / name).unlink(missing_ok=True)
        return tuple(folder / name for name in names)


@dataclass(frozen=True, slots=True)
class WeekReply:
    """A week of practice, as far as it can be seen.

    Attributes
    ----------
    days : tuple of PlanReply
        The first stands; the others are as if all went as expected.
    """

    days: tuple[PlanReply, ...]

    def data(self) -> dict[str, Any]:
        """The plans as plain lists and dictionaries."""
        return {**WEEK_FORM.head, "days": [day.data() for day in self.days]}

    def page(self) -> WeekPaper:
        """All that stands on the page, in words."""
        days = [(day.plan, day.items) for day in self.days]
        return week_page(days, player=self.days[0].reader)

    def pdf(self) -> bytes:
        """The page, to be printed and taken home."""
        first = self.days[0]
        return week_pdf(self.page(), sheet=first.paper, setting=first.setting)

    def write(self, folder: Path) -> tuple[Path, ...]:
        """Write the page and the data into a folder, or nothing, and return them.

        Raises
        ------
        BriefError
            When it cannot be written to.
        """
        with whole_folder(folder) as work:
            (work / f"{WEEK_STEM}.pdf").write_bytes(self.pdf())
            (work / f"{WEEK_STEM}.json").write_text(json_text(self.data()), "utf-8")
        return folder / f"{WEEK_STEM}.pdf", folder / f"{WEEK_STEM}.json"


def make_week(request: MakePlan, *, kept: Sequence[KeptMilestone] = ()) -> WeekReply:
    """Plan a day's practice, and see six more days after it.

    Parameters
    ----------
    request : MakePlan
    kept : sequence of KeptMilestone
        As for `make_plan`.

    Raises
    ------
    BriefError, ReadError
        As `make_plan`.
    """
    from halfstep.practice.week import week_from

    first = make_plan(request, kept=kept)
    plans = week_from(first.beliefs, first.plan)
    return WeekReply(tuple(replace(first, plan=plan) for plan in plans))


def make_plan(request: MakePlan, *, kept: Sequence[KeptMilestone] = ()) -> PlanReply:
    """Plan a day's practice.

    Parameters
    ----------
    request : MakePlan
    kept : sequence of KeptMilestone
        Of an earlier plan, to save time; those that do not lead to this one are passed over.

    Raises
    ------
    BriefError
        When a field makes no sense.
    ReadError
        When the course cannot be read.
    """
    from halfstep.practice.belief_milestones import beliefs_from
    from halfstep.practice.plan_choice import practice_plan

    demand_minutes(request.minutes)
    paper, setting = paper_of(request.paper), print_setting(request.print_setting)
    course, syllabus, player, level, day = student_course(request)
    beliefs = beliefs_from(kept, syllabus, request.evidence, day)
    plan = request.plan
    if plan is None or not is_of_course(plan, course):
        plan = practice_plan(beliefs, day, request.minutes)
    return PlanReply(
        plan,
        course,
        player,
        level,
        request.name,
        request.known_notes,
        beliefs,
        paper,
        setting,
    )


def is_of_course(plan: PracticePlan, course: Course) -> bool:
    """Whether all that was planned is still in the course."""
    units = {unit.name: unit for unit in course.units}
    return all(
        item.skill.unit in units
        and item.skill.step in units[item.skill.unit].steps
        and item.progression < len(units[item.skill.unit].progressions)
        for item in plan.items
    )


def planned_item(item: PlanItem, course: Course, player: Instrument) -> PlannedItem:
    """An item with its chords in the key that is played."""
    unit = course.unit(item.skill.unit)
    assert unit is not None
    progression = unit.progressions[item.progression % len(unit.progressions)]
    sheet = keyed_sheet(unit, progression, item.skill.key, player)
    return PlannedItem(
        item,
        unit,
        progression,
        find_step(item.skill.step),
        sheet,
        played(sheet),
        written_key(item.skill.key, is_minor=unit.is_minor),
    )


def played_part(item: PlanItem, course: Course, player: Instrument) -> float:
    """Which share of its bars an item is, in whole bars; 1 for all."""
    if item.part == 1:
        return 1.0
    bars = len(planned_item(item, course, player).chart.form)
    first, last = few_bars(item, bars) or (1, bars)
    return (last - first + 1) / bars


# Files


_OURS = re.compile(rf"{PLAN_STEM}\.(json|pdf)|{ITEM_STEM}-\d(-(line|backing))?\.[a-z0-9]+")
"""The names of files of a plan."""


def _earlier_files(folder: Path) -> set[str]:
    """The files of an earlier plan, which new ones take the place of.

    Raises
    ------
    BriefError
        When a file of that name is none of ours.
    """
    data = folder / f"{PLAN_STEM}.json"
    if not data.is_file():
        return set()
    try:
        read_plan(data.read_text("utf-8"))
    except (ReadError, OSError, UnicodeDecodeError):
        raise BriefError(f"{data} is no plan of ours; choose another `folder`") from None
    return {path.name for path in folder.iterdir() if _OURS.fullmatch(path.name)}


def _written(reply: PlanReply, work: Path, progress: Progress) -> Iterator[str]:
    """Write all files and give their names."""
    pieces = 4 * len(reply.items) + 1
    names: list[str] = []
    for number, item in enumerate(reply.items, start=1):
        for name in _item_written(reply, number, item, work):
            names.append(name)
            progress(len(names) / pieces, f"item {number}")
            yield name
    page = plan_pdf(reply.page(), sheet=reply.paper, setting=reply.setting)
    (work / f"{PLAN_STEM}.pdf").write_bytes(page)
    (work / f"{PLAN_STEM}.json").write_text(json_text(reply.data()), "utf-8")
    progress(1.0, "the page")
    yield from (f"{PLAN_STEM}.pdf", f"{PLAN_STEM}.json")


def _file_words(number: int) -> str:
    return f"{ITEM_STEM}-{number}: sheet, line, backing"


def _item_written(reply: PlanReply, number: int, item: PlannedItem, work: Path) -> Iterator[str]:
    """Sheet, line and backing of an item, and its etude as data, for what is heard later."""
    stem = f"{ITEM_STEM}-{number}"
    whole = replace(item_etude(reply, item), setting=reply.setting)
    etude = _of_few_bars(whole, item)
    (work / f"{stem}.pdf").write_bytes(etude.sheet(reply.paper))
    yield f"{stem}.pdf"
    (work / f"{stem}.json").write_bytes(etude.file(".json").data)
    yield f"{stem}.json"
    (work / f"{stem}-line{_SOUND}").write_bytes(etude.sound(times=HEARD_TIMES).data)
    yield f"{stem}-line{_SOUND}"
    _write_backing(item, etude, work / f"{stem}-backing{_SOUND}")
    yield f"{stem}-backing{_SOUND}"


def _of_few_bars(etude: EtudeReply, item: PlannedItem) -> EtudeReply:
    """The bars that go round alone, or all of them."""
    bars = few_bars(item.item, len(item.chart.form))
    if not bars:
        return etude
    return looped_etude(etude, bars, title=f"{item.chart.title}, bars {bars[0]} to {bars[1]}")


_SOUND = ".m4a"


def item_etude(reply: PlanReply, item: PlannedItem) -> EtudeReply:
    """The line of an item, as `etude_of_item` writes it."""
    return etude_of_item(item, reply.player, reply.level, reply.known_notes)


def etude_of_item(
    item: PlannedItem, player: Instrument, level: Level, known_notes: str
) -> EtudeReply:
    """The line of an item: of its step, or of an easier one where none can be written.

    Raises
    ------
    BriefError
        When not even the easiest can be.
    """
    steps = item.unit.steps[: item.unit.steps.index(item.step.name) + 1]
    for notes in (known_notes, "") if known_notes else ("",):
        for step in reversed(steps):
            try:
                return write_one_etude(
                    WriteEtude(
                        item.sheet,
                        step,
                        instrument=player.key,
                        level=str(level),
                        tempo_bpm=item.item.tempo_bpm,
                        known_notes=notes or None,
                        seed=item.item.seed % MOST_SEEDS,
                    )
                )
            except BriefError as error:
                blocked = error
    raise blocked


MOST_SEEDS = 1000


def _write_backing(item: PlannedItem, etude: EtudeReply, path: Path) -> None:
    from halfstep.lesson.backing_brief import BackingBrief, backing_pieces
    from halfstep.lesson.backings import write_backing

    brief = BackingBrief(
        chart=etude.etude.analysis.chart,
        style=etude.brief.band_style,
        tempi=(item.item.tempo_bpm,),
        seed=etude.brief.seed,
        exact_time=etude.brief.level is Level.BEGINNER,
    )
    (piece,) = backing_pieces(brief)
    write_backing(brief, piece, path)
