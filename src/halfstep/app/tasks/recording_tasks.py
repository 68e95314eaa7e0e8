"""A recording comes from the practice room in pieces, and becomes a take that is heard.

Every piece is on the disk for good before it is acknowledged, and the take stands with its job
before its browser forgets it: whoever is killed in between, what was acknowledged is there, once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.app.sent_files import SENT_FILES
from halfstep.app.tasks.room_tasks import RoomTake, keep_room_take, placed_title, room_take
from halfstep.errors import BriefError, HalfstepError, StoreError, TakeError
from halfstep.school.consents import Purpose, demand_allowed
from halfstep.school.database import School
from halfstep.school.early_folders import (
    early_below,
    early_folder,
    early_sound,
    remove_early,
    sweep_early,
)
from halfstep.school.growing_files import add_piece, alone_with
from halfstep.school.room_recordings import (
    MOST_BYTES,
    RoomRecording,
    begin_recording,
    find_recording,
    finish_recording,
    forget_recordings,
    remove_sound,
    sound_name,
    sweep_recordings,
)
from halfstep.school.sent_takes import SentTake, find_sent_take, store_recording
from halfstep.school.students import Student
from halfstep.services.recorded_sound import FRAME_BYTES, demand_about, write_take
from halfstep.services.room_band import ask_early_band

LONGEST_TITLE = 100
"""Letters of what a take of the room is called."""


@dataclass(frozen=True, slots=True)
class RecordingStanding:
    """How far a recording has come.

    Attributes
    ----------
    length : int
        Bytes that stand.
    take : SentTake or None
        What it became.
    """

    length: int
    take: SentTake | None = None


def begin(
    school: School, student: Student, key: str, *, piece: str, about: Mapping[str, Any]
) -> RecordingStanding:
    """Expect a recording; one that began before goes on where it stands.

    Parameters
    ----------
    school : School
    student : Student
        One who is kept.
    key : str
        Made in the browser.
    piece : str
        The address of what is played.
    about : dict
        What is known so far.

    Raises
    ------
    BriefError
        When too little is known of it.
    NotAllowed
        When recording is not allowed for this player.
    StoreError
    """
    demand_about(about)
    with school.writing() as connection:
        demand_allowed(connection, _number(student), Purpose.RECORDING)
        begin_recording(connection, _number(student), key, piece=piece, about=about)
        sweep_recordings(school, connection, _number(student))
    sweep_early(school)
    stands = standing(school, student, key)
    if stands.take is None:
        _ask_band(school, student, key, {"piece": piece} | dict(about))
    return stands


def _ask_band(school: School, student: Student, key: str, about: dict[str, Any]) -> None:
    """Have the band that a recording is played to made while it grows."""
    if played := room_take(school, student, about):
        early = early_folder(school, _number(student), key)
        ask_early_band(early, played.band_text, played.about)


def _number(student: Student) -> int:
    assert student.number is not None
    return student.number


def standing(school: School, student: Student, key: str) -> RecordingStanding:
    """How far a recording has come.

    Raises
    ------
    NoSuchThing
    """
    with school.reading() as connection:
        recording = find_recording(connection, _number(student), key)
        take = recording.take and find_sent_take(connection, recording.take)
    return RecordingStanding(school.files.size(sound_name(recording)) or 0, take or None)


def add(school: School, student: Student, key: str, piece: bytes, *, first: int) -> int:
    """Add a piece, and tell how many bytes stand then; one of a take that stands changes nothing.

    Raises
    ------
    NoSuchThing
    BriefError
        When it grows too long.
    NotAllowed
        When recording is not allowed any more.
    StoreError
        When the disk cannot take it.
    """
    with school.reading() as connection:
        recording = find_recording(connection, _number(student), key)
        demand_allowed(connection, _number(student), Purpose.RECORDING)
    if recording.take is not None:
        return 0
    name = sound_name(recording)
    with school.files.alone_with(name):
        have = school.files.add_piece(name, piece, first=first, most=MOST_BYTES)
    if school.files.path_here(name) is None:
        _let_hear(school, recording, piece, first)
    return have


def _let_hear(school: School, recording: RoomRecording, piece: bytes, first: int) -> None:
    """Lay a piece where this machine can listen to it too; where it cannot, none is heard early."""
    sound = early_sound(school, recording.student, recording.key)
    with suppress(HalfstepError), alone_with(sound, school.folder):
        add_piece(sound, piece, first=first, most=MOST_BYTES)


def throw_away(school: School, student: Student, key: str) -> None:
    """Remove a recording that became no take.

    Raises
    ------
    NoSuchThing
    BriefError
        When it was sent.
    StoreError
    """
    with school.reading() as connection:
        name = sound_name(find_recording(connection, _number(student), key))
    # first alone with the sound, then with the database: as at the end, or one waits for the other
    with school.files.alone_with(name), school.writing() as connection:
        recording = find_recording(connection, _number(student), key)
        if recording.take is not None:
            raise BriefError("this take was sent; your teacher has it")
        forget_recordings(school, connection, [recording])
    remove_early(early_folder(school, recording.student, recording.key))


def end(
    school: School, student: Student, key: str, *, frames: int, about: Mapping[str, Any]
) -> RecordingStanding:
    """Make a recording that is whole a take; one that was made stands as it is.

    Parameters
    ----------
    frames : int
        How many it has; where some have not come yet, no take is made.
    about : dict
        What is known of it now, beside what was known when it began.

    Raises
    ------
    NoSuchThing
    BriefError
        When more came than it has.
    TakeError
        When nothing was recorded.
    NotAllowed
        When recording is not allowed any more.
    StoreError
        When it cannot be kept; then no take is there.
    """
    with school.reading() as connection:
        recording = find_recording(connection, _number(student), key)
    with school.files.alone_with(sound_name(recording)):
        stands = standing(school, student, key)
        if stands.take:
            _remove_sound(school, recording)
        if stands.take or stands.length < frames * FRAME_BYTES:
            return stands
        if stands.length > frames * FRAME_BYTES:
            raise BriefError(f"`frames`: more than {frames} came; send how many it has")
        if not frames:
            raise TakeError("nothing was recorded")
        known = {**recording.about, **about}
        demand_about(known)
        take = _kept(school, student, recording, known)
        _remove_sound(school, recording)
    return RecordingStanding(frames * FRAME_BYTES, take)


def _remove_sound(school: School, recording: RoomRecording) -> None:
    """Remove what grew of a take that stands, also here alone; what is left is swept away later."""
    with suppress(StoreError, OSError):
        remove_sound(school, recording)
        early_sound(school, recording.student, recording.key).unlink(missing_ok=True)


def _kept(
    school: School, student: Student, recording: RoomRecording, about: dict[str, Any]
) -> SentTake:
    """The take, on the disk for good, its row and its job in one change."""
    name = sound_name(recording)
    played = room_take(school, student, {"piece": recording.piece} | about)
    with (
        school.files.at_hand(name) as folder,
        _removed_after((folder / name).with_suffix(".wav")) as whole,
    ):
        write_take(whole, folder / name, about)
        stored = store_recording(school, _number(student), whole)
    with school.writing() as connection:
        demand_allowed(connection, recording.student, Purpose.RECORDING)
        now = find_recording(connection, recording.student, recording.key)
        if now.take is not None:  # another machine ended it meanwhile
            return find_sent_take(connection, now.take)
        take = keep_room_take(
            connection,
            student,
            stored,
            played,
            name=_name(about, played),
            early=early_below(recording.student, recording.key),
        )
        finish_recording(connection, recording, about=about, take=take.number)
    if played is None:  # no job hears it
        remove_early(early_folder(school, recording.student, recording.key))
    return take


def send_file(
    school: School, student: Student, recording: Path, *, about: Mapping[str, Any]
) -> SentTake:
    """Keep a take of the room that came as a file; one that was sent before stands as it is.

    Raises
    ------
    TakeError
        When it is no recording.
    NotAllowed
        When recording is not allowed for this player.
    StoreError
        When it cannot be kept; then nothing of it is there.
    """
    with school.reading() as connection:
        demand_allowed(connection, _number(student), Purpose.RECORDING)
    SENT_FILES.demand_recording(recording)
    played = room_take(school, student, about)
    stored = store_recording(school, _number(student), recording)
    with school.writing() as connection:
        demand_allowed(connection, _number(student), Purpose.RECORDING)
        return keep_room_take(connection, student, stored, played, name=recording.name)


@contextmanager
def _removed_after(path: Path) -> Iterator[Path]:
    """A file for a while; it lies where it is swept and erased should the process be killed."""
    try:
        yield path
    finally:
        path.unlink(missing_ok=True)


def _name(about: dict[str, Any], played: RoomTake | None) -> str:
    title = " ".join(str(about.get("title") or "").split())[:LONGEST_TITLE]
    if not title and played is not None:
        title = placed_title(played.placed)
    return title or "From the practice room"
