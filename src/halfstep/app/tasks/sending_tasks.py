"""A student sends a take: it is looked into, laid on the disk for good, and then acknowledged."""

from __future__ import annotations

from pathlib import Path

from halfstep.app.sent_files import SENT_FILES
from halfstep.app.tasks.heard_take_tasks import ask_to_hear
from halfstep.school.consents import Purpose, demand_allowed
from halfstep.school.database import School
from halfstep.school.sent_takes import SentTake, keep_sent_take, store_recording
from halfstep.school.students import Student


def send_take(
    school: School,
    student: Student,
    recording: Path,
    *,
    name: str,
    hand_out: int | None = None,
    lesson: str = "",
    step: str = "",
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
    lesson : str, optional
        The folder of the student's sheet, below the school's folder: the take is heard by it.
    step : str, optional
        The step that was played; without it the line is the player's own.

    Raises
    ------
    TakeError
        When it is no recording.
    NotAllowed
        When recording is not allowed for this player.
    StoreError
        When it cannot be kept; then nothing of it is there.
    """
    assert student.number is not None
    with school.reading() as connection:
        demand_allowed(connection, student.number, Purpose.RECORDING)
    SENT_FILES.demand_recording(recording)
    stored = store_recording(school, student.number, recording)
    with school.writing() as connection:
        demand_allowed(connection, student.number, Purpose.RECORDING)
        take = keep_sent_take(connection, stored, hand_out=hand_out, name=name)
        if lesson:
            ask_to_hear(connection, student, take, lesson=lesson, step=step)
    return take
