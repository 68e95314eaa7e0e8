"""What was given to whom, by when, and has it been made? A hand-out, with a sheet for each player.

A sheet is made by a job; players who get the same share one, and the files that it made.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

from sqlalchemy import ColumnElement, Connection, Row, and_, delete, insert, or_, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.doublings import every_player
from halfstep.school.jobs import Job, job_of_row, jobs_of, remove_jobs
from halfstep.school.students import Student, at_hand, student_of_row
from halfstep.school.tables import classes, hand_outs, jobs, sheets, students

BELONGING = "hand-out"
"""The first word of what its jobs belong to."""
LONGEST_TITLE = 200
"""Letters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOut:
    """What is given to a class or to one student.

    Attributes
    ----------
    title : str
    request : str
        The lesson that is asked for, as data: without the player's own.
    class_number, student : int or None
        Whom it is for: the number of a class, or that of a student.
    chart, line : int or None
        What it was made from; None where that was removed.
    note : str
        The teacher's words to it.
    due_on : date or None
    made_at : datetime
    number : int
        0 for one that is not kept yet.
    """

    title: str
    request: str
    class_number: int | None = None
    student: int | None = None
    chart: int | None = None
    line: int | None = None
    note: str = ""
    due_on: date | None = None
    made_at: datetime
    number: int = 0

    @property
    def belonging(self) -> str:
        """What its jobs belong to."""
        return belonging_of(self.number)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What one student gets of a hand-out.

    Attributes
    ----------
    number, hand_out : int
    student : Student
        As the player of the instrument that it is for.
    folder : str
        Where its files lie, below the school's folder; empty until they are made.
    made_at : datetime or None
    job : Job or None
        What makes it.
    """

    number: int
    hand_out: int
    student: Student
    folder: str
    made_at: datetime | None
    job: Job | None


def belonging_of(number: int) -> str:
    """What the jobs of a hand-out belong to."""
    return f"{BELONGING} {number}"


def add_hand_out(connection: Connection, hand_out: HandOut) -> int:
    """Keep a hand-out; its number."""
    row = {
        "class_id": hand_out.class_number,
        "student_id": hand_out.student,
        "chart_id": hand_out.chart,
        "line_id": hand_out.line,
        "title": hand_out.title[:LONGEST_TITLE],
        "note": hand_out.note,
        "due_on": hand_out.due_on,
        "request": hand_out.request,
        "made_at": hand_out.made_at,
    }
    number: int = connection.execute(insert(hand_outs).returning(hand_outs.c.id), row).scalar_one()
    return number


def find_hand_out(connection: Connection, number: int) -> HandOut:
    """The hand-out of a number.

    Raises
    ------
    NoSuchThing
    """
    row = connection.execute(select(hand_outs).where(hand_outs.c.id == number)).first()
    if row is None:
        raise NoSuchThing("there is no such hand-out; it may have been withdrawn")
    return _hand_out(row)


def due_hand_outs(connection: Connection, first: date, last: date) -> tuple[HandOut, ...]:
    """What is due from one day to another, those that are due last first.

    What was given to a class that is put away is not.
    """
    away = select(classes.c.id).where(classes.c.archived_at.is_not(None))
    stands = or_(hand_outs.c.class_id.is_(None), hand_outs.c.class_id.not_in(away))
    return _where(connection, and_(hand_outs.c.due_on.between(first, last), stands))


def latest_hand_out(connection: Connection) -> HandOut | None:
    """What was handed out last; None where nothing was."""
    query = select(hand_outs).order_by(hand_outs.c.id.desc()).limit(1)
    row = connection.execute(query).first()
    return None if row is None else _hand_out(row)


def hand_outs_of_class(connection: Connection, number: int) -> tuple[HandOut, ...]:
    """What a class was given."""
    return _where(connection, hand_outs.c.class_id == number)


def hand_outs_of_student(connection: Connection, number: int) -> tuple[HandOut, ...]:
    """What a student was given, alone or with others."""
    mine = select(sheets.c.hand_out_id).where(sheets.c.student_id == number)
    return _where(connection, hand_outs.c.id.in_(mine))


def _where(connection: Connection, which: ColumnElement[bool]) -> tuple[HandOut, ...]:
    query = select(hand_outs).where(which).order_by(hand_outs.c.id.desc())
    rows = map(_hand_out, connection.execute(query))
    return tuple(sorted(rows, key=lambda hand_out: hand_out.due_on or date.min, reverse=True))


def remove_hand_out(connection: Connection, number: int) -> tuple[Job, ...]:
    """Remove a hand-out with its sheets and jobs; takes that were sent for it stay.

    Returns
    -------
    tuple of Job
        Whose files are to go.

    Raises
    ------
    NoSuchThing
    """
    find_hand_out(connection, number)
    gone = jobs_of(connection, belonging_of(number))
    connection.execute(delete(hand_outs).where(hand_outs.c.id == number))
    remove_jobs(connection, belonging_of(number))
    return gone


def add_sheet(connection: Connection, hand_out: int, student: Student, job: Job) -> None:
    """Give a player a sheet that a job makes; in the place of the one there was."""
    same = (
        sheets.c.hand_out_id == hand_out,
        sheets.c.student_id == student.number,
        sheets.c.doubling == student.doubling,
    )
    connection.execute(delete(sheets).where(*same))
    row = {
        "hand_out_id": hand_out,
        "student_id": student.number,
        "doubling": student.doubling,
        "job_id": job.number,
    }
    connection.execute(insert(sheets), row)


def sheets_of(connection: Connection, hand_out: int) -> tuple[Sheet, ...]:
    """The sheets of a hand-out, by name."""
    return _sheets(connection, sheets.c.hand_out_id == hand_out)


def sheets_of_student(connection: Connection, student: int) -> tuple[Sheet, ...]:
    """All sheets of a student, for any of the own instruments."""
    return _sheets(connection, sheets.c.student_id == student)


def sheets_at_hand(connection: Connection, student: int) -> tuple[Sheet, ...]:
    """The sheets of a student for the instrument at hand."""
    return _sheets(connection, and_(sheets.c.student_id == student, at_hand(sheets)))


def find_sheet(connection: Connection, number: int) -> Sheet:
    """The sheet of a number.

    Raises
    ------
    NoSuchThing
    """
    rows = _sheets(connection, sheets.c.id == number)
    if not rows:
        raise NoSuchThing("there is no such sheet; it may have been withdrawn")
    return rows[0]


def sheets_made(connection: Connection, job: Job, folder: str) -> None:
    """Say where the files lie of all sheets that a job has made."""
    made = {"folder": folder, "made_at": datetime.now(UTC)}
    connection.execute(update(sheets).where(sheets.c.job_id == job.number).values(made))


def has_sheets(connection: Connection, job: Job) -> bool:
    """True while somebody has a sheet that a job makes."""
    query = select(sheets.c.id).where(sheets.c.job_id == job.number).limit(1)
    return connection.scalar(query) is not None


def jobs_for_one(connection: Connection, student: int) -> tuple[Job, ...]:
    """The jobs that make sheets for a student and for nobody else."""
    others = select(sheets.c.job_id).where(
        sheets.c.student_id != student, sheets.c.job_id.is_not(None)
    )
    own = sheets.c.student_id == student
    query = select(jobs).join(sheets, sheets.c.job_id == jobs.c.id)
    rows = connection.execute(query.where(own, jobs.c.id.not_in(others)))
    return tuple(map(job_of_row, rows))


def _sheets(connection: Connection, which: ColumnElement[bool]) -> tuple[Sheet, ...]:
    owners = select(students).join(sheets, sheets.c.student_id == students.c.id).where(which)
    workers = select(jobs).join(sheets, sheets.c.job_id == jobs.c.id).where(which)
    known = {row.id: student_of_row(row) for row in connection.execute(owners)}
    players = {(one.number, one.doubling): one for one in every_player(connection, known.values())}
    by_job = {row.id: job_of_row(row) for row in connection.execute(workers)}
    rows = connection.execute(select(sheets).where(which))
    made = (
        Sheet(
            row.id,
            row.hand_out_id,
            players[row.student_id, row.doubling],
            row.folder,
            row.made_at,
            by_job.get(row.job_id),
        )
        for row in rows
    )
    return tuple(
        sorted(made, key=lambda sheet: (sheet.student.name.casefold(), sheet.student.doubling))
    )


def _hand_out(row: Row[tuple[object, ...]]) -> HandOut:
    return HandOut(
        number=row.id,
        title=row.title,
        request=row.request,
        class_number=row.class_id,
        student=row.student_id,
        chart=row.chart_id,
        line=row.line_id,
        note=row.note,
        due_on=row.due_on,
        made_at=row.made_at,
    )
