"""A student's day: what is planned, what the player says of it, what a take shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from halfstep.app.tasks.practised_tasks import item_said, word_source
from halfstep.app.tasks.student_tasks import student_fields
from halfstep.course.course_folder import our_course
from halfstep.errors import BriefError
from halfstep.practice.belief_milestones import KeptMilestone
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.practice_plan import PlanItem, PracticePlan
from halfstep.school.database import School
from halfstep.school.kept_beliefs import keep_milestones, milestones_of
from halfstep.school.kept_evidence import evidence_of
from halfstep.school.kept_plans import keep_plan, plan_of
from halfstep.school.students import Student, student_meant
from halfstep.services.make_plan import (
    MakePlan,
    PlanReply,
    WeekReply,
    is_of_course,
    make_plan,
    make_week,
    played_part,
)
from halfstep.services.request_fields import choice_of
from halfstep.services.student_request import day_of

WORD_WEIGHT = 0.7
"""How surely a player's own word is known, beside what is heard; common practice, no source."""


@dataclass(frozen=True, slots=True)
class PlanDay:
    """A request for a student's day.

    Attributes
    ----------
    name : str
        Empty for the only student that is kept.
    day : str
        Such as ``2026-03-02``; empty for today.
    minutes : float or None
        None takes the student's.
    anew : bool
        Plan again, though the day has a plan.
    course : Path or None
        A folder of another course.
    paper : str
    print_setting : str or None
        None takes the student's.
    """

    name: str = ""
    day: str = ""
    minutes: float | None = None
    anew: bool = False
    course: Path | None = None
    paper: str = "a4"
    print_setting: str | None = None


def plan_day(school: School, request: PlanDay) -> PlanReply:
    """Plan a student's day, or find what was planned for it; it is kept.

    Raises
    ------
    BriefError
        When there is no such student, or a field makes no sense.
    ReadError
        When the course cannot be read.
    """
    student, asked, kept = _asked(school, request)
    reply = make_plan(asked, kept=kept)
    _keep(school, student, asked, reply)
    return reply


def plan_week(school: School, request: PlanDay) -> WeekReply:
    """Plan a student's day as `plan_day` does, and see six more days after it.

    Raises
    ------
    BriefError, ReadError
    """
    student, asked, kept = _asked(school, request)
    reply = make_week(asked, kept=kept)
    _keep(school, student, asked, reply.days[0])
    return reply


def plan_ahead(school: School, name: str, day: date) -> PlanReply:
    """What would be planned for a day by what is known now; it is not kept.

    Raises
    ------
    BriefError, ReadError
    """
    _, asked, kept = _asked(school, PlanDay(name, day.isoformat()))
    return make_plan(asked, kept=kept)


def _asked(school: School, request: PlanDay) -> tuple[Student, MakePlan, tuple[KeptMilestone, ...]]:
    """Who it is, what is asked of the planner, and what saves it time.

    Where a plan stands for the day, it is among what is asked.
    """
    day = day_of(request.day)
    with school.reading() as connection:
        student = student_meant(connection, request.name)
        evidence = evidence_of(connection, student.name)
        standing = None if request.anew else plan_of(connection, student.name, day)
        kept = milestones_of(connection, student.name)
    minutes = student.minutes if request.minutes is None else request.minutes
    setting = student.print_setting if request.print_setting is None else request.print_setting
    if standing and standing.minutes != minutes:
        standing = None
    asked = MakePlan(
        **student_fields(student),
        evidence=evidence,
        day=day.isoformat(),
        course=request.course,
        minutes=minutes,
        known_notes=student.known_notes,
        plan=standing,
        paper=request.paper,
        print_setting=setting,
    )
    return student, asked, kept


def _keep(school: School, student: Student, asked: MakePlan, reply: PlanReply) -> None:
    """Keep a plan that is new, and what it rests on."""
    if reply.plan is not asked.plan:
        with school.writing() as connection:
            keep_plan(connection, student.name, reply.plan)
            keep_milestones(connection, student.name, reply.beliefs)


def keep_word(school: School, name: str, number: str, word: str, *, day: str = "") -> Evidence:
    """Keep a player's own word of an item of the day's plan; a later word takes its place.

    It is counted where no take of the item was heard that day.

    Parameters
    ----------
    name : str
        Empty for the only student that is kept.
    number : str
        Of the item, from 1.
    word : str
        ``clean``, ``nearly`` or ``not-yet``.

    Raises
    ------
    BriefError
        When the day has no such item, or the word is another.
    """
    verdict = Verdict(choice_of("word", "-".join(word.split()), map(str, Verdict)))
    when = day_of(day)
    with school.writing() as connection:
        student = student_meant(connection, name)
        plan = plan_of(connection, student.name, when)
        item = _item(plan, number, when)
        of_ours = plan is not None and is_of_course(plan, our_course())
        evidence = Evidence(
            source=word_source(when, item),
            at=_moment(when),
            skill=item.skill,
            tempo_bpm=item.tempo_bpm,
            verdict=verdict,
            weight=WORD_WEIGHT,
            minutes=item.minutes,
            progression=item.progression,
            part=played_part(item, our_course(), student.instrument) if of_ours else item.part,
        )
        item_said(connection, student, item, evidence, day=when)
    return evidence


def _moment(day: date) -> datetime:
    """Now, or noon of another day, where the player is."""
    now = datetime.now().astimezone().replace(microsecond=0)
    return now if now.date() == day else datetime.combine(day, time(12)).astimezone()


def _item(plan: PracticePlan | None, number: str, day: date) -> PlanItem:
    if plan is None:
        raise BriefError(f"`number`: nothing is planned for {day}; make a plan first")
    numbered = {str(place): item for place, item in enumerate(plan.items, start=1)}
    if number.strip() not in numbered:
        raise BriefError(f"`number` {number}: the plan of {day} has items 1 to {len(numbered)}")
    return numbered[number.strip()]
