"""Who learns together? A name, and students."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from halfstep.errors import BriefError, NoSuchThing
from halfstep.school.demo_things import own_now
from halfstep.school.leavers import came_back, note_leavers
from halfstep.school.students import Student, nickname, student_id, students_where
from halfstep.school.tables import classes, members, students


@dataclass(frozen=True, slots=True)
class SchoolClass:
    """Students who learn together.

    Attributes
    ----------
    number : int
    name : str
    is_archived : bool
        Put away when its term was over: it is in no list but that of such classes.
    """

    number: int
    name: str
    is_archived: bool = False


def add_class(connection: Connection, name: str) -> SchoolClass:
    """A new class.

    Raises
    ------
    BriefError
        When the name is none, or there is a class of that name.
    """
    line = nickname(name)
    now = datetime.now(UTC)
    row = {"name": line, "folded_name": line.casefold(), "made_at": now}
    try:
        number = connection.execute(insert(classes).returning(classes.c.id), row).scalar_one()
    except IntegrityError:
        raise BriefError(f"`name`: there is a class {line} already; give another name") from None
    return SchoolClass(number, line)


def every_class(connection: Connection) -> tuple[SchoolClass, ...]:
    """All that are not put away, by name."""
    return _classes_where(connection, _stands())


def archived_classes(connection: Connection) -> tuple[SchoolClass, ...]:
    """Those that were put away, by name."""
    return _classes_where(connection, classes.c.archived_at.is_not(None))


def _stands() -> ColumnElement[bool]:
    return classes.c.archived_at.is_(None)


def _classes_where(connection: Connection, *which: ColumnElement[bool]) -> tuple[SchoolClass, ...]:
    query = select(classes).where(*which).order_by(classes.c.folded_name)
    return tuple(map(_class_of_row, connection.execute(query)))


def _class_of_row(row: Row[Any]) -> SchoolClass:
    return SchoolClass(row.id, row.name, row.archived_at is not None)


def find_class(connection: Connection, number: int) -> SchoolClass:
    """The class of a number.

    Raises
    ------
    NoSuchThing
    """
    row = connection.execute(select(classes).where(classes.c.id == number)).first()
    if row is None:
        raise NoSuchThing("there is no such class; it may have been removed")
    return _class_of_row(row)


def put_class_away(connection: Connection, number: int) -> None:
    """Put a class away; who is in no other has left.

    Raises
    ------
    NoSuchThing
    """
    _keep_archived(connection, number, datetime.now(UTC))
    note_leavers(connection, _numbers_in(connection, number))


def take_class_out(connection: Connection, number: int) -> None:
    """Have a class that was put away stand again; its players are back.

    Raises
    ------
    NoSuchThing
    """
    _keep_archived(connection, number, None)
    for student in _numbers_in(connection, number):
        came_back(connection, student)


def _keep_archived(connection: Connection, number: int, at: datetime | None) -> None:
    find_class(connection, number)
    change = update(classes).where(classes.c.id == number).values(archived_at=at)
    connection.execute(change)


def _numbers_in(connection: Connection, number: int) -> tuple[int, ...]:
    return tuple(
        connection.scalars(select(members.c.student_id).where(members.c.class_id == number))
    )


def remove_class(connection: Connection, number: int) -> None:
    """Remove a class; its students stay.

    Raises
    ------
    NoSuchThing
    """
    inside = _numbers_in(connection, number)
    find_class(connection, number)
    connection.execute(delete(classes).where(classes.c.id == number))
    note_leavers(connection, inside)
    own_now(connection, "class", number)


def students_of(connection: Connection, number: int) -> tuple[Student, ...]:
    """Who is in a class, by name."""
    inside = select(members.c.student_id).where(members.c.class_id == number)
    return students_where(connection, inside)


def classes_of(connection: Connection, name: str) -> tuple[SchoolClass, ...]:
    """The classes that a student is in and that are not put away, by name.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    inside = select(members.c.class_id).where(members.c.student_id == student_id(connection, name))
    return _classes_where(connection, classes.c.id.in_(inside), _stands())


def class_sizes(connection: Connection) -> dict[int, int]:
    """How many students each class has, by its number; a class without any is not in it."""
    query = select(members.c.class_id, func.count().label("players")).group_by(members.c.class_id)
    return {row.class_id: row.players for row in connection.execute(query)}


def students_of_none(connection: Connection) -> tuple[Student, ...]:
    """Who is in no class that is not put away, by name."""
    inside = select(members.c.student_id).join(classes, classes.c.id == members.c.class_id)
    outside = select(students.c.id).where(students.c.id.not_in(inside.where(_stands())))
    return students_where(connection, outside)


def join_class(connection: Connection, number: int, name: str) -> None:
    """Put a student into a class; nothing changes for who is in it.

    Raises
    ------
    BriefError
        When there is no such student, or the class was put away.
    NoSuchThing
    """
    if find_class(connection, number).is_archived:
        raise BriefError("this class was put away; take it out again first")
    student = student_id(connection, name)
    _take_out(connection, number, student)
    connection.execute(insert(members), {"class_id": number, "student_id": student})
    came_back(connection, student)


def leave_class(connection: Connection, number: int, name: str) -> None:
    """Take a student out of a class; all that is kept of the student stays.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    student = student_id(connection, name)
    if _take_out(connection, number, student):
        note_leavers(connection, (student,))


def _take_out(connection: Connection, number: int, student: int) -> bool:
    """Take a student out of a class; True for who was in it."""
    which = (members.c.class_id == number, members.c.student_id == student)
    return bool(connection.execute(delete(members).where(*which)).rowcount)
