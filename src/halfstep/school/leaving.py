"""How does a student leave? With all that is kept, in open formats; and without a trace."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection

from halfstep.data.documents import json_text
from halfstep.data.evidence_json import evidence_data
from halfstep.data.plan_json import plan_data
from halfstep.errors import BriefError, StoreError
from halfstep.files import whole_folder
from halfstep.practice.evidence import Evidence
from halfstep.school.database import School
from halfstep.school.jobs import jobs_of_student
from halfstep.school.kept_evidence import evidence_of
from halfstep.school.kept_plans import plans_of
from halfstep.school.kept_takes import KeptTake, sweep, takes_of
from halfstep.school.made_files import folders_made
from halfstep.school.students import Student, find_student, remove_student, student_id

EVIDENCE_COLUMNS = (
    "at", "unit", "step", "key", "tempo_bpm", "verdict", "weight", "minutes", "trouble",
    "trouble_bar", "progression", "source",
)  # fmt: skip


def export_student(school: School, name: str, folder: Path) -> tuple[Path, ...]:
    """Write all that is kept of a student into a folder: JSON, CSV, and the recordings.

    What is believed follows from these and from the course, and is not written.

    Raises
    ------
    BriefError
        When there is no such student, or the folder has something in it.
    StoreError
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BriefError(f"`folder` {folder}: it is not empty; give the name of a new folder")
    with school.reading() as connection:
        files = dict(_files(connection, name))
        kept = takes_of(connection, name)
    with whole_folder(folder) as work:
        for file, text in files.items():
            work.joinpath(file).write_text(text, "utf-8")
        names = [_take_written(school, take, n, work) for n, take in enumerate(kept, 1)]
    return tuple(sorted(folder / file for file in (*files, *(n for pair in names for n in pair))))


def _files(connection: Connection, name: str) -> Iterator[tuple[str, str]]:
    student = find_student(connection, name)
    yield "student.json", json_text(student_data(student))
    yield "evidence.csv", _evidence_table(evidence_of(connection, name))
    plans = [plan_data(plan) for plan in plans_of(connection, name)]
    yield "plans.json", json.dumps(plans, ensure_ascii=False, indent=1) + "\n"


def student_data(student: Student) -> dict[str, object]:
    """A student as data."""
    return {
        "name": student.name,
        "instrument": student.instrument.key,
        "level": str(student.level),
        "known_notes": student.known_notes,
        "keys": student.keys,
        "minutes": student.minutes,
        "added_at": student.added_at.isoformat(),
    }


def _evidence_table(pieces: tuple[Evidence, ...]) -> str:
    text = io.StringIO()
    table = csv.DictWriter(text, EVIDENCE_COLUMNS, lineterminator="\n")
    table.writeheader()
    table.writerows(evidence_data(piece) for piece in pieces)
    return text.getvalue()


def _take_written(school: School, take: KeptTake, number: int, work: Path) -> tuple[str, str]:
    """The recording and its feedback, by number and day."""
    stem = f"take-{number:03d}-{take.recorded_at:%Y-%m-%d}"
    recording, feedback = f"{stem}{take.file.suffix}", f"{stem}.json"
    shutil.copyfile(school.takes_folder / take.file, work / recording)
    work.joinpath(feedback).write_text(take.feedback, "utf-8")
    return recording, feedback


def erase_student(school: School, name: str) -> None:
    """Remove a student with all that is kept of the student, so that no byte is left.

    The files of the folder are meant; what a disk or a copy elsewhere keeps is not reached.

    Raises
    ------
    BriefError
        When there is no such student.
    StoreError
        When something is in the way; it may be done again.
    """
    with school.writing() as connection:
        number = student_id(connection, name)
        # recordings first: while the row stands, what fails can be done again
        _remove_folder(school.takes_folder / str(number))
        for job in jobs_of_student(connection, number):
            for folder in folders_made(school, job):
                _remove_folder(folder)
        remove_student(connection, name)
        sweep(school, connection)
    school.forget_removed()


def _remove_folder(folder: Path) -> None:
    try:
        if folder.exists():
            shutil.rmtree(folder)
    except OSError as error:
        raise StoreError(f"cannot remove {folder}: {error.strerror}") from None
