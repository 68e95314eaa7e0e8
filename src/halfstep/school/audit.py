"""What was done to accounts, when and by whom: a log that a school can read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from sqlalchemy import Connection, delete, insert, select

from halfstep.school.tables import audit

KEPT_FOR = timedelta(days=400)
MOST_SHOWN = 200


class Audited(StrEnum):
    """What is written down."""

    SIGNED_IN = "signed in"
    REFUSED = "was refused: wrong name, password or code"
    SIGNED_OUT = "signed out"
    ENDED_SESSION = "signed out elsewhere"
    CHOSE_PASSWORD = "chose a password"
    ASKED_FOR_CODES = "asked for codes from now on"
    LEFT_CODES = "asked for codes no more"
    INVITED = "invited"
    MADE_LINK = "made a new link for"
    ENDED_ACCOUNT = "ended the account of"


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
    """

    at: datetime
    account: int | None
    deed: Audited
    whose: int | None


def write_down(
    connection: Connection, deed: Audited, *, by: int | None = None, whose: int | None = None
) -> None:
    """Write it down, and forget what is too old."""
    now = datetime.now(UTC)
    connection.execute(delete(audit).where(audit.c.at < now - KEPT_FOR))
    connection.execute(insert(audit), {"at": now, "account": by, "deed": deed, "whose": whose})


def latest_lines(connection: Connection) -> tuple[AuditLine, ...]:
    """The last ones, the newest first."""
    query = select(audit).order_by(audit.c.id.desc()).limit(MOST_SHOWN)
    return tuple(
        AuditLine(row.at, row.account, Audited(row.deed), row.whose)
        for row in connection.execute(query)
    )
