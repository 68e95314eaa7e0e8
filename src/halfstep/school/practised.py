"""The items of a day's plan that were practised: what was heard, and the player's own word."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, delete, func, insert, select

from halfstep.practice.evidence import Skill, Verdict
from halfstep.practice.practice_plan import ItemRole, PlanItem
from halfstep.school.students import at_hand, doubling_of
from halfstep.school.tables import practised


@dataclass(frozen=True, slots=True)
class PractisedItem:
    """An item of a plan that was practised.

    Attributes
    ----------
    day : date
    role : ItemRole
    skill : Skill
    tempo_bpm : float
    at : datetime
        When it was heard or spoken of last.
    word : Verdict or None
        The player's own.
    heard : Verdict or None
        Of the last take of it that could be judged.
    source : str
        Of the evidence that the first such take is.
    """

    day: date
    role: ItemRole
    skill: Skill
    tempo_bpm: float
    at: datetime
    word: Verdict | None = None
    heard: Verdict | None = None
    source: str = ""

    @property
    def is_done(self) -> bool:
        """True where the player said how it went, or it was heard clean."""
        return self.word is not None or self.heard is Verdict.CLEAN

    def is_of(self, item: PlanItem) -> bool:
        """True where that item of the day's plan is meant."""
        return (self.role, self.skill) == (item.role, item.skill)


def keep_practised(connection: Connection, student: int, item: PractisedItem) -> None:
    """Keep an item that was practised, in the place of what was kept of the same one."""
    columns = practised.c
    same = (
        columns.student_id == student,
        at_hand(practised),
        columns.day == item.day,
        columns.unit == item.skill.unit,
        columns.step == item.skill.step,
        columns.key == item.skill.key,
        columns.role == str(item.role),
    )
    connection.execute(delete(practised).where(*same))
    row = {
        "student_id": student,
        "doubling": connection.scalar(select(doubling_of(student))),
        "day": item.day,
        "role": str(item.role),
        **item.skill._asdict(),
        "tempo_bpm": item.tempo_bpm,
        "word": str(item.word or ""),
        "heard": str(item.heard or ""),
        "source": item.source,
        "at": item.at,
    }
    connection.execute(insert(practised), row)


def practised_on(connection: Connection, student: int, day: date) -> tuple[PractisedItem, ...]:
    """What a student practised of a day's plan for the instrument at hand, in order of time."""
    mine = (practised.c.student_id == student, at_hand(practised))
    return _where(connection, *mine, practised.c.day == day)


def practised_since(connection: Connection, student: int, day: date) -> tuple[PractisedItem, ...]:
    """What a student practised of the plans from a day on, in order of time."""
    return _where(connection, practised.c.student_id == student, practised.c.day >= day)


def last_practised(connection: Connection, day: date) -> dict[int, date]:
    """The last day, from one on, of which each student practised something of the plan."""
    last = func.max(practised.c.day).label("last")
    query = select(practised.c.student_id, last).where(practised.c.day >= day)
    rows = connection.execute(query.group_by(practised.c.student_id))
    return {row.student_id: row.last for row in rows}


def _where(connection: Connection, *which: ColumnElement[bool]) -> tuple[PractisedItem, ...]:
    query = select(practised).where(*which).order_by(practised.c.at, practised.c.id)
    return tuple(
        PractisedItem(
            row.day,
            ItemRole(row.role),
            Skill(row.unit, row.step, row.key),
            row.tempo_bpm,
            row.at.astimezone(),
            Verdict(row.word) if row.word else None,
            Verdict(row.heard) if row.heard else None,
            row.source,
        )
        for row in connection.execute(query)
    )
