"""The recordings of a student, with what was said of them, as they are kept.

A recording lies in a folder of its student's number; no name stands in the name of a file. It is
there whole before its row says so, and what no row speaks of is swept away when it is old.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, delete, insert, select, union

from halfstep.files import file_digest
from halfstep.school.data_folder import TAKES_FOLDER
from halfstep.school.database import School
from halfstep.school.students import student_id
from halfstep.school.tables import sent_takes, takes

SWEPT_AFTER_S = 3600.0
"""A file that no row speaks of is taken for left behind when it is as old as this."""


@dataclass(frozen=True, slots=True)
class KeptTake:
    """A recording that was judged.

    Attributes
    ----------
    source : str
        The digest of what was recorded.
    recorded_at : datetime
    file : Path
        Where it lies, below the folder of takes; the folder itself once it has gone.
    feedback : str
        What was said of it, as data.
    """

    source: str
    recorded_at: datetime
    file: Path
    feedback: str

    @property
    def has_recording(self) -> bool:
        """False once the recording has gone and what was said of it stays."""
        return bool(self.file.name)


def keep_take(
    school: School,
    connection: Connection,
    name: str,
    *,
    recording: Path,
    recorded_at: datetime,
    feedback: str,
) -> KeptTake:
    """Keep a recording with its feedback, in the place of the same one kept before.

    Raises
    ------
    BriefError
        When there is no such student.
    StoreError
        When it cannot be copied.
    """
    number = student_id(connection, name)
    source = file_digest(recording)
    file = take_file(number, source, recording)
    school.files.put(take_name(file), recording)
    row = {
        "student_id": number,
        "source": source,
        "recorded_at": recorded_at,
        "file": file.as_posix(),
        "feedback": feedback,
        "kept_at": datetime.now(UTC),
    }
    same = (takes.c.student_id == number, takes.c.source == source)
    connection.execute(delete(takes).where(*same))
    connection.execute(insert(takes), row)
    return KeptTake(source, recorded_at, file, feedback)


def take_file(student: int, source: str, recording: Path) -> Path:
    """Where a recording lies below the folder of takes: no name stands in the name of a file."""
    return Path(str(student)) / f"{source[:32]}{recording.suffix.lower()[:10]}"


def take_name(file: Path) -> str:
    """The name of a recording's file, by where it lies below the folder of takes."""
    return f"{TAKES_FOLDER}/{file.as_posix()}"


def takes_of(connection: Connection, name: str) -> tuple[KeptTake, ...]:
    """All recordings of a student, in order of time.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    number = student_id(connection, name)
    query = select(takes).where(takes.c.student_id == number).order_by(takes.c.recorded_at)
    return tuple(
        KeptTake(row.source, row.recorded_at, Path(row.file), row.feedback)
        for row in connection.execute(query)
    )


def sweep(school: School, connection: Connection, *, older_than_s: float = SWEPT_AFTER_S) -> None:
    """Remove recordings that no row speaks of: a process that was killed left them behind."""
    oldest_s = time.time() - older_than_s
    # listed before rows are asked for: what is kept meanwhile is not in the list
    old = [one.name for one in school.files.files_below(TAKES_FOLDER) if one.changed_s < oldest_s]
    rows = connection.scalars(union(select(takes.c.file), select(sent_takes.c.file)))
    kept = {take_name(Path(file)) for file in rows}
    for name in old:
        if name not in kept:
            school.files.remove_unless_younger(name, oldest_s)
