"""Who learns together? A name, and students."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, func, insert, select
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
    """

    number: int
    name: str


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
    """All of them, by name."""
    rows = connection.execute(select(classes).order_by(classes.c.folded_name))
    return tuple(SchoolClass(row.id, row.name) for row in rows)


def find_class(connection: Connection, number: int) -> SchoolClass:
    """The class of a number.

    Raises
    ------
    NoSuchThing
    """
    row = connection.execute(select(classes).where(classes.c.id == number)).first()
    if row is None:
        raise NoSuchThing("there is no such class; it may have been removed")
    return SchoolClass(row.id, row.name)


def remove_class(connection: Connection, number: int) -> None:
    """Remove a class; its students stay.

    Raises
    ------
    NoSuchThing
    """
    inside = [student.number for student in students_of(connection, number)]
    find_class(connection, number)
    connection.execute(delete(classes).where(classes.c.id == number))
    note_leavers(connection, filter(None, inside))
    own_now(connection, "class", number)


def students_of(connection: Connection, number: int) -> tuple[Student, ...]:
    """Who is in a class, by name."""
    inside = select(members.c.student_id).where(members.c.class_id == number)
    return students_where(connection, inside)


def classes_of(connection: Connection, name: str) -> tuple[SchoolClass, ...]:
    """The classes that a student is in, by name.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    inside = select(members.c.class_id).where(members.c.student_id == student_id(connection, name))
    rows = connection.execute(
        select(classes).where(classes.c.id.in_(inside)).order_by(classes.c.folded_name)
    )
    return tuple(SchoolClass(row.id, row.name) for row in rows)


def class_sizes(connection: Connection) -> dict[int, int]:
    """How many students each class has, by its number; a class without any is not in it."""
    query = select(members.c.class_id, func.count().label("players")).group_by(members.c.class_id)
    return {row.class_id: row.players for row in connection.execute(query)}


def students_of_none(connection: Connection) -> tuple[Student, ...]:
    """Who is in no class, by name."""
    outside = select(students.c.id).where(students.c.id.not_in(select(members.c.student_id)))
    return students_where(connection, outside)


def join_class(connection: Connection, number: int, name: str) -> None:
    """Put a student into a class; nothing changes for who is in it.

    Raises
    ------
    BriefError
        When there is no such student.
    NoSuchThing
    """
    find_class(connection, number)
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
