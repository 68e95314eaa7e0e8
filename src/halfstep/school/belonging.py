"""Whose is a thing? What an address names by its number, and the people it belongs to.

Where several teach, each works with the own charts and classes, and with the players of these. The
teacher of a desk and the owner of a school work with all.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from sqlalchemy import Connection, Table, delete, insert, select

from halfstep.errors import NoSuchThing
from halfstep.school.consents import Purpose, allowing
from halfstep.school.tables import (
    charts,
    class_teachers,
    classes,
    hand_outs,
    invitations,
    lines,
    members,
    sent_takes,
    sheets,
    students,
)


class Thing(StrEnum):
    """What has a number of its own."""

    CHART = "chart"
    LINE = "line"
    CLASS = "class"
    STUDENT = "student"
    HAND_OUT = "hand-out"
    SHEET = "sheet"
    TAKE = "take"
    INVITATION = "link"


@dataclass(frozen=True, slots=True)
class Belonging:
    """The numbers of the chart, the class and the student to which a thing belongs.

    A take belongs to its sender: who works with a player hears takes where that is allowed.
    """

    chart: int | None = None
    class_number: int | None = None
    student: int | None = None
    sender: int | None = None


_TABLES: dict[Thing, tuple[Table, dict[str, str]]] = {
    Thing.CHART: (charts, {"chart": "id"}),
    Thing.LINE: (lines, {"chart": "chart_id"}),
    Thing.CLASS: (classes, {"class_number": "id"}),
    Thing.STUDENT: (students, {"student": "id"}),
    Thing.HAND_OUT: (hand_outs, {"class_number": "class_id", "student": "student_id"}),
    Thing.SHEET: (sheets, {"student": "student_id"}),
    Thing.TAKE: (sent_takes, {"sender": "student_id"}),
    Thing.INVITATION: (invitations, {"class_number": "class_id", "student": "student_id"}),
}
"""Where each is kept, and in which columns stands what it belongs to."""
_LEFT = {
    Thing.STUDENT: "the name may have been erased",
    Thing.HAND_OUT: "it may have been withdrawn",
    Thing.SHEET: "it may have been withdrawn",
    Thing.TAKE: "it may have been erased",
    Thing.INVITATION: "it may have been withdrawn",
}


def belonging_of(connection: Connection, thing: Thing, number: int) -> Belonging:
    """What a thing belongs to.

    Raises
    ------
    NoSuchThing
        When there is none of that number.
    """
    table, columns = _TABLES[thing]
    query = select(*(table.c[column] for column in columns.values()))
    row = connection.execute(query.where(table.c.id == number)).first()
    if row is None:
        raise no_such(thing)
    return Belonging(**dict(zip(columns, row, strict=True)))


def no_such(thing: Thing) -> NoSuchThing:
    """What is said where there is none of a number, and as well where it is not for who asks."""
    return NoSuchThing(f"there is no such {thing}; {_LEFT.get(thing, 'it may have been removed')}")


# What somebody works with who teaches


class _Everything:
    """Holds every number."""

    def __contains__(self, _: object) -> bool:
        return True


class _AllowedSenders:
    """Those of some students whose takes may be heard; asked for once, and when it is needed."""

    def __init__(self, connection: Connection, students: Container[int | None]) -> None:
        self._connection, self._students = connection, students

    def __contains__(self, number: object) -> bool:
        return number in self._allowed and number in self._students

    @cached_property
    def _allowed(self) -> frozenset[int]:
        return allowing(self._connection, Purpose.HEARING)


@dataclass(frozen=True, slots=True)
class Reach:
    """The numbers of the charts, classes and students with which somebody works.

    ``senders`` are those of the students whose takes may be heard.
    """

    charts: Container[int | None]
    classes: Container[int | None]
    students: Container[int | None]
    senders: Container[int | None]

    def has(self, one: Belonging) -> bool:
        """True for what belongs to one of them."""
        if one.sender is not None:
            return one.sender in self.senders
        return (
            one.chart in self.charts
            or one.class_number in self.classes
            or one.student in self.students
        )


def reach_of(connection: Connection, account: int | None) -> Reach:
    """What a teacher works with.

    Parameters
    ----------
    connection : Connection
    account : int or None
        The number of the teacher's account; None for who works with all.
    """
    if account is None:
        everything = _Everything()
        return Reach(everything, everything, everything, _AllowedSenders(connection, everything))
    own = select(class_teachers.c.class_id).where(class_teachers.c.account_id == account)
    taught = select(members.c.student_id).where(members.c.class_id.in_(own))
    written = select(charts.c.id).where(charts.c.account == account)
    written_by, taught_by, players = (
        frozenset(connection.scalars(query)) for query in (written, own, taught)
    )
    return Reach(written_by, taught_by, players, _AllowedSenders(connection, players))


def teach_class(connection: Connection, account: int, class_number: int) -> None:
    """Have somebody teach a class, beside who else does."""
    leave_teaching(connection, account, class_number)
    row = {"class_id": class_number, "account_id": account}
    connection.execute(insert(class_teachers), row)


def leave_teaching(connection: Connection, account: int, class_number: int) -> None:
    """Have somebody teach a class no more."""
    which = (class_teachers.c.class_id == class_number, class_teachers.c.account_id == account)
    connection.execute(delete(class_teachers).where(*which))


def teachers_of(connection: Connection, class_number: int) -> frozenset[int]:
    """The numbers of the accounts of who teaches a class."""
    query = select(class_teachers.c.account_id).where(class_teachers.c.class_id == class_number)
    return frozenset(connection.scalars(query))
