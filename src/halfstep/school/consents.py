"""What may be done with a player's recordings? What was said of it, and what counts.

Each purpose is allowed and taken back by itself, and nothing is rubbed out: the last word of a
purpose counts. For who is under the age at which one decides alone, a yes counts when a guardian
said it, or the teacher has it from a guardian on paper; a no counts whoever said it. Where nothing
was said, a player who decides alone allows a recording by making it and its hearing by sending it;
for who is under that age nothing is allowed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select

from halfstep.errors import NotAllowed
from halfstep.school.tables import consents, students, under_age


class Purpose(StrEnum):
    """What something is allowed for."""

    RECORDING = "recording"
    HEARING = "hearing"
    SHARING = "sharing"
    KEEPING = "keeping"


class Giver(StrEnum):
    """As whom somebody said it."""

    GUARDIAN = "guardian"
    PLAYER = "player"
    PAPER = "guardian, on paper"
    TEACHER = "teacher"


ALLOWED_BY_DOING = frozenset({Purpose.RECORDING, Purpose.HEARING})
"""What a player who decides alone allows by recording and by sending."""
GUARDIANS_WORD = frozenset({Giver.GUARDIAN, Giver.PAPER})
"""Whose yes counts for who is under age."""


@dataclass(frozen=True, slots=True)
class Consent:
    """What was said of one purpose, once.

    Attributes
    ----------
    purpose : Purpose
    is_given : bool
        False where it was taken back.
    giver : Giver
    account : int or None
        The number of who said it, where somebody had signed in.
    at : datetime
    """

    purpose: Purpose
    is_given: bool
    giver: Giver
    account: int | None
    at: datetime


Word = tuple[bool, Giver]
"""Whether something was allowed or taken back, and as whom that was said."""


def is_allowed(purpose: Purpose, *, is_under_age: bool, last: Word | None) -> bool:
    """Whether something may be done, by the last word about it: the one place that decides.

    >>> is_allowed(Purpose.RECORDING, is_under_age=True, last=None)
    False
    """
    if last is None:
        return not is_under_age and purpose in ALLOWED_BY_DOING
    is_given, giver = last
    return is_given and (not is_under_age or giver in GUARDIANS_WORD)


@dataclass(frozen=True, slots=True)
class ConsentState:
    """How all stands for one player.

    Attributes
    ----------
    is_under_age : bool
    words : tuple of Consent
        All that was said, in order of time.
    """

    is_under_age: bool
    words: tuple[Consent, ...]

    def last(self, purpose: Purpose) -> Consent | None:
        """The last word of a purpose."""
        return next((one for one in reversed(self.words) if one.purpose is purpose), None)

    def allows(self, purpose: Purpose) -> bool:
        """Whether it may be done."""
        last = self.last(purpose)
        word = None if last is None else (last.is_given, last.giver)
        return is_allowed(purpose, is_under_age=self.is_under_age, last=word)


def consent_state(connection: Connection, student: int) -> ConsentState:
    """How all stands for a player."""
    query = select(consents).where(consents.c.student_id == student).order_by(consents.c.id)
    words = tuple(map(_consent, connection.execute(query)))
    return ConsentState(is_under_age(connection, student), words)


def keep_consent(connection: Connection, student: int, consent: Consent) -> None:
    """Keep what was said, beside what was said before."""
    row = {
        "student_id": student,
        "purpose": consent.purpose,
        "is_given": consent.is_given,
        "giver": consent.giver,
        "account": consent.account,
        "at": consent.at,
    }
    connection.execute(insert(consents), row)


def said_now(
    purpose: Purpose, giver: Giver, *, is_given: bool, account: int | None = None
) -> Consent:
    """What somebody says at this moment."""
    return Consent(purpose, is_given, giver, account, datetime.now(UTC).replace(microsecond=0))


def is_under_age(connection: Connection, student: int) -> bool:
    """True for whom a guardian decides."""
    query = select(under_age.c.student_id).where(under_age.c.student_id == student)
    return connection.scalar(query) is not None


def mark_under_age(connection: Connection, student: int, *, is_so: bool) -> None:
    """Keep whether a guardian decides for a player."""
    connection.execute(delete(under_age).where(under_age.c.student_id == student))
    if is_so:
        connection.execute(insert(under_age), {"student_id": student})


def allowing(connection: Connection, purpose: Purpose) -> frozenset[int]:
    """The numbers of the players for whom something is allowed."""
    marked = frozenset(connection.scalars(select(under_age.c.student_id)))
    newest = select(func.max(consents.c.id)).where(consents.c.purpose == purpose)
    columns = (consents.c.student_id, consents.c.is_given, consents.c.giver)
    query = select(*columns).where(consents.c.id.in_(newest.group_by(consents.c.student_id)))
    last = {number: (given, Giver(giver)) for number, given, giver in connection.execute(query)}
    return frozenset(
        number
        for number in connection.scalars(select(students.c.id))
        if is_allowed(purpose, is_under_age=number in marked, last=last.get(number))
    )


def demand_allowed(connection: Connection, student: int, purpose: Purpose) -> None:
    """Refuse what is not allowed.

    Raises
    ------
    NotAllowed
    """
    state = consent_state(connection, student)
    if not state.allows(purpose):
        raise NotAllowed(f"{REFUSALS[purpose]}; {who_may_allow(state)}")


def who_may_allow(state: ConsentState) -> str:
    """Who can change it, in words."""
    if state.is_under_age:
        return "a guardian may allow it, on the guardian's page or on paper"
    return "the player may allow it again, on the page of what is kept"


REFUSALS = {
    Purpose.RECORDING: "recording is not allowed for this player, so nothing was kept",
    Purpose.HEARING: "the teacher is not allowed to hear this player's recordings",
    Purpose.SHARING: "recordings of this player are not for a class to hear",
    Purpose.KEEPING: "recordings of this player are not kept longer than usual",
}


def _consent(row: Row[Any]) -> Consent:
    return Consent(Purpose(row.purpose), row.is_given, Giver(row.giver), row.account, row.at)
