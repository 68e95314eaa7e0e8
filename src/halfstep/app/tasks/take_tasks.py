"""A student's take: judged, kept with what was said of it, and counted once."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from halfstep.app.tasks.practice_tasks import student_meant
from halfstep.course.course_folder import our_course
from halfstep.data.documents import json_text
from halfstep.school.database import School
from halfstep.school.kept_evidence import keep_evidence
from halfstep.school.kept_takes import keep_take, recording_digest
from halfstep.school.students import Student, every_student
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.request_fields import Progress, no_progress
from halfstep.services.take_evidence import TakeEvidence, take_evidence


def student_s_take(
    school: School, name: str, request: GiveFeedback, *, progress: Progress = no_progress
) -> tuple[Student, FeedbackReply, TakeEvidence]:
    """Judge a student's take, and keep it with its feedback and what it shows.

    The student's instrument and level are taken where the request names none. The same recording
    is kept and counted once, whatever it is called.

    Raises
    ------
    TakeError, ReadError, BriefError
        As `give_feedback`; then nothing is kept.
    StoreError
    """
    with school.reading() as connection:
        student = student_meant(every_student(connection), name)
    request = replace(
        request,
        instrument=request.instrument or student.instrument.key,
        level=request.level or str(student.level),
    )
    reply = give_feedback(request, progress=progress)
    recorded_at = _recorded_at(request.take)
    source = recording_digest(request.take)
    shown = take_evidence(reply, our_course(), source=source, at=recorded_at)
    with school.writing() as connection:
        keep_take(
            school,
            connection,
            student.name,
            recording=request.take,
            recorded_at=recorded_at,
            feedback=json_text(reply.data()),
        )
        if shown.evidence is not None:
            keep_evidence(connection, student.name, [shown.evidence])
    return student, reply, shown


def _recorded_at(path: Path) -> datetime:
    """When a recording was made: what its file says, and never later than now."""
    now = datetime.now(UTC)
    made = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    return min(made, now).replace(microsecond=0)
