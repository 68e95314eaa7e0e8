"""How does a student leave? With all that is kept, in open formats; and without a trace."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from functools import partial
from pathlib import Path

from sqlalchemy import Connection

from halfstep.data.documents import json_text
from halfstep.data.evidence_json import evidence_data
from halfstep.data.plan_json import plan_data
from halfstep.errors import BriefError
from halfstep.files import whole_folder
from halfstep.practice.evidence import Evidence
from halfstep.school.accounts import remove_idle_guardians
from halfstep.school.audit import forget_student
from halfstep.school.consents import consent_state
from halfstep.school.data_folder import TAKES_FOLDER
from halfstep.school.database import School
from halfstep.school.devices import PlayersDevice, devices_of
from halfstep.school.doublings import instruments_of
from halfstep.school.early_folders import early_folders
from halfstep.school.erasures import erasure_mark, keep_mark, known_marks, write_marks
from halfstep.school.hand_outs import find_hand_out, jobs_for_one, sheets_of_student
from halfstep.school.jobs import Job, jobs_of_student, remove_job
from halfstep.school.kept_evidence import evidence_of
from halfstep.school.kept_plans import plans_of
from halfstep.school.kept_takes import sweep, take_name, takes_of
from halfstep.school.leavers import left_at
from halfstep.school.made_files import attempts_at
from halfstep.school.practised import PractisedItem, practised_since
from halfstep.school.room_recordings import (
    RoomRecording,
    recordings_folder,
    recordings_of,
    sound_name,
)
from halfstep.school.sent_takes import SentTake, sent_takes_of
from halfstep.school.students import (
    Student,
    every_student,
    find_student,
    remove_student,
    student_id,
)

EVIDENCE_COLUMNS = (
    "at", "unit", "step", "key", "tempo_bpm", "verdict", "weight", "minutes", "trouble",
    "trouble_bar", "progression", "part", "source",
)  # fmt: skip


LEFT_OUT = (
    "Recordings and what was heard in them are left out: who saved this is not allowed to hear\n"
    "them. The player and a guardian can save all of it.\n"
)


def export_student(
    school: School, name: str, folder: Path, *, with_takes: bool = True
) -> tuple[Path, ...]:
    """Write all that is kept of a student into a folder: JSON, CSV, recordings, sheets.

    What is believed follows from these and from the course, and is not written.

    Parameters
    ----------
    with_takes : bool
        False for who is not allowed to hear them: a line says that they are left out.

    Raises
    ------
    BriefError
        When there is no such student, or the folder has something in it.
    StoreError
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BriefError(f"`folder` {folder}: it is not empty; give the name of a new folder")
    with school.reading() as connection:
        files = dict(_files(school, connection, name, with_takes=with_takes))
    with whole_folder(folder) as work:
        for file, content in files.items():
            if isinstance(content, str):
                work.joinpath(file).write_text(content, "utf-8")
            else:
                content(work / file)
    return tuple(sorted(folder / file for file in files))


_File = tuple[str, str | Callable[[Path], None]]
"""The name of a file, and its text or what writes it."""


def _files(
    school: School, connection: Connection, name: str, *, with_takes: bool
) -> Iterator[_File]:
    student = find_student(connection, name)
    number = student_id(connection, name)
    played = instruments_of(connection, student)
    yield "student.json", json_text(student_data(student, played))
    yield "consents.json", json_text(_consents_data(connection, number))
    yield "devices.json", _rows(map(_device_data, devices_of(connection, number)))
    for player in played:
        end = f"-{player.instrument.key}" if player.doubling else ""
        pieces = evidence_of(connection, name, player.doubling)
        yield f"evidence{end}.csv", _evidence_table(pieces)
        plans = plans_of(connection, name, player.doubling)
        yield f"plans{end}.json", _rows(map(plan_data, plans))
    practised = practised_since(connection, number, date.min)
    yield "practised.json", _rows(map(_practised_data, practised))
    if with_takes:
        yield from _takes_files(school, connection, name)
    else:
        yield "left-out.txt", LEFT_OUT
    yield from _sheet_files(school, connection, number)


def _consents_data(connection: Connection, number: int) -> dict[str, object]:
    state = consent_state(connection, number)
    left = left_at(connection, number)
    return {
        "is_under_age": state.is_under_age,
        "left_at": left and left.isoformat(),
        "words": [
            {
                "purpose": str(one.purpose),
                "is_given": one.is_given,
                "giver": str(one.giver),
                "at": one.at.isoformat(),
            }
            for one in state.words
        ],
    }


def _takes_files(school: School, connection: Connection, name: str) -> Iterator[_File]:
    number = student_id(connection, name)
    for place, take in enumerate(takes_of(connection, name), 1):
        stem = f"take-{place:03d}-{take.recorded_at:%Y-%m-%d}"
        if take.has_recording:
            yield f"{stem}{take.file.suffix}", _copy_of(school, take_name(take.file))
        yield f"{stem}.json", take.feedback
    yield from _sent_files(school, sent_takes_of(connection, number))
    yield from _room_files(school, recordings_of(connection, number))


def _copy_of(school: School, name: str) -> Callable[[Path], None]:
    return partial(school.files.fetch, name)


def _device_data(device: PlayersDevice) -> dict[str, object]:
    return {
        "device": device.device,
        "begun_at": device.begun_at.isoformat(),
        "seen_at": device.seen_at.isoformat(),
    }


def _practised_data(item: PractisedItem) -> dict[str, object]:
    return {
        "day": item.day.isoformat(),
        "role": str(item.role),
        **item.skill._asdict(),
        "tempo_bpm": item.tempo_bpm,
        "at": item.at.isoformat(),
        "word": str(item.word or ""),
        "heard": str(item.heard or ""),
    }


def _rows(rows: Iterable[dict[str, object]]) -> str:
    return json.dumps(list(rows), ensure_ascii=False, indent=1) + "\n"


def _sent_files(school: School, sent: tuple[SentTake, ...]) -> Iterator[_File]:
    """What the student sent, with what was heard and said of it; the oldest first."""
    rows = []
    for number, take in enumerate(reversed(sent), 1):
        stem = f"sent-{number:03d}-{take.sent_at:%Y-%m-%d}"
        file = f"{stem}{take.file.suffix}" if take.has_recording else ""
        rows.append({"file": file, **_sent_data(take)})
        if file:
            yield file, _copy_of(school, take_name(take.file))
        if take.feedback:
            yield f"{stem}.json", take.feedback
    yield "sent.json", _rows(rows)


def _sent_data(take: SentTake) -> dict[str, object]:
    return {
        "name": take.name,
        "about": take.about,
        "sent_at": take.sent_at.isoformat(),
        "trouble": take.trouble,
        "words": take.words,
        "marks": take.marks,
        "answered_at": take.answered_at and take.answered_at.isoformat(),
    }


def _room_files(school: School, recordings: tuple[RoomRecording, ...]) -> Iterator[_File]:
    """What is known of recordings of the practice room, and the sound of those not sent yet.

    That is 16 bit, one channel, the low byte first, at the rate that stands beside it.
    """
    rows: list[dict[str, object]] = []
    for number, recording in enumerate(recordings, 1):
        file = f"unsent-{number:03d}-{recording.begun_at:%Y-%m-%d}.pcm"
        is_there = recording.take is None and school.files.exists(sound_name(recording))
        rows.append(
            {
                "piece": recording.piece,
                "begun_at": recording.begun_at.isoformat(),
                "about": recording.about,
                "file": file if is_there else "",
            }
        )
        if is_there:
            yield file, _copy_of(school, sound_name(recording))
    yield "room.json", _rows(rows)


def _sheet_files(school: School, connection: Connection, student: int) -> Iterator[_File]:
    """What the student was given, by the number of its sheet."""
    rows = []
    for sheet in sheets_of_student(connection, student):
        hand_out = find_hand_out(connection, sheet.hand_out)
        rows.append(
            {
                "sheet": sheet.number,
                "title": hand_out.title,
                "note": hand_out.note,
                "due_on": hand_out.due_on and hand_out.due_on.isoformat(),
                "made_at": sheet.made_at and sheet.made_at.isoformat(),
            }
        )
        if sheet.folder:
            for name in school.files.names_in(sheet.folder):
                kept = f"{sheet.folder}/{name}"
                yield f"sheet-{sheet.number:03d}-{name}", _copy_of(school, kept)
    yield "sheets.json", _rows(rows)


def student_data(student: Student, played: Sequence[Student] = ()) -> dict[str, object]:
    """A student as data, with the instruments beside the one at hand."""
    others = [_played_data(one) for one in played if one.doubling != student.doubling]
    return {
        "name": student.name,
        **_played_data(student),
        **({"other_instruments": others} if others else {}),
        "print_setting": student.print_setting,
        "minutes": student.minutes,
        "added_at": student.added_at.isoformat(),
    }


def _played_data(player: Student) -> dict[str, object]:
    return {
        "instrument": player.instrument.key,
        "level": str(player.level),
        "known_notes": player.known_notes,
        "keys": player.keys,
    }


def _evidence_table(pieces: tuple[Evidence, ...]) -> str:
    text = io.StringIO()
    table = csv.DictWriter(text, EVIDENCE_COLUMNS, lineterminator="\n")
    table.writeheader()
    table.writerows(evidence_data(piece) for piece in pieces)
    return text.getvalue()


def erase_student(school: School, name: str) -> None:
    """Remove a student with all that is kept of the student, so that no byte is left.

    The files of the folder are meant; what a disk or a copy elsewhere keeps is not reached. A
    sheet that others have too stays theirs: no name is in it. Who was a guardian of this student
    alone goes as well. A mark stays, so that an older copy does not bring the student back.

    Raises
    ------
    BriefError
        When there is no such student.
    StoreError
        When something is in the way; it may be done again.
    """
    with school.reading() as connection:
        number = student_id(connection, name)
        before = _jobs_of(connection, number)
    # files first: while the row stands, what fails can be done again, and others may write
    _remove_files(school, number, before)
    with school.writing() as connection:
        student = find_student(connection, name)
        number = student.number or 0
        jobs = _jobs_of(connection, number)
        _remove_files(school, number, jobs - before)
        for job in jobs:
            remove_job(connection, job.number)
        keep_mark(connection, erasure_mark(student))
        remove_student(connection, name)
        forget_student(connection, number)
        remove_idle_guardians(connection)
    with school.reading() as connection:
        sweep(school, connection)
    school.forget_removed()
    write_marks(school)


def erase_again(school: School, copies: Path) -> None:
    """Erase whoever was erased after a copy was made that this school was given back from.

    Parameters
    ----------
    school : School
    copies : Path
        The folder in which the copy lies, with the marks beside it.
    """
    with school.reading() as connection:
        marks = known_marks(connection, copies)
        names = [one.name for one in every_student(connection) if erasure_mark(one) in marks]
    for name in names:
        erase_student(school, name)


def _jobs_of(connection: Connection, student: int) -> set[Job]:
    """What was and is done for a student and for nobody else."""
    return {*jobs_of_student(connection, student), *jobs_for_one(connection, student)}


def _remove_files(school: School, student: int, jobs: Iterable[Job]) -> None:
    """Remove a student's recordings, what is heard of them, and what some jobs have made."""
    for folder in (f"{TAKES_FOLDER}/{student}", recordings_folder(student), early_folders(student)):
        school.files.remove_below(folder)
    for job in jobs:
        for attempt in attempts_at(school, job):
            school.files.remove_below(attempt)
