"""Recordings that come from the practice room, while they are played and after.

A recording has the key that its browser made. It grows by pieces, and becomes a take when it is
whole; the row then names the take, so that one that is sent again is the same. The browser keeps
all of it until then: what is left unfinished here for days, or beyond what one player may leave,
is swept away, and comes anew should it still be sent.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.data_folder import RECORDINGS_FOLDER
from halfstep.school.database import School
from halfstep.school.tables import room_recordings

STAYS_DAYS = 14
"""So long an unfinished recording is kept."""
MOST_UNFINISHED = 5
"""Of one player."""
MOST_BYTES = 120_000_000
"""Of one recording: twenty minutes at 48 kHz."""
ORPHANED_AFTER_S = 3600.0
"""A file without a row is taken for left behind when it is as old as this."""


@dataclass(frozen=True, slots=True)
class RoomRecording:
    """A recording as it comes from the practice room.

    Attributes
    ----------
    number : int
    student : int
        The number of who plays.
    key : str
        Made in the browser.
    piece : str
        The address of what is played, in the room.
    about : dict
        What is known of it: its rate, its tempo, when things sounded.
    begun_at : datetime
        When the first word of it came.
    take : int or None
        The number of the take that it became.
    """

    number: int
    student: int
    key: str
    piece: str
    about: dict[str, Any]
    begun_at: datetime
    take: int | None = None


def recordings_folder(student: int) -> str:
    """The folder in which a player's recordings grow."""
    return f"{RECORDINGS_FOLDER}/{student}"


def sound_name(recording: RoomRecording) -> str:
    """The name of the file in which the sound grows: 16 bit, one channel, no head."""
    return f"{recordings_folder(recording.student)}/{recording.key}.pcm"


def begin_recording(
    connection: Connection, student: int, key: str, *, piece: str, about: Mapping[str, Any]
) -> RoomRecording:
    """Keep that a recording comes; the one that stands where it began before."""
    standing = _first(connection, student, key)
    if standing is None:
        values = {
            "student_id": student,
            "key": key,
            "piece": piece,
            "about": json.dumps(about, ensure_ascii=False),
            "begun_at": datetime.now(UTC),
        }
        connection.execute(insert(room_recordings), values)
    return standing or find_recording(connection, student, key)


def find_recording(connection: Connection, student: int, key: str) -> RoomRecording:
    """A player's recording of a key.

    Raises
    ------
    NoSuchThing
    """
    recording = _first(connection, student, key)
    if recording is None:
        raise NoSuchThing("there is no such recording; it may have been swept away")
    return recording


def _first(connection: Connection, student: int, key: str) -> RoomRecording | None:
    which = (room_recordings.c.student_id == student, room_recordings.c.key == key)
    row = connection.execute(select(room_recordings).where(*which)).first()
    return None if row is None else _recording(row)


def recording_of_take(connection: Connection, take: int) -> RoomRecording | None:
    """The recording that became a take; None for one that came as a file."""
    which = room_recordings.c.take_id == take
    row = connection.execute(select(room_recordings).where(which)).first()
    return None if row is None else _recording(row)


def recordings_of(connection: Connection, student: int) -> tuple[RoomRecording, ...]:
    """All of a player, the oldest first."""
    query = select(room_recordings).where(room_recordings.c.student_id == student)
    order = (room_recordings.c.begun_at, room_recordings.c.id)
    return tuple(map(_recording, connection.execute(query.order_by(*order))))


def finish_recording(
    connection: Connection, recording: RoomRecording, *, about: Mapping[str, Any], take: int
) -> None:
    """Keep which take a recording became, and what is known of it now."""
    values = {"about": json.dumps(about, ensure_ascii=False), "take_id": take}
    which = room_recordings.c.id == recording.number
    connection.execute(update(room_recordings).where(which).values(**values))


def forget_recordings(
    school: School, connection: Connection, gone: Iterable[RoomRecording]
) -> None:
    """Remove recordings that became no take, with their sound.

    Raises
    ------
    StoreError
    """
    for recording in gone:
        remove_sound(school, recording)
        which = room_recordings.c.id == recording.number
        connection.execute(delete(room_recordings).where(which))


def remove_sound(school: School, recording: RoomRecording) -> None:
    """Remove what grew.

    Raises
    ------
    StoreError
    """
    school.files.remove(sound_name(recording))


def sweep_recordings(school: School, connection: Connection, student: int) -> None:
    """Remove what a player left unfinished beyond the most, and what anybody did for days.

    Parameters
    ----------
    student : int
        Whose recordings are counted; old ones go whosoever they are.

    Raises
    ------
    StoreError
    """
    unfinished = [one for one in recordings_of(connection, student) if one.take is None]
    forget_recordings(school, connection, unfinished[:-MOST_UNFINISHED])
    forget_old_recordings(school, connection)


def forget_old_recordings(school: School, connection: Connection) -> None:
    """Remove what anybody left unfinished for days.

    Raises
    ------
    StoreError
    """
    forget_recordings(school, connection, _older(connection, days=STAYS_DAYS))


def _older(connection: Connection, *, days: int) -> list[RoomRecording]:
    oldest = datetime.now(UTC) - timedelta(days=days)
    which = (room_recordings.c.take_id.is_(None), room_recordings.c.begun_at < oldest)
    return [*map(_recording, connection.execute(select(room_recordings).where(*which)))]


def sweep_orphans(school: School, connection: Connection) -> None:
    """Remove sound without a row: a process that was killed left it behind."""
    oldest_s = time.time() - ORPHANED_AFTER_S
    found = school.files.files_below(RECORDINGS_FOLDER)
    old = [one.name for one in found if one.changed_s < oldest_s]
    query = select(room_recordings).where(room_recordings.c.take_id.is_(None))
    kept = {sound_name(_recording(row)) for row in connection.execute(query)}
    for name in old:
        if name not in kept:
            school.files.remove_unless_younger(name, oldest_s)


def _recording(row: Row[tuple[object, ...]]) -> RoomRecording:
    return RoomRecording(
        number=row.id,
        student=row.student_id,
        key=row.key,
        piece=row.piece,
        about=json.loads(row.about),
        begun_at=row.begun_at,
        take=row.take_id,
    )
