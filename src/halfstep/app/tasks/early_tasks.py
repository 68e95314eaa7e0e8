"""A recording of the practice room is listened to while it grows: by whom it is, and what is shown.

What is heard so is for the eye; feedback hears the whole once it is a take, and is the sooner done.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from halfstep.app.tasks.room_tasks import room_take
from halfstep.school.database import School
from halfstep.school.early_folders import early_folder, early_sound
from halfstep.school.room_recordings import RoomRecording, find_recording, sound_name
from halfstep.school.students import Student
from halfstep.services.early_hearing import GrowingRecording, early_names, early_notes


class ShownNote(NamedTuple):
    """A note that was heard, as it is shown.

    Attributes
    ----------
    name : str
        In the player's written pitch.
    at_s : float
        When it began, in the recording.
    certainty : float
        0 to 1.
    """

    name: str
    at_s: float
    certainty: float


def growing_recording_of(school: School, student: Student, key: str) -> GrowingRecording:
    """A student's recording as it is listened to.

    Raises
    ------
    NoSuchThing
    """
    recording = _recording(school, student, key)
    return GrowingRecording(
        _sound_here(school, recording),
        int(recording.about["sample_rate"]),
        student.instrument.key,
        early_folder(school, recording.student, key),
    )


def _sound_here(school: School, recording: RoomRecording) -> Path:
    """Where a recording grows on this machine."""
    path = school.files.path_here(sound_name(recording))
    return path or early_sound(school, recording.student, recording.key)


def notes_so_far(school: School, student: Student, key: str, *, after: int) -> list[ShownNote]:
    """The notes that were heard of a recording so far.

    Parameters
    ----------
    school : School
    student : Student
        Whose it is.
    key : str
        The recording's.
    after : int
        So many of the first are left out.

    Raises
    ------
    NoSuchThing
    """
    recording = _recording(school, student, key)
    notes = early_notes(early_folder(school, recording.student, key), after)
    names = early_names(notes, student.instrument, _signature(school, student, recording))
    return [
        ShownNote(name, note.onset_s, note.certainty)
        for name, note in zip(names, notes, strict=True)
    ]


def _recording(school: School, student: Student, key: str) -> RoomRecording:
    with school.reading() as connection:
        return find_recording(connection, student.number or 0, key)


def _signature(school: School, student: Student, recording: RoomRecording) -> int:
    """The signature of what the player reads, in fifths."""
    known = {"piece": recording.piece} | recording.about
    return _signature_of(school, student, json.dumps(known, sort_keys=True))


@lru_cache(256)
def _signature_of(school: School, student: Student, known: str) -> int:
    """Kept, since it is asked for each second."""
    played = room_take(school, student, json.loads(known))
    return 0 if played is None else played.etude.part.key.fifths
