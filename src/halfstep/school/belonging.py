"""Whose is a thing? What an address names by its number, and the student it belongs to."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import Connection, Table, select

from halfstep.errors import NoSuchThing
from halfstep.school.tables import (
    charts,
    classes,
    hand_outs,
    invitations,
    lines,
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


_TABLES: dict[Thing, tuple[Table, str | None]] = {
    Thing.CHART: (charts, None),
    Thing.LINE: (lines, None),
    Thing.CLASS: (classes, None),
    Thing.STUDENT: (students, "id"),
    Thing.HAND_OUT: (hand_outs, None),
    Thing.SHEET: (sheets, "student_id"),
    Thing.TAKE: (sent_takes, "student_id"),
    Thing.INVITATION: (invitations, None),
}
"""Where each is kept, and which column holds its student; None for the desk's own."""
_LEFT = {
    Thing.STUDENT: "the name may have been erased",
    Thing.HAND_OUT: "it may have been withdrawn",
    Thing.SHEET: "it may have been withdrawn",
    Thing.TAKE: "it may have been erased",
    Thing.INVITATION: "it may have been withdrawn",
}


def student_owning(connection: Connection, thing: Thing, number: int) -> int | None:
    """The number of the student whose thing it is; None where it is the desk's own.

    Raises
    ------
    NoSuchThing
        When there is none of that number.
    """
    table, column = _TABLES[thing]
    wanted = table.c[column or "id"]
    row = connection.execute(select(wanted).where(table.c.id == number)).first()
    if row is None:
        raise no_such(thing)
    return row[0] if column else None


def no_such(thing: Thing) -> NoSuchThing:
    """What is said where there is none of a number, and as well where it is not for who asks."""
    return NoSuchThing(f"there is no such {thing}; {_LEFT.get(thing, 'it may have been removed')}")
