"""Who was erased, so that an older copy brings nobody back? A mark of each, that says nothing.

A mark is a digest of the number and the moment under which a student was kept: it is known again
in a copy that has the student's row, and tells nothing to who has no such copy. Marks are kept with
the school, and in a file beside its copies: a copy is given back when the school itself is lost.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC
from pathlib import Path

from sqlalchemy import Connection, insert, select

from halfstep.files import write_whole
from halfstep.school.database import School
from halfstep.school.students import Student
from halfstep.school.tables import copy_places, erasures

ERASED_FILE = "erased.txt"
"""Beside the copies: a mark in each line."""
_LETTERS = 32


def erasure_mark(student: Student) -> str:
    """The mark of a student."""
    kept_under = f"{student.number} {student.added_at.astimezone(UTC).isoformat()}"
    return hashlib.sha256(kept_under.encode()).hexdigest()[:_LETTERS]


def keep_mark(connection: Connection, mark: str) -> None:
    """Keep the mark of somebody who is erased."""
    if mark not in _kept(connection):
        connection.execute(insert(erasures), {"mark": mark})


def keep_place(school: School, place: Path) -> None:
    """Keep where copies lie."""
    path = str(place.resolve())
    with school.writing() as connection:
        if path not in set(connection.scalars(select(copy_places.c.path))):
            connection.execute(insert(copy_places), {"path": path})


def write_marks(school: School) -> None:
    """Write the marks beside all copies that can be reached; the others have them with the next."""
    with school.reading() as connection:
        marks = _kept(connection)
        places = [Path(path) for path in connection.scalars(select(copy_places.c.path))]
    for place in places:
        known = marks_in(place)
        with suppress(OSError):
            if place.is_dir() and not marks <= known:
                write_whole(place / ERASED_FILE, _lines(marks | known))


def _lines(marks: Iterable[str]) -> bytes:
    return "".join(f"{mark}\n" for mark in sorted(marks)).encode()


def marks_in(place: Path) -> set[str]:
    """The marks beside copies; none where there is no such file."""
    try:
        lines = place.joinpath(ERASED_FILE).read_text("utf-8").split()
    except (OSError, UnicodeDecodeError):
        return set()
    return set(lines)


def known_marks(connection: Connection, place: Path) -> set[str]:
    """The marks that a school and the folder of its copies have."""
    return _kept(connection) | marks_in(place)


def _kept(connection: Connection) -> set[str]:
    return set(connection.scalars(select(erasures.c.mark)))
