"""How often was it tried to sign in and failed? Counted where all processes see it.

Names and addresses are kept as digests under the folder's secret, for as long as they count.
"""

from __future__ import annotations

import hashlib
import hmac
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, delete, func, insert, select

from halfstep.errors import TooManyTries
from halfstep.school.tables import attempts

COUNTS_FOR = timedelta(minutes=15)
MOST_OF_NAME = 8
MOST_OF_ADDRESS = 60
"""A school may come from one address."""


def subject_of(secret: bytes, kind: str, text: str) -> str:
    """A name or an address, as it is counted."""
    return hmac.new(secret, f"{kind} {text}".encode(), hashlib.sha256).hexdigest()


def demand_few(connection: Connection, subject: str, most: int) -> None:
    """Refuse who has tried too often.

    Raises
    ------
    TooManyTries
    """
    since = datetime.now(UTC) - COUNTS_FOR
    recent = (attempts.c.subject == subject, attempts.c.at > since)
    count, first = connection.execute(
        select(func.count(), func.min(attempts.c.at)).where(*recent)
    ).one()
    if count >= most:
        waits = max(1, round((first + COUNTS_FOR - datetime.now(UTC)).total_seconds() / 60))
        minutes = "a minute" if waits == 1 else f"{waits} minutes"
        raise TooManyTries(f"too many tries; wait {minutes}, or ask for a new link")


def note_attempt(connection: Connection, *subjects: str) -> None:
    """Count a try that failed, and forget those that count no more."""
    now = datetime.now(UTC)
    connection.execute(delete(attempts).where(attempts.c.at <= now - COUNTS_FOR))
    connection.execute(insert(attempts), [{"subject": one, "at": now} for one in subjects])


def forget_attempts(connection: Connection, subject: str) -> None:
    """Begin anew, once it was the right password."""
    connection.execute(delete(attempts).where(attempts.c.subject == subject))
