"""A lesson is given to a class or a student: each gets a sheet of their own, made beside the page.

Whoever plays the same instrument at the same level with the same notes, and reads the same size
and tint, gets the same, so it is made once: a job's request has no name in it, and what is asked
for twice is one job.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

from halfstep.errors import BriefError
from halfstep.school.classes import remove_class, students_of
from halfstep.school.database import School, SchoolConnection
from halfstep.school.doublings import every_player, instruments_of
from halfstep.school.hand_outs import (
    HandOut,
    Sheet,
    add_hand_out,
    add_sheet,
    find_hand_out,
    hand_outs_of_class,
    has_sheets,
    remove_hand_out,
    sheets_made,
    sheets_of,
)
from halfstep.school.jobs import Job, JobState, add_job, begin_again, jobs_of, remove_job
from halfstep.school.made_files import made_files, remove_made
from halfstep.school.students import Student, student_of_number
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from halfstep.services.stored_requests import read_request, request_text

USUAL_STEPS = "1-6"
LONGEST_NOTE = 4000
"""Letters of the teacher's words to a hand-out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveLesson:
    """A request to hand out a lesson.

    Attributes
    ----------
    lesson : MakeLesson
        Without players: each student's own come in.
    title : str
    class_number, student : int or None
        Whom it is for; one of the two.
    chart, line : int or None
        What it is made from.
    note : str
    due_on : date or None
    """

    lesson: MakeLesson
    title: str
    class_number: int | None = None
    student: int | None = None
    chart: int | None = None
    line: int | None = None
    note: str = ""
    due_on: date | None = None


def give_lesson(school: School, request: GiveLesson) -> int:
    """Hand out a lesson: its number, with a sheet on the way for each who gets it.

    Raises
    ------
    ReadError, BriefError
        When the lesson makes no sense for anybody, or there is nobody to get it.
    """
    if len(request.note) > LONGEST_NOTE:
        raise BriefError(f"`note`: {len(request.note)} letters; give {LONGEST_NOTE} or less")
    demand_lesson(request.lesson)
    with school.writing() as connection:
        return give_in(connection, request)


def give_in(connection: SchoolConnection, request: GiveLesson) -> int:
    """Hand out a lesson that makes sense, in a change of the school: its number.

    Raises
    ------
    BriefError
        When there is nobody to get it.
    """
    hand_out = HandOut(
        title=request.title,
        request=request_text(request.lesson),
        class_number=request.class_number,
        student=request.student,
        chart=request.chart,
        line=request.line,
        note=request.note,
        due_on=request.due_on,
        made_at=datetime.now(UTC),
    )
    players = players_of(connection, hand_out)
    if not players:
        raise BriefError("`class_number`: nobody is in this class yet; add its players first")
    number = add_hand_out(connection, hand_out)
    _give(connection, replace(hand_out, number=number), players)
    return number


def demand_lesson(lesson: MakeLesson) -> None:
    """Refuse what makes no sense for anybody, before anything is kept.

    Raises
    ------
    ReadError, BriefError
    """
    steps = lesson.steps or USUAL_STEPS * (lesson.line is not None)
    lesson_brief(replace(lesson, instruments=("concert",), steps=steps, line=None))


def players_of(connection: SchoolConnection, hand_out: HandOut) -> tuple[Student, ...]:
    """Who is to get a hand-out as things are now: who plays several instruments, for each."""
    if hand_out.class_number is not None:
        return every_player(connection, students_of(connection, hand_out.class_number))
    assert hand_out.student is not None
    return instruments_of(connection, student_of_number(connection, hand_out.student))


def _give(connection: SchoolConnection, hand_out: HandOut, players: Sequence[Student]) -> None:
    """A sheet for each player, and jobs that make them."""
    lesson = lesson_of(hand_out)
    for student in players:
        text = request_text(lesson_for(lesson, student))
        job = add_job(connection, hand_out.belonging, text)
        add_sheet(connection, hand_out.number, student, job)
        if job.state is JobState.DONE:
            sheets_made(connection, job, made_files(job).folder)


def lesson_of(hand_out: HandOut) -> MakeLesson:
    """The lesson that is asked for, without players."""
    lesson = read_request(hand_out.request)
    assert isinstance(lesson, MakeLesson)
    return lesson


def lesson_for(lesson: MakeLesson, student: Student) -> MakeLesson:
    """The lesson as one student gets it; no name is in it."""
    return replace(
        lesson,
        folder=Path("made"),
        instruments=(f"{student.instrument.key}:{student.level}",),
        level=str(student.level),
        known_notes=student.known_notes,
        print_setting=student.print_setting,
        pictures=True,
    )


def without_sheet(connection: SchoolConnection, hand_out: HandOut) -> tuple[Student, ...]:
    """Who should have a sheet by now and has none: who came to the class, or to an instrument."""
    players = (sheet.student for sheet in sheets_of(connection, hand_out.number))
    given = {(player.number, player.doubling) for player in players}
    return tuple(
        player
        for player in players_of(connection, hand_out)
        if (player.number, player.doubling) not in given
    )


def give_again(school: School, number: int) -> None:
    """Make the sheets that could not be made, as their players are now, and those still missing.

    Raises
    ------
    NoSuchThing
    """
    with school.writing() as connection:
        hand_out = find_hand_out(connection, number)
        failed = [sheet for sheet in sheets_of(connection, number) if has_failed(sheet)]
        players = [sheet.student for sheet in failed]
        _give(connection, hand_out, [*players, *without_sheet(connection, hand_out)])
        for job in jobs_of(connection, hand_out.belonging):
            if not has_sheets(connection, job):
                remove_job(connection, job.number)
            elif job.state is JobState.FAILED:
                begin_again(connection, job.number)


def has_failed(sheet: Sheet) -> bool:
    """True where the job of a sheet could not be done."""
    return sheet.job is not None and sheet.job.state is JobState.FAILED


def withdraw_hand_out(school: School, number: int) -> None:
    """Take back what was handed out, with all that was made; takes that were sent stay.

    Raises
    ------
    NoSuchThing
    """
    with school.writing() as connection:
        gone = remove_hand_out(connection, number)
    for job in gone:
        remove_made(school, job)


def end_class(school: School, number: int) -> None:
    """Remove a class with what was handed out to it; its players stay.

    Raises
    ------
    NoSuchThing
    """
    with school.writing() as connection:
        given = hand_outs_of_class(connection, number)
        gone = [job for one in given for job in remove_hand_out(connection, one.number)]
        remove_class(connection, number)
    for job in gone:
        remove_made(school, job)


def sheets_are_made(school: School, connection: SchoolConnection, job: Job) -> None:
    """The end of a hand-out's job: whose sheets it made is told where they lie."""
    del school
    if job.state is JobState.DONE:
        sheets_made(connection, job, made_files(job).folder)
