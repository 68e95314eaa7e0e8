"""The recordings that students send: kept first, heard afterwards, answered by the teacher.

A recording is on the disk for good before its row stands, and only a row that stands is
acknowledged. The same recording sent twice for the same thing is one.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import ColumnElement, Connection, Row, func, insert, select, true, update

from halfstep.errors import BriefError, NoSuchThing
from halfstep.files import file_digest
from halfstep.school.database import School
from halfstep.school.kept_takes import take_file, take_name
from halfstep.school.lanes import SENT_TAKE
from halfstep.school.students import doubling_of
from halfstep.school.tables import sent_takes

BELONGING = SENT_TAKE
"""The first word of what the jobs that hear takes belong to."""
MOST_A_DAY = 200
"""Takes of one student within a day: more than anybody practises, and no disk is filled by them."""
LONGEST_FILE_NAME = 200
"""Letters of what a student called a recording."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SentTake:
    """A recording that a student sent.

    Attributes
    ----------
    number : int
    student : int
        The number of who sent it.
    hand_out : int or None
        The number of what it is played from; None for what is played from nothing, or no more.
    source : str
        The digest of what was recorded.
    file : Path
        Where it lies, below the folder of takes; the folder itself once it has gone.
    name : str
        What the student called the file.
    about : str
        What the practice room knows of it, as data; empty for a file that was sent.
    sent_at : datetime
    feedback : str
        What was heard in it, as data; empty before.
    folder : str
        Where the files of the feedback lie, below the school's folder; empty before.
    trouble : str
        Why it could not be heard, in one line.
    words : str
        What the teacher said of it.
    marks : str
        What the teacher marked in it, as data.
    answered_at : datetime or None
    doubling : int
        Which of the student's instruments it was played on, 0 for the first.
    """

    number: int
    student: int
    hand_out: int | None
    source: str
    file: Path
    name: str
    about: str = ""
    sent_at: datetime
    feedback: str = ""
    folder: str = ""
    trouble: str = ""
    words: str = ""
    marks: str = ""
    answered_at: datetime | None = None
    doubling: int = 0

    @property
    def has_recording(self) -> bool:
        """False once the recording has gone and what was said of it stays."""
        return bool(self.file.name)

    @property
    def levels(self) -> dict[str, int]:
        """What the teacher marked, each line with one of four levels from 1."""
        return {str(name): int(level) for name, level in json.loads(self.marks or "{}").items()}


@dataclass(frozen=True, slots=True)
class StoredRecording:
    """A recording of a student that lies on the disk for good, and has no row yet.

    Attributes
    ----------
    student : int
    source : str
        The digest of what was recorded.
    file : Path
        Where it lies, below the folder of takes.
    """

    student: int
    source: str
    file: Path


def store_recording(school: School, student: int, recording: Path) -> StoredRecording:
    """Copy a recording to where a student's takes lie; what no row speaks of is swept away later.

    Raises
    ------
    StoreError
        When it cannot be copied.
    """
    source = file_digest(recording)
    file = take_file(student, source, recording)
    school.files.put(take_name(file), recording)
    return StoredRecording(student, source, file)


def keep_sent_take(
    connection: Connection,
    recording: StoredRecording,
    *,
    hand_out: int | None,
    name: str,
    about: str = "",
) -> SentTake:
    """Keep a recording that was sent; the take that stands where the same was sent before.

    One whose recording has gone since has it again, as sent now.

    Parameters
    ----------
    connection : Connection
    recording : StoredRecording
    hand_out : int or None
        What it is played from.
    name : str
        What the student called the file.
    about : str, optional
        What the practice room knows of it, as data.

    Raises
    ------
    BriefError
        For another one of a student who sent `MOST_A_DAY` within a day.
    """
    same = (
        sent_takes.c.student_id == recording.student,
        _of_hand_out(hand_out),
        sent_takes.c.source == recording.source,
    )
    row = connection.execute(select(sent_takes).where(*same)).first()
    if row is None:
        _demand_few(connection, recording.student)
        at_hand = connection.scalar(select(doubling_of(recording.student)))
        values = _values(recording, hand_out, name, about)
        connection.execute(insert(sent_takes), {**values, "doubling": at_hand})
        row = connection.execute(select(sent_takes).where(*same)).one()
    elif not row.file:
        anew = {"file": recording.file.as_posix(), "sent_at": datetime.now(UTC)}
        connection.execute(update(sent_takes).where(*same).values(**anew))
        row = connection.execute(select(sent_takes).where(*same)).one()
    return _sent_take(row)


def _demand_few(connection: Connection, student: int) -> None:
    """Refuse who would fill the disk: nobody practises that much."""
    since = datetime.now(UTC) - timedelta(days=1)
    own = (sent_takes.c.student_id == student, sent_takes.c.sent_at > since)
    count = connection.scalar(select(func.count()).select_from(sent_takes).where(*own))
    if count is not None and count >= MOST_A_DAY:
        raise BriefError(
            f"{MOST_A_DAY} takes came within a day; this one can be sent tomorrow, or once others "
            "are older than a day"
        )


def _of_hand_out(number: int | None) -> ColumnElement[bool]:
    column = sent_takes.c.hand_out_id
    return column.is_(None) if number is None else column == number


def _values(
    recording: StoredRecording, hand_out: int | None, name: str, about: str
) -> dict[str, object]:
    return {
        "student_id": recording.student,
        "hand_out_id": hand_out,
        "source": recording.source,
        "file": recording.file.as_posix(),
        "name": name[-LONGEST_FILE_NAME:],
        "about": about,
        "sent_at": datetime.now(UTC),
    }


def find_sent_take(connection: Connection, number: int) -> SentTake:
    """The take of a number.

    Raises
    ------
    NoSuchThing
    """
    row = connection.execute(select(sent_takes).where(sent_takes.c.id == number)).first()
    if row is None:
        raise NoSuchThing("there is no such take; it may have been erased")
    return _sent_take(row)


def keep_heard(connection: Connection, number: int, *, feedback: str, folder: str) -> None:
    """Keep what was heard in a take, in the place of what stood there.

    Raises
    ------
    NoSuchThing
    """
    _changed(connection, number, feedback=feedback, folder=folder, trouble="")


def keep_trouble(connection: Connection, number: int, trouble: str) -> None:
    """Keep why a take could not be heard.

    Raises
    ------
    NoSuchThing
    """
    _changed(connection, number, trouble=trouble)


def keep_answer(connection: Connection, number: int, *, words: str, marks: dict[str, int]) -> None:
    """Keep what the teacher says of a take, as sent now.

    Raises
    ------
    NoSuchThing
    """
    now = datetime.now(UTC)
    _changed(connection, number, words=words, marks=json.dumps(marks), answered_at=now)


def _changed(connection: Connection, number: int, **values: object) -> None:
    change = update(sent_takes).where(sent_takes.c.id == number).values(**values)
    if not connection.execute(change).rowcount:
        raise NoSuchThing("there is no such take; it may have been erased")


def sent_takes_of(connection: Connection, student: int) -> tuple[SentTake, ...]:
    """All that a student sent, the newest first."""
    return takes_where(connection, sent_takes.c.student_id == student)


def sent_for(connection: Connection, hand_out: int) -> tuple[SentTake, ...]:
    """All that was sent for what was handed out, the newest first."""
    return takes_where(connection, sent_takes.c.hand_out_id == hand_out)


def every_sent_take(connection: Connection) -> tuple[SentTake, ...]:
    """All that was sent, the newest first."""
    return takes_where(connection, true())


def count_sent_takes(connection: Connection) -> int:
    """How many there are."""
    return connection.scalars(select(func.count(sent_takes.c.id))).one()


def unanswered(connection: Connection) -> tuple[SentTake, ...]:
    """All that the teacher has said nothing of yet, the newest first."""
    return takes_where(connection, sent_takes.c.answered_at.is_(None))


def takes_where(connection: Connection, which: ColumnElement[bool]) -> tuple[SentTake, ...]:
    """The takes of which something holds, the newest first."""
    order = (sent_takes.c.sent_at.desc(), sent_takes.c.id.desc())
    query = select(sent_takes).where(which).order_by(*order)
    return tuple(map(_sent_take, connection.execute(query)))


def _sent_take(row: Row[tuple[object, ...]]) -> SentTake:
    return SentTake(
        number=row.id,
        student=row.student_id,
        hand_out=row.hand_out_id,
        source=row.source,
        file=Path(row.file),
        name=row.name,
        about=row.about,
        sent_at=row.sent_at,
        feedback=row.feedback,
        folder=row.folder,
        trouble=row.trouble,
        words=row.words,
        marks=row.marks,
        answered_at=row.answered_at,
        doubling=row.doubling,
    )
