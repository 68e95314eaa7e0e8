"""Which takes does a class hear? Those that a teacher shares with it, while that is allowed."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import Connection, Select, delete, insert, select

from halfstep.school.belonging import Thing, no_such
from halfstep.school.consents import Purpose, allowing, demand_allowed
from halfstep.school.sent_takes import SentTake, takes_where
from halfstep.school.tables import classes, members, sent_takes, shared_takes


def share_take(connection: Connection, take: SentTake, class_number: int) -> None:
    """Have a class hear a take of one of its players.

    Raises
    ------
    NotAllowed
        When that is not allowed for the player.
    NoSuchThing
        When the player is not in that class.
    """
    for purpose in (Purpose.HEARING, Purpose.SHARING):
        demand_allowed(connection, take.student, purpose)
    inside = select(members.c.class_id).where(
        members.c.class_id == class_number, members.c.student_id == take.student
    )
    if connection.scalar(inside) is None:
        raise no_such(Thing.CLASS)
    end_sharing(connection, take.number, class_number)
    row = {"take_id": take.number, "class_id": class_number, "shared_at": datetime.now(UTC)}
    connection.execute(insert(shared_takes), row)


def end_sharing(connection: Connection, take: int, class_number: int) -> None:
    """Have a class hear a take no more."""
    which = (shared_takes.c.take_id == take, shared_takes.c.class_id == class_number)
    connection.execute(delete(shared_takes).where(*which))


def end_all_sharing(connection: Connection, student: int) -> None:
    """Have nobody's class hear the takes of a player any more."""
    own = select(sent_takes.c.id).where(sent_takes.c.student_id == student)
    connection.execute(delete(shared_takes).where(shared_takes.c.take_id.in_(own)))


def classes_hearing(connection: Connection, take: int) -> frozenset[int]:
    """The numbers of the classes with which a take is shared."""
    query = select(shared_takes.c.class_id).where(shared_takes.c.take_id == take)
    return frozenset(connection.scalars(query))


def takes_for(connection: Connection, student: int) -> tuple[SentTake, ...]:
    """The takes of others that a player's classes hear, the newest first."""
    takes = takes_where(connection, sent_takes.c.id.in_(_shared_with(student)))
    if not takes:  # as in most weeks: then nobody need be asked about
        return ()
    allowed = allowing(connection, Purpose.SHARING) & allowing(connection, Purpose.HEARING)
    return tuple(
        take
        for take in takes
        if take.student in allowed and take.student != student and take.has_recording
    )


def _shared_with(student: int) -> Select[int]:
    own = select(members.c.class_id).join(classes, classes.c.id == members.c.class_id)
    own = own.where(members.c.student_id == student, classes.c.archived_at.is_(None))
    return select(shared_takes.c.take_id).where(shared_takes.c.class_id.in_(own))


def find_shared_take(connection: Connection, number: int, student: int) -> SentTake:
    """A take that a player's class hears.

    Raises
    ------
    NoSuchThing
        When it is not there, or is not shared with a class of this player.
    """
    for take in takes_for(connection, student):
        if take.number == number:
            return take
    raise no_such(Thing.TAKE)
