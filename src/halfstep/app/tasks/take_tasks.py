"""A student's take: judged, kept with what was said of it, and counted once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from halfstep.data.documents import json_text
from halfstep.data.feedback_json import read_feedback
from halfstep.errors import BriefError
from halfstep.practice.evidence import Evidence
from halfstep.school.consents import Purpose, demand_allowed
from halfstep.school.database import School, SchoolConnection
from halfstep.school.doublings import instruments_of, playing
from halfstep.school.kept_evidence import keep_evidence
from halfstep.school.kept_takes import keep_take
from halfstep.school.students import Student, student_id, student_meant
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.request_fields import Progress, no_progress
from halfstep.services.take_evidence import recorded_at


def student_s_take(
    school: School, name: str, request: GiveFeedback, *, progress: Progress = no_progress
) -> tuple[Student, FeedbackReply]:
    """Judge a student's take, and keep it with its feedback and what it shows.

    The student's instrument and level are taken where the request names none; where it names
    another of the student's instruments, the take counts for that one. The same recording is kept
    and counted once, whatever it is called.

    Raises
    ------
    TakeError, ReadError, BriefError
        As `give_feedback`; then nothing is kept.
    NotAllowed
        When recording is not allowed for this student.
    StoreError
    """
    with school.reading() as connection:
        student = _player(connection, student_meant(connection, name), request.instrument)
        demand_allowed(connection, student_id(connection, student.name), Purpose.RECORDING)
    request = replace(
        request,
        instrument=request.instrument or student.instrument.key,
        level=request.level or str(student.level),
    )
    reply = give_feedback(request, progress=progress)
    with school.writing() as connection:
        keep_take(
            school,
            connection,
            student.name,
            recording=request.take,
            recorded_at=recorded_at(request.take),
            feedback=json_text(reply.data()),
        )
        if reply.shown.evidence is not None:
            with playing(connection, student.number or 0, student.doubling):
                keep_evidence(connection, student.name, [reply.shown.evidence])
    return student, reply


def _player(connection: SchoolConnection, student: Student, instrument: str | None) -> Student:
    """A student as the player of the instrument that is named, where it is one of the own."""
    named = (one for one in instruments_of(connection, student) if one.instrument.key == instrument)
    return next(named, student)


def keep_feedback(school: School, name: str, file: Path) -> Evidence:
    """Keep what a stored feedback shows; the same take is counted once.

    Parameters
    ----------
    name : str
        Empty for the only student that is kept.
    file : Path
        Feedback as data.

    Raises
    ------
    ReadError
        When the file is none.
    BriefError
        When it shows nothing of the course, or there is no such student.
    """
    evidence = read_feedback(file).evidence
    if evidence is None:
        raise BriefError(f"{file} shows nothing of the course that could be counted")
    with school.writing() as connection:
        student = student_meant(connection, name)
        keep_evidence(connection, student.name, [evidence])
    return evidence
