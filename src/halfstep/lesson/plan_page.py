"""A day's practice -> its page: titles, keys, files and reasons put together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.course.unit import CourseUnit, Progression
from halfstep.etude.step import Step
from halfstep.lesson.pages import CARE
from halfstep.lesson.plan_words import (
    ROLES,
    VERDICTS,
    WEEK_LINES,
    WEEK_MANNER,
    WEEK_NOTE,
    day_words,
    item_title,
    length_words,
    loop_words,
    manner_words,
    minutes_words,
    rest_words,
    stop_words,
    why_words,
)
from halfstep.practice.practice_plan import ItemRole, PlanItem, PracticePlan
from halfstep.progression.chart import Chart
from halfstep.progression.key import Key
from halfstep.progression.sheet import LeadSheet
from halfstep.render.plan_paper import PaperItem, PaperRest, PlanPaper, WeekDay, WeekItem, WeekPaper


@dataclass(frozen=True, slots=True)
class PlannedItem:
    """An item with what it stands for.

    Attributes
    ----------
    item : PlanItem
    unit : CourseUnit
    progression : Progression
    step : Step
    sheet : LeadSheet
        The progression in the concert key that it is played in.
    chart : Chart
        The same as it is played.
    key : Key
        As the player reads it.
    """

    item: PlanItem
    unit: CourseUnit
    progression: Progression
    step: Step
    sheet: LeadSheet
    chart: Chart
    key: Key

    @property
    def title(self) -> str:
        """What it is called."""
        return item_title(self.unit, self.step)

    @property
    def facts(self) -> str:
        """What is played over, key and tempo."""
        return f"{self.music} · {self.tempo}"

    @property
    def music(self) -> str:
        """What is played over, and the key."""
        return f"{self.progression.title} · {self.key}"

    @property
    def tempo(self) -> str:
        """The tempo to come to."""
        beat = "♩." if self.chart.meter.compound else "♩"
        return f"{beat} = {self.item.tempo_bpm:g}"

    @property
    def goal(self) -> str:
        """What it is for, in one sentence."""
        if self.item.role is ItemRole.CHORUS:
            return self.unit.goal
        return f"{self.step.task.split('. ')[0].rstrip('.')}."


def plan_page(
    plan: PracticePlan, items: Sequence[PlannedItem], files: Sequence[str], *, player: str
) -> PlanPaper:
    """The page of a day.

    Parameters
    ----------
    files : sequence of str
        The names of each item's files, in words; empty texts for none.
    player : str
        Who practises, as printed.
    """
    day = day_words(plan.day)
    return PlanPaper(
        title=f"Practice, {day}",
        heading=day,
        player=player,
        facts=length_words(plan),
        manner=manner_words(plan),
        entries=tuple(_entries(plan, items, files)),
        ticks=tuple(VERDICTS.values()),
        care=CARE,
    )


def _entries(
    plan: PracticePlan, items: Sequence[PlannedItem], files: Sequence[str]
) -> Iterator[PaperItem | PaperRest]:
    rests = {rest.after: rest for rest in plan.rests}
    for number, (planned, names) in enumerate(zip(items, files, strict=True), start=1):
        yield _paper_item(number, planned, names, plan)
        if number in rests and number < len(items):
            rest = rests[number]
            yield PaperRest(rest_words(rest), minutes_words(rest.minutes))


def _paper_item(number: int, planned: PlannedItem, names: str, plan: PracticePlan) -> PaperItem:
    item = planned.item
    rows = (
        ("goal", planned.goal),
        ("why", why_words(item, plan.day)),
        ("play", loop_words(item, len(planned.chart.form))),
        ("stop", stop_words(item)),
    )
    facts = f"{planned.facts} · {names}" if names else planned.facts
    return PaperItem(
        number=number,
        title=planned.title,
        role=ROLES[item.role],
        facts=facts,
        minutes=minutes_words(item.minutes),
        rows=rows,
    )


def week_page(
    days: Sequence[tuple[PracticePlan, Sequence[PlannedItem]]], *, player: str
) -> WeekPaper:
    """The page of a week: each day's plan with what it stands for."""
    first, last = days[0][0].day, days[-1][0].day
    span = f"{day_words(first)} to {day_words(last)}"
    return WeekPaper(
        title=f"Practice, {span}",
        heading=f"{first.day} {first:%B} to {last.day} {last:%B}",
        player=player,
        facts=f"{minutes_words(days[0][0].minutes)} a day, rests among them",
        manner=WEEK_MANNER,
        days=tuple(
            WeekDay(
                f"{plan.day:%A}",
                f"{plan.day.day} {plan.day:%B}",
                tuple(_week_item(n, item) for n, item in enumerate(items, start=1)),
            )
            for plan, items in days
        ),
        lines=WEEK_LINES,
        note=WEEK_NOTE,
        care=CARE,
    )


def _week_item(number: int, planned: PlannedItem) -> WeekItem:
    return WeekItem(
        number=number,
        title=planned.title,
        role=ROLES[planned.item.role],
        facts=planned.music,
        minutes=minutes_words(planned.item.minutes),
        goal=planned.tempo,
    )
