"""Who studies? A nickname, an instrument, and how far the player has come."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    ScalarSelect,
    Select,
    Table,
    delete,
    func,
    insert,
    select,
    update,
)
from sqlalchemy.exc import IntegrityError

from halfstep.errors import BriefError, NoSuchThing, did_you_mean
from halfstep.instruments import Instrument, find_instrument
from halfstep.level import Level
from halfstep.school.demo_things import own_now
from halfstep.school.tables import LONGEST_NAME, doublings, students

MINUTES = 30.0
"""A day's practice where nothing else is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Student:
    """One who studies.

    Attributes
    ----------
    name : str
        A nickname; no other fact of the person is kept.
    instrument : Instrument
    level : Level
    known_notes : str
        The only written notes that are played, ``G4 A4 Bb4``; empty for all of the level.
    keys : str
        Written keys that are played, ``C G F``; empty for all.
    print_setting : str
        How large the student's pages are, and on which tint; empty for the usual.
    minutes : float
        Of a day's practice.
    added_at : datetime
    number : int or None
        What the student's rows are kept under; None for one who is not kept yet.
    doubling : int
        Which of the own instruments it is, 0 for the first (`doublings`).
    """

    name: str
    instrument: Instrument
    level: Level
    known_notes: str = ""
    keys: str = ""
    print_setting: str = ""
    minutes: float = MINUTES
    added_at: datetime
    number: int | None = None
    doubling: int = 0


def new_student(
    name: str,
    instrument: Instrument,
    level: Level,
    *,
    known_notes: str = "",
    keys: str = "",
    print_setting: str = "",
    minutes: float = MINUTES,
) -> Student:
    """A student who is added now.

    Raises
    ------
    BriefError
        When the name is none.
    """
    return Student(
        name=nickname(name),
        instrument=instrument,
        level=level,
        known_notes=known_notes,
        keys=keys,
        print_setting=print_setting,
        minutes=minutes,
        added_at=datetime.now(UTC).replace(microsecond=0),
    )


def nickname(text: str) -> str:
    """A nickname in one line.

    Raises
    ------
    BriefError
        When it is none.
    """
    name = " ".join(text.split())
    if not name or not name.isprintable():
        raise BriefError(f"`name` {text!r}: give a nickname in letters")
    if len(name) > LONGEST_NAME:
        raise BriefError(f"`name`: {len(name)} letters; give {LONGEST_NAME} or less")
    return name


def add_student(connection: Connection, student: Student) -> None:
    """Keep a student.

    Raises
    ------
    BriefError
        When there is one of that name.
    """
    with _named_once(student):
        row = {**_facts(student), "added_at": student.added_at}
        connection.execute(insert(students), row)


def change_student(connection: Connection, number: int, student: Student) -> None:
    """Keep a student with other facts of the person, and of the instrument at hand.

    Raises
    ------
    BriefError
        When there is another of that name, or the instrument is one that is laid aside.
    NoSuchThing
    """
    student_of_number(connection, number)
    same = (doublings.c.student_id == number, doublings.c.instrument == student.instrument.key)
    if connection.scalar(select(doublings.c.doubling).where(*same)) is not None:
        raise BriefError(
            f"`instrument` {student.instrument.key}: {student.name} plays it already; take it up "
            "instead"
        )
    with _named_once(student):
        changed = update(students).where(students.c.id == number).values(_facts(student))
        connection.execute(changed)


@contextmanager
def _named_once(student: Student) -> Iterator[None]:
    try:
        yield
    except IntegrityError:
        raise BriefError(
            f"`name`: there is a {student.name} already; give another nickname"
        ) from None


def _facts(student: Student) -> dict[str, object]:
    return {
        "name": student.name,
        "folded_name": student.name.casefold(),
        "instrument": student.instrument.key,
        "level": str(student.level),
        "known_notes": student.known_notes,
        "keys": student.keys,
        "print_setting": student.print_setting,
        "minutes": student.minutes,
    }


def count_students(connection: Connection) -> int:
    """How many are kept."""
    return connection.scalar(select(func.count()).select_from(students)) or 0


def every_student(connection: Connection) -> tuple[Student, ...]:
    """All of them, by name."""
    rows = connection.execute(select(students).order_by(students.c.folded_name))
    return tuple(map(student_of_row, rows))


def students_where(connection: Connection, numbers: Select[int]) -> tuple[Student, ...]:
    """The students whose numbers are selected, by name."""
    query = select(students).where(students.c.id.in_(numbers)).order_by(students.c.folded_name)
    return tuple(map(student_of_row, connection.execute(query)))


def student_of_number(connection: Connection, number: int) -> Student:
    """The student of a number.

    Raises
    ------
    NoSuchThing
        When there is none.
    """
    row = connection.execute(select(students).where(students.c.id == number)).first()
    if row is None:
        raise NoSuchThing("there is no such student; the name may have been erased")
    return student_of_row(row)


def find_student(connection: Connection, name: str) -> Student:
    """The student of that name; capitals do not matter.

    Raises
    ------
    BriefError
        When there is none.
    """
    return student_of_row(_row(connection, name))


def student_meant(connection: Connection, name: str) -> Student:
    """The student of a name; the only one where none is said.

    Raises
    ------
    BriefError
    """
    students = every_student(connection)
    if not students:
        raise BriefError("nobody is kept here yet; add a student first")
    if name.strip():
        return find_student(connection, name)
    if len(students) > 1:
        names = ", ".join(student.name for student in students)
        raise BriefError(f"`name`: several are kept here; say which: {names}")
    return students[0]


def student_id(connection: Connection, name: str) -> int:
    """The number that a student's rows are kept under.

    Raises
    ------
    BriefError
    """
    number: int = _row(connection, name).id
    return number


def at_hand(table: Table) -> ColumnElement[bool]:
    """True for the rows of a table that belong to the instrument that their student has at hand."""
    return table.c.doubling == doubling_of(table.c.student_id)


def played_on(table: Table, doubling: int | None) -> ColumnElement[bool]:
    """True for the rows of an instrument; for None, of the one that their student has at hand."""
    return at_hand(table) if doubling is None else table.c.doubling == doubling


def doubling_of(student: int | ColumnElement[int]) -> ScalarSelect[int]:
    """Which instrument a student has at hand, as a part of a query."""
    player = students.alias()
    return select(player.c.doubling).where(player.c.id == student).scalar_subquery()


def count_rows(connection: Connection, name: str, table: Table) -> int:
    """How many rows of a table are a student's.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    query = select(func.count()).where(table.c.student_id == student_id(connection, name))
    return connection.scalar(query) or 0


def remove_student(connection: Connection, name: str) -> None:
    """Remove a student with all rows that are the student's.

    Raises
    ------
    BriefError
    """
    number = student_id(connection, name)
    connection.execute(delete(students).where(students.c.id == number))
    own_now(connection, "student", number)


def _row(connection: Connection, name: str) -> Row[tuple[object, ...]]:
    folded = " ".join(name.split()).casefold()
    row = connection.execute(select(students).where(students.c.folded_name == folded)).first()
    if row is None:
        names = list(_names(connection))
        meant = did_you_mean(name, names) if names else "; nobody is kept here yet"
        raise BriefError(f"`name` {name}: there is no such student{meant}")
    return row


def _names(connection: Connection) -> Iterator[str]:
    return iter(connection.scalars(select(students.c.name)))


def student_of_row(row: Row[tuple[object, ...]]) -> Student:
    """A student as kept."""
    return Student(
        name=row.name,
        instrument=find_instrument(row.instrument),
        level=Level(row.level),
        known_notes=row.known_notes,
        keys=row.keys,
        print_setting=row.print_setting,
        minutes=row.minutes,
        added_at=row.added_at,
        number=row.id,
        doubling=row.doubling,
    )
