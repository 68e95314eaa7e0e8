"""On which devices is a player known? By a word in each browser, which can be ended from elsewhere.

A player has no password: a link, followed once, leaves a word of 256 random bits there, of which a
digest is kept. The link itself opens nothing more when its time or its devices are used up.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, delete, insert, not_, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.sessions import begun_in_browser, word_digest
from halfstep.school.tables import devices

DEVICE_MARK = "device-"
"""How the word of a device begins, which no link's and no session's does."""
DEVICE_IDLE = timedelta(days=180)
"""Who does not come for so long needs another link: longer than any holidays."""
DEVICE_LONGEST = timedelta(days=400)
"""And who comes each day, after so long: browsers keep no cookie longer."""
_SEEN_EVERY = timedelta(hours=1)
"""How exactly it is kept when somebody came last: each look would else be a change."""


@dataclass(frozen=True, slots=True)
class PlayersDevice:
    """A browser in which a player is known.

    Attributes
    ----------
    number : int
    student : int
        The number of who it is.
    device : str
        What the browser says of itself, in few words.
    begun_at, seen_at : datetime
    """

    number: int
    student: int
    device: str
    begun_at: datetime
    seen_at: datetime

    @property
    def is_to_be_seen(self) -> bool:
        """True where it is long enough ago that it was kept when somebody came."""
        return datetime.now(UTC) - self.seen_at > _SEEN_EVERY


def begin_device(connection: Connection, student: int, device: str) -> str:
    """Know a player in a browser; the word that it is to keep."""
    word = DEVICE_MARK + secrets.token_urlsafe(32)
    connection.execute(insert(devices), {"student_id": student, **begun_in_browser(word, device)})
    return word


def device_of(connection: Connection, word: str) -> PlayersDevice | None:
    """The device of a word; None for one that is none, was ended, or is too old."""
    query = select(devices).where(devices.c.digest == word_digest(word), *_lasting())
    row = connection.execute(query).first()
    return None if row is None else _device(row)


def see_device(connection: Connection, device: PlayersDevice) -> None:
    """Keep that somebody came."""
    change = update(devices).where(devices.c.id == device.number)
    connection.execute(change.values(seen_at=datetime.now(UTC)))


def devices_of(connection: Connection, student: int) -> tuple[PlayersDevice, ...]:
    """Where a player is known, the last seen first."""
    query = (
        select(devices)
        .where(devices.c.student_id == student, *_lasting())
        .order_by(devices.c.seen_at.desc(), devices.c.id.desc())
    )
    return tuple(map(_device, connection.execute(query)))


def end_device(connection: Connection, student: int, number: int) -> None:
    """Know a player in a browser no more.

    Raises
    ------
    NoSuchThing
        When it is not the player's own.
    """
    if not _end(connection, devices.c.id == number, devices.c.student_id == student):
        raise NoSuchThing("there is no such device; it may have been ended already")


def end_devices(connection: Connection, student: int) -> None:
    """Know a player in no browser any more."""
    _end(connection, devices.c.student_id == student)


def forget_past_devices(connection: Connection) -> None:
    """Remove those that were ended or are too old."""
    connection.execute(delete(devices).where(not_(and_(*_lasting()))))


def _end(connection: Connection, *which: ColumnElement[bool]) -> int:
    change = update(devices).where(*which, devices.c.ended_at.is_(None))
    return connection.execute(change.values(ended_at=datetime.now(UTC))).rowcount


def _lasting() -> tuple[ColumnElement[bool], ...]:
    now, table = datetime.now(UTC), devices.c
    return (
        table.ended_at.is_(None),
        table.seen_at > now - DEVICE_IDLE,
        table.begun_at > now - DEVICE_LONGEST,
    )


def _device(row: Row[Any]) -> PlayersDevice:
    return PlayersDevice(row.id, row.student_id, row.device, row.begun_at, row.seen_at)
