"""Which other instruments does a student play? Who plays several doubles; one of them is at hand.

What is planned, believed and handed out belongs to an instrument, what is allowed and who comes in
to the student. The row of a student has the instrument at hand, its level, notes and keys; those of
the others are laid aside. Skills are kept apart, and nothing that is known on one instrument counts
on another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from sqlalchemy import Connection, Row, delete, insert, select, update

from halfstep.errors import BriefError
from halfstep.instruments import Instrument, find_instrument
from halfstep.level import Level
from halfstep.school.students import Student, student_of_number
from halfstep.school.tables import doublings, students

MOST = 6
"""Instruments of one student."""


def instruments_of(connection: Connection, student: Student) -> tuple[Student, ...]:
    """A student as the player of each instrument, in the order in which they came."""
    return every_player(connection, (student,))


def _laid_aside(student: Student, row: Row[tuple[object, ...]]) -> Student:
    """A student as the player of an instrument that is laid aside."""
    return replace(
        student,
        doubling=row.doubling,
        instrument=find_instrument(row.instrument),
        level=Level(row.level),
        known_notes=row.known_notes,
        keys=row.keys,
    )


def every_player(connection: Connection, players: Iterable[Student]) -> tuple[Student, ...]:
    """Students as the players of each of their instruments."""
    at_hand = {player.number: player for player in players}
    rows = connection.execute(select(doublings).where(doublings.c.student_id.in_(at_hand)))
    others = [_laid_aside(at_hand[row.student_id], row) for row in rows]
    order = {number: place for place, number in enumerate(at_hand)}
    all_of_them = (*at_hand.values(), *others)
    return tuple(sorted(all_of_them, key=lambda one: (order[one.number], one.doubling)))


def add_doubling(connection: Connection, student: Student, other: Student) -> None:
    """Keep another instrument of a student, laid aside, with the facts of `other`.

    Raises
    ------
    BriefError
        When the student plays it already, or plays too many.
    """
    played = instruments_of(connection, student)
    demand_new(played, other.instrument)
    if len(played) >= MOST:
        raise BriefError(f"`instrument`: {student.name} plays {MOST}, as many as are kept")
    last = max(one.doubling for one in played)
    row = {"student_id": student.number, "doubling": last + 1, **_facts(other)}
    connection.execute(insert(doublings), row)


def demand_new(played: tuple[Student, ...], instrument: Instrument) -> None:
    """Refuse an instrument that is among those played.

    Raises
    ------
    BriefError
    """
    if instrument.key in {one.instrument.key for one in played}:
        raise BriefError(
            f"`instrument` {instrument.key}: {played[0].name} plays it already; take it up instead"
        )


def take_up(connection: Connection, number: int, instrument: str) -> Student:
    """Have a student play another of the own instruments, and lay aside the one at hand.

    Parameters
    ----------
    number : int
        The student's.
    instrument : str
        As `INSTRUMENTS` calls it.

    Raises
    ------
    BriefError
        When it is none of the student's.
    NoSuchThing
    """
    played = instruments_of(connection, student_of_number(connection, number))
    keys = [one.instrument.key for one in played]
    if instrument not in keys:
        raise BriefError(f"`instrument` {instrument}: choose one of {', '.join(keys)}")
    return _taken_up(connection, number, played[keys.index(instrument)].doubling)


def _taken_up(connection: Connection, number: int, doubling: int) -> Student:
    student = student_of_number(connection, number)
    played = instruments_of(connection, student)
    other = next((one for one in played if one.doubling == doubling), student)
    if other.doubling != student.doubling:
        of_student = doublings.c.student_id == number
        connection.execute(delete(doublings).where(of_student, doublings.c.doubling == doubling))
        aside = {"student_id": number, "doubling": student.doubling, **_facts(student)}
        connection.execute(insert(doublings), aside)
        at_hand = {"doubling": other.doubling, **_facts(other)}
        connection.execute(update(students).where(students.c.id == number).values(at_hand))
    return other


@contextmanager
def playing(connection: Connection, number: int, doubling: int) -> Iterator[Student]:
    """Have a student play one of the instruments, by its place, within a change of the school."""
    before = student_of_number(connection, number).doubling
    yield _taken_up(connection, number, doubling)
    _taken_up(connection, number, before)


def _facts(player: Student) -> dict[str, object]:
    return {
        "instrument": player.instrument.key,
        "level": str(player.level),
        "known_notes": player.known_notes,
        "keys": player.keys,
    }
