"""A student sends a take: it is looked into, laid on the disk for good, and then acknowledged."""

from __future__ import annotations

from pathlib import Path

from halfstep.school.database import School
from halfstep.school.sent_takes import SentTake, keep_sent_take, store_recording
from halfstep.school.students import Student
from halfstep.services.recording_check import demand_recording


def send_take(
    school: School, student: Student, recording: Path, *, name: str, hand_out: int | None = None
) -> SentTake:
    """Keep a recording that a student sends; one that was sent before stands as it is.

    Parameters
    ----------
    school : School
    student : Student
        One who is kept.
    recording : Path
        Where it lies just now.
    name : str
        What the student called the file.
    hand_out : int, optional
        What it is played from.

    Raises
    ------
    TakeError
        When it is no recording.
    StoreError
        When it cannot be kept; then nothing of it is there.
    """
    assert student.number is not None
    demand_recording(recording)
    stored = store_recording(school, student.number, recording)
    with school.writing() as connection:
        return keep_sent_take(connection, stored, hand_out=hand_out, name=name)
