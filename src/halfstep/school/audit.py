"""What was done to accounts and for players, when and by whom: a log that a school can read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from sqlalchemy import Connection, delete, insert, select, update

from halfstep.school.tables import audit

KEPT_FOR = timedelta(days=400)
MOST_SHOWN = 200


class Audited(StrEnum):
    """What is written down."""

    SIGNED_IN = "signed in"
    REFUSED = "was refused: wrong name, password or code"
    SIGNED_OUT = "signed out"
    ENDED_SESSION = "signed out elsewhere"
    CHOSE_PASSWORD = "chose a password"  # noqa: S105 (what was done)
    CHOSE_MAIL = "chose a mail address"
    ASKED_FOR_LINK = "sent a link by mail to"
    ASKED_FOR_CODES = "asked for codes from now on"
    LEFT_CODES = "asked for codes no more"
    INVITED = "invited"
    MADE_LINK = "made a new link for"
    ENDED_DEVICE = "ended a device"
    ENDED_ACCOUNT = "ended the account of"
    ALLOWED = "allowed"
    TOOK_BACK = "took back"
    MARKED = "marked as under age"
    UNMARKED = "marked as deciding alone"
    SHARED = "shared with a class a take of"
    ENDED_SHARING = "shared no more a take of"
    CHOSE = "chose"
    LET_GO = "let go what was past its time"


@dataclass(frozen=True, slots=True)
class AuditLine:
    """One thing that was done.

    Attributes
    ----------
    at : datetime
    account : int or None
        The number of who did it; None for a stranger, and for the machine itself.
    deed : Audited
    whose : int or None
        The number of the account to which it was done.
    student : int or None
        The number of the player for whom; None for nobody, and for who was erased.
    detail : str
        What it was about; no name is in it.
    """

    at: datetime
    account: int | None
    deed: Audited
    whose: int | None
    student: int | None = None
    detail: str = ""


def write_down(
    connection: Connection,
    deed: Audited,
    *,
    by: int | None = None,
    whose: int | None = None,
    student: int | None = None,
    detail: str = "",
) -> None:
    """Write it down, and forget what is too old."""
    now = datetime.now(UTC)
    connection.execute(delete(audit).where(audit.c.at < now - KEPT_FOR))
    numbers = {"account": by, "whose": whose, "student": student}
    connection.execute(insert(audit), {"at": now, "deed": deed, "detail": detail, **numbers})


def forget_student(connection: Connection, student: int) -> None:
    """Leave the number of a student out of all lines: somebody else may have it one day."""
    change = update(audit).where(audit.c.student == student).values(student=None)
    connection.execute(change)


def latest_lines(connection: Connection) -> tuple[AuditLine, ...]:
    """The last ones, the newest first."""
    query = select(audit).order_by(audit.c.id.desc()).limit(MOST_SHOWN)
    return tuple(
        AuditLine(row.at, row.account, Audited(row.deed), row.whose, row.student, row.detail or "")
        for row in connection.execute(query)
    )
