"""Who was in a class and is in none any more, and since when? One that was put away is none."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, insert, select

from halfstep.school.tables import classes, leavers, members


def note_leavers(connection: Connection, left: Iterable[int]) -> None:
    """Note since when those are in no class who have just left one; who is in another is none."""
    for student in left:
        if _is_somewhere(connection, student) or left_at(connection, student):
            continue
        row = {"student_id": student, "left_at": datetime.now(UTC).replace(microsecond=0)}
        connection.execute(insert(leavers), row)


def _is_somewhere(connection: Connection, student: int) -> bool:
    stands = classes.c.archived_at.is_(None)
    query = select(members.c.class_id).join(classes, classes.c.id == members.c.class_id)
    query = query.where(members.c.student_id == student, stands)
    return connection.scalar(query.limit(1)) is not None


def came_back(connection: Connection, student: int) -> None:
    """Forget that somebody had left."""
    connection.execute(delete(leavers).where(leavers.c.student_id == student))


def left_at(connection: Connection, student: int) -> datetime | None:
    """Since when somebody is in no class; None for who is in one, or never was."""
    return connection.scalar(select(leavers.c.left_at).where(leavers.c.student_id == student))


def left_before(connection: Connection, moment: datetime) -> tuple[int, ...]:
    """The numbers of who had left by then."""
    return tuple(connection.scalars(select(leavers.c.student_id).where(leavers.c.left_at < moment)))
