"""What a player said of the items of a day's plan, as it is kept: one word an item."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, delete, insert, select

from halfstep.practice.evidence import Skill, Verdict
from halfstep.practice.practice_plan import ItemRole, PlanItem
from halfstep.school.tables import practised


@dataclass(frozen=True, slots=True)
class PractisedItem:
    """An item of a plan of which its player said how it went.

    Attributes
    ----------
    day : date
    role : ItemRole
    skill : Skill
    tempo_bpm : float
    word : Verdict
    said_at : datetime
    """

    day: date
    role: ItemRole
    skill: Skill
    tempo_bpm: float
    word: Verdict
    said_at: datetime

    def is_of(self, item: PlanItem) -> bool:
        """True where that item of the day's plan is meant."""
        return (self.role, self.skill.unit) == (item.role, item.skill.unit)


def keep_practised(connection: Connection, student: int, said: PractisedItem) -> None:
    """Keep a player's word in the place of an earlier one about the same item."""
    columns = practised.c
    same = (
        columns.student_id == student,
        columns.day == said.day,
        columns.unit == said.skill.unit,
        columns.role == str(said.role),
    )
    connection.execute(delete(practised).where(*same))
    row = {
        "student_id": student,
        "day": said.day,
        "role": str(said.role),
        **said.skill._asdict(),
        "tempo_bpm": said.tempo_bpm,
        "word": str(said.word),
        "said_at": said.said_at,
    }
    connection.execute(insert(practised), row)


def practised_on(connection: Connection, student: int, day: date) -> tuple[PractisedItem, ...]:
    """What a student said of a day's items, in the order in which it was said."""
    return _where(connection, practised.c.student_id == student, practised.c.day == day)


def practised_since(connection: Connection, student: int, day: date) -> tuple[PractisedItem, ...]:
    """What a student said from a day on, in the order in which it was said."""
    return _where(connection, practised.c.student_id == student, practised.c.day >= day)


def _where(connection: Connection, *which: ColumnElement[bool]) -> tuple[PractisedItem, ...]:
    query = select(practised).where(*which).order_by(practised.c.said_at, practised.c.id)
    return tuple(
        PractisedItem(
            row.day,
            ItemRole(row.role),
            Skill(row.unit, row.step, row.key),
            row.tempo_bpm,
            Verdict(row.word),
            row.said_at,
        )
        for row in connection.execute(query)
    )
