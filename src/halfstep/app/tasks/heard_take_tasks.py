"""A take that was sent is heard beside the page, what it shows is counted, and it is answered.

A take is heard by a job. At its end the feedback stands with the take, and what it shows of the
course is evidence; a take that cannot be heard says why, and can be heard again.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from halfstep.app.tasks.practised_tasks import item_heard
from halfstep.app.tasks.room_places import PlanPlace, RoomPlace, place_at
from halfstep.data.about_json import TakeAbout, read_about
from halfstep.data.feedback_json import read_feedback
from halfstep.errors import BriefError, ReadError, StoreError
from halfstep.practice.evidence import Evidence
from halfstep.school.data_folder import TAKES_FOLDER
from halfstep.school.database import School, SchoolConnection
from halfstep.school.doublings import playing
from halfstep.school.early_folders import remove_early
from halfstep.school.jobs import Job, JobState, add_job, begin_again, jobs_of, move_up
from halfstep.school.kept_evidence import keep_evidence
from halfstep.school.made_files import made_files
from halfstep.school.sent_takes import (
    BELONGING,
    SentTake,
    find_sent_take,
    keep_answer,
    keep_heard,
    keep_trouble,
)
from halfstep.school.students import Student
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.stored_requests import read_request, request_text

TEACHERS_LINES = ("tone", "story", "interplay")
"""What no program hears: the teacher's own lines."""
MOST_LETTERS = 2500
"""Of a teacher's words, as many as a page takes."""
FEEDBACK_FILE = "feedback.json"
OWN_LINE = "own"
"""What is played is the player's own line over the chords."""


def belonging_of(take: SentTake) -> str:
    """What the jobs of a take belong to."""
    return f"{BELONGING} {take.number}"


def ask_to_hear(
    connection: SchoolConnection, student: Student, take: SentTake, *, lesson: str, step: str = ""
) -> Job:
    """Have a take heard, in the change that keeps it; the job that stands where it was asked for.

    Parameters
    ----------
    connection : Connection
    student : Student
        Who plays.
    take : SentTake
    lesson : str
        The folder of the lesson it belongs to, below the school's folder.
    step : str
        The step that was played; empty for a line of the player's own over the chords.
    """
    request = GiveFeedback(
        take=Path(TAKES_FOLDER) / take.file,
        lesson=Path(lesson),
        step=step or None,
        instrument=student.instrument.key,
        level=str(student.level),
        called=Path(take.name).stem,
    )
    return add_job(connection, belonging_of(take), request_text(request), student=student.name)


def ask_to_hear_piece(
    connection: SchoolConnection,
    student: Student,
    take: SentTake,
    etude: EtudeReply,
    band: EtudeReply,
    about: TakeAbout,
    *,
    early: Path | None = None,
) -> Job:
    """Have a take of the practice room heard by what was played; else as `ask_to_hear`.

    Parameters
    ----------
    connection : Connection
    student : Student
    take : SentTake
    etude : EtudeReply
        In the tempo, key and feel in which it was played, of the bars that went round.
    band : EtudeReply
        The same, of all its bars.
    about : TakeAbout
    early : Path, optional
        The folder of what was heard of it while it was recorded, below the school's.
    """
    request = GiveFeedback(
        take=Path(TAKES_FOLDER) / take.file,
        etude=etude.file(".json").data.decode(),
        own_line=about.line == OWN_LINE,
        level=str(student.level),
        headphones=about.headphones,
        called=take.name,
        about=about.text,
        band="" if band is etude else band.file(".json").data.decode(),
        early=early,
    )
    return add_job(connection, belonging_of(take), request_text(request), student=student.name)


def hearing_of(school: School, take: SentTake) -> Job | None:
    """What hears a take, or heard it last; None where nobody asked for that."""
    with school.reading() as connection:
        jobs = jobs_of(connection, belonging_of(take))
    return jobs[-1] if jobs else None


def awaited_hearing(school: School, take: SentTake) -> Job | None:
    """The same, for who looks at the take's page: from now on somebody waits for it."""
    job = hearing_of(school, take)
    if job is not None and job.stands_back:
        with suppress(StoreError), school.writing() as connection:  # else at the next look
            move_up(connection, job.number)
    return job


def hear_again(school: School, number: int) -> Job:
    """Have a take heard once more: by another release, or after a trouble.

    Raises
    ------
    NoSuchThing
    BriefError
        When nobody asked for it to be heard, or the recording has gone.
    """
    with school.writing() as connection:
        take = find_sent_take(connection, number)
        if not take.has_recording:
            raise BriefError("the recording was kept as long as it may be, and has gone")
        jobs = jobs_of(connection, belonging_of(take))
        if not jobs:
            raise BriefError("this take belongs to no lesson, so there is nothing to hear it by")
        return begin_again(connection, jobs[-1].number)


def take_ended(school: School, connection: SchoolConnection, job: Job) -> None:
    """Write the end of a job into the take that it heard."""
    number = _number_of(job)
    _remove_early_hearing(school, job)
    if job.state is not JobState.DONE:
        keep_trouble(connection, number, job.trouble)
        return
    made = made_files(job)
    text = school.files.content(f"{made.folder}/{FEEDBACK_FILE}").decode()
    _keep_feedback(connection, number, text, folder=made.folder)


def take_is_heard(_: School, connection: SchoolConnection, job: Job, content: bytes) -> None:
    """Write what was heard into the take before its pages and sounds are made."""
    _keep_feedback(connection, _number_of(job), content.decode(), folder="")


def _number_of(job: Job) -> int:
    return int(job.belongs_to.partition(" ")[2])


def _keep_feedback(connection: SchoolConnection, number: int, text: str, *, folder: str) -> None:
    """Keep feedback with its take, and count what it shows: once, however often it is kept."""
    keep_heard(connection, number, feedback=text, folder=folder)
    evidence = read_feedback(text).evidence
    if evidence is not None:
        take = find_sent_take(connection, number)
        with playing(connection, take.student, take.doubling) as student:
            counted = _counted(connection, student, take, evidence)
            keep_evidence(connection, student.name, [counted])


def _counted(
    connection: SchoolConnection, student: Student, take: SentTake, evidence: Evidence
) -> Evidence:
    """What a take is counted as: one of a plan's item takes the place of the player's word."""
    place = place_of_take(take)
    if not isinstance(place, PlanPlace):
        return evidence
    return item_heard(connection, student, place, evidence)


def place_of_take(take: SentTake) -> RoomPlace | None:
    """Where in the practice room a take was played; None for one that was made elsewhere."""
    return place_at(read_about(take.about).piece) if take.about else None


def _remove_early_hearing(school: School, job: Job) -> None:
    with suppress(ReadError):  # of another release: what lies there is swept away
        request = read_request(job.request)
        if isinstance(request, GiveFeedback) and request.early is not None:
            remove_early(school.folder / request.early)


def answer_take(school: School, number: int, *, words: str, marks: dict[str, int]) -> None:
    """Send a student the teacher's words about a take; later ones take their place.

    Parameters
    ----------
    words : str
    marks : dict
        For each of `TEACHERS_LINES` that is marked, one of four levels from 1.

    Raises
    ------
    BriefError
        When there is nothing to send, or too much.
    """
    text = words.strip()
    if len(text) > MOST_LETTERS:
        raise BriefError(f"`words`: {len(text)} letters; send {MOST_LETTERS} or less")
    if not text and not marks:
        raise BriefError("`words`: say something, or mark one of the lines")
    with school.writing() as connection:
        keep_answer(connection, number, words=text, marks=marks)
