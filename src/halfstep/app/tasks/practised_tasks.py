"""An item of a day's plan is practised: heard in takes, spoken of, and counted once.

What was heard counts; the player's own word stands in for it where nothing was heard. Either
counts the minutes of the item, and the takes after the first their own.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from halfstep.app.tasks.room_places import PlanPlace
from halfstep.practice.evidence import Evidence
from halfstep.practice.practice_plan import PlanItem
from halfstep.school.database import SchoolConnection
from halfstep.school.kept_evidence import keep_evidence, remove_evidence
from halfstep.school.kept_plans import plan_of
from halfstep.school.practised import PractisedItem, keep_practised, practised_on
from halfstep.school.students import Student


def word_source(day: date, item: PlanItem) -> str:
    """What a player's word of an item comes from: one for each item of a day."""
    return f"word {day.isoformat()} {item.skill.unit} {item.role}"


def item_said(
    connection: SchoolConnection, student: Student, item: PlanItem, word: Evidence, *, day: date
) -> None:
    """Keep a player's word of an item; it is no evidence where the item was heard that day.

    Parameters
    ----------
    connection : Connection
    student : Student
        One who is kept.
    item : PlanItem
    word : Evidence
    day : date
        Of the plan.
    """
    known = _known(connection, student, item, day)
    said = replace(known, at=word.at, word=word.verdict)
    keep_practised(connection, student.number or 0, said)
    if known.heard is None:
        keep_evidence(connection, student.name, [word])


def item_heard(
    connection: SchoolConnection, student: Student, place: PlanPlace, evidence: Evidence
) -> Evidence:
    """What a take of an item is counted as; it takes the place of the player's word.

    A take that shows another skill than the one that was planned, or fewer bars of it, is counted
    beside it.
    """
    plan = plan_of(connection, student.name, place.day)
    if plan is None or not 0 < place.item <= len(plan.items):
        return evidence
    item = plan.items[place.item - 1]
    if evidence.skill != item.skill or evidence.part < item.part:
        return evidence
    known = _known(connection, student, item, place.day)
    source = known.source or evidence.source
    entry = replace(known, at=evidence.at, heard=evidence.verdict, source=source)
    keep_practised(connection, student.number or 0, entry)
    remove_evidence(connection, student.name, word_source(place.day, item), item.skill)
    is_first = source == evidence.source
    return replace(evidence, minutes=max(evidence.minutes, item.minutes)) if is_first else evidence


def _known(
    connection: SchoolConnection, student: Student, item: PlanItem, day: date
) -> PractisedItem:
    """What is kept of an item, or what there is to begin with."""
    kept = practised_on(connection, student.number or 0, day)
    new = PractisedItem(day, item.role, item.skill, item.tempo_bpm, at=datetime.now(UTC))
    return next((one for one in kept if one.is_of(item)), new)
