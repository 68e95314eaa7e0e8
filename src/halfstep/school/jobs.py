"""What is to be done beside the page, and how far is it? A job is a stored request.

A job is added in the transaction of what it belongs to: both stand, or neither. What is asked for
twice is one job. Who works takes it from a queue: `halfstep.school.job_queue`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from hashlib import sha256

from sqlalchemy import Connection, Row, delete, insert, select, update

from halfstep.errors import BriefError, NoSuchThing
from halfstep.school.job_calls import call_for, call_sooner
from halfstep.school.lanes import STANDS_BACK
from halfstep.school.students import student_id
from halfstep.school.tables import LONGEST_BELONGING, jobs

_LONG = timedelta(seconds=3)


class JobState(StrEnum):
    """Where a job stands."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job as it stands.

    Attributes
    ----------
    number : int
    belongs_to : str
        A kind and what tells it from others of the kind: ``sent-take 5``.
    request : str
        A request of the program as JSON.
    state : JobState
    progress : float
        The share that is done, 0 to 1.
    phrase : str
        What is being done, for the one who waits.
    worker : str
        Who has it, or had it last; empty before.
    attempts : int
        How many times it was begun.
    trouble : str
        Why it failed, in one line, fields between grave accents; empty otherwise.
    result : str
        What came of it when it was done last, as JSON; empty before.
    added_at : datetime
    turn_at : datetime
        Of those that wait the one with the earliest is next.
    started_at, heartbeat_at, ended_at : datetime or None
    """

    number: int
    belongs_to: str
    request: str
    state: JobState
    progress: float
    phrase: str
    worker: str
    attempts: int
    trouble: str
    result: str
    added_at: datetime
    turn_at: datetime
    started_at: datetime | None
    heartbeat_at: datetime | None
    ended_at: datetime | None

    @property
    def kind(self) -> str:
        """The first word of what it belongs to."""
        return self.belongs_to.partition(" ")[0]

    @property
    def has_ended(self) -> bool:
        """True when nobody will work on it any more."""
        return self.state in {JobState.DONE, JobState.FAILED}

    @property
    def stands_back(self) -> bool:
        """True while it waits and lets those pass who are waited for."""
        return self.state is JobState.WAITING and self.turn_at > datetime.now(UTC)

    @property
    def waits_long(self) -> bool:
        """True while it waits and all workers have been busy for a while."""
        return self.state is JobState.WAITING and self.added_at < datetime.now(UTC) - _LONG


def add_job(
    connection: Connection, belongs_to: str, request: str, *, student: str | None = None
) -> Job:
    """Have something done; the job that stands where the same was asked for.

    Parameters
    ----------
    connection : Connection
        In the change of what it belongs to.
    belongs_to : str
        ``sent-take 5``: a kind, which says what is done at its end, and which one.
    request : str
        As JSON; names of files that do not begin at the root lie below the data folder.
    student : str, optional
        Whose it is: it goes when the student goes.

    Raises
    ------
    BriefError
        When there is no such student, or it belongs to nothing.
    """
    if not belongs_to.strip() or len(belongs_to) > LONGEST_BELONGING:
        raise BriefError(f"a job belongs to something, in {LONGEST_BELONGING} letters or less")
    digest = sha256(request.encode()).hexdigest()
    same = select(jobs).where(jobs.c.belongs_to == belongs_to, jobs.c.digest == digest)
    row = connection.execute(same).first()
    if row is None:
        connection.execute(insert(jobs), _values(connection, belongs_to, request, student, digest))
        row = connection.execute(same).one()
        call_for(connection, row.id, belongs_to, row.turn_at)
    return job_of_row(row)


def _values(
    connection: Connection, belongs_to: str, request: str, student: str | None, digest: str
) -> dict[str, object]:
    now = datetime.now(UTC)
    return {
        "belongs_to": belongs_to,
        "digest": digest,
        "request": request,
        "student_id": None if student is None else student_id(connection, student),
        "state": JobState.WAITING,
        "added_at": now,
        "turn_at": now + STANDS_BACK,
    }


def find_job(connection: Connection, number: int) -> Job:
    """The job of that number.

    Raises
    ------
    BriefError
        When there is none.
    """
    row = connection.execute(select(jobs).where(jobs.c.id == number)).first()
    if row is None:
        raise NoSuchThing(f"there is no job {number}")
    return job_of_row(row)


def jobs_of(connection: Connection, belongs_to: str) -> tuple[Job, ...]:
    """All jobs of what they belong to, the oldest first."""
    query = select(jobs).where(jobs.c.belongs_to == belongs_to).order_by(jobs.c.id)
    return tuple(map(job_of_row, connection.execute(query)))


def jobs_in_state(connection: Connection, *states: JobState) -> tuple[Job, ...]:
    """All jobs that stand so, the oldest first."""
    query = select(jobs).where(jobs.c.state.in_(states)).order_by(jobs.c.id)
    return tuple(map(job_of_row, connection.execute(query)))


def at_work(connection: Connection, worker: str) -> tuple[int, ...]:
    """The numbers of the jobs that a worker is at, or was when it ended."""
    mine = (jobs.c.state == JobState.RUNNING, jobs.c.worker == worker)
    return tuple(connection.scalars(select(jobs.c.id).where(*mine)))


def every_result(connection: Connection) -> dict[int, str]:
    """What came of all jobs, by number; of those that run, too."""
    rows = connection.execute(select(jobs.c.id, jobs.c.result))
    return {row.id: row.result for row in rows}


def jobs_of_student(connection: Connection, student: int) -> tuple[Job, ...]:
    """All jobs that go with a student, by the student's number, the oldest first."""
    query = select(jobs).where(jobs.c.student_id == student).order_by(jobs.c.id)
    return tuple(map(job_of_row, connection.execute(query)))


def begin_again(connection: Connection, number: int) -> Job:
    """Have a job that has ended done anew; one that waits or runs is left as it is.

    What it made before stands until it is done again.

    Raises
    ------
    BriefError
        When there is none.
    """
    job = find_job(connection, number)
    if job.has_ended:
        turn_at = datetime.now(UTC) + STANDS_BACK
        anew = {"state": JobState.WAITING, "progress": 0.0, "phrase": "", "attempts": 0}
        gone = {"trouble": "", "ended_at": None, "turn_at": turn_at}
        connection.execute(update(jobs).where(jobs.c.id == number).values(**anew, **gone))
        call_for(connection, number, job.belongs_to, turn_at)
    return find_job(connection, number)


def move_up(connection: Connection, number: int) -> None:
    """Have a job that waits go before those for which nobody waits; any other stays as it is."""
    now = datetime.now(UTC)
    stands_back = (jobs.c.id == number, jobs.c.state == JobState.WAITING, jobs.c.turn_at > now)
    if connection.execute(update(jobs).where(*stands_back).values(turn_at=now)).rowcount:
        call_sooner(connection, number, now)


def remove_job(connection: Connection, number: int) -> None:
    """Remove a job that nobody needs any more; who is at it leaves it."""
    connection.execute(delete(jobs).where(jobs.c.id == number))


def remove_jobs(connection: Connection, belongs_to: str) -> None:
    """Remove all jobs of what goes; who is at one of them leaves it."""
    connection.execute(delete(jobs).where(jobs.c.belongs_to == belongs_to))


def job_of_row(row: Row[tuple[object, ...]]) -> Job:
    """A job as it is kept."""
    return Job(
        number=row.id,
        belongs_to=row.belongs_to,
        request=row.request,
        state=JobState(row.state),
        progress=row.progress,
        phrase=row.phrase,
        worker=row.worker,
        attempts=row.attempts,
        trouble=row.trouble,
        result=row.result,
        added_at=row.added_at,
        turn_at=row.turn_at,
        started_at=row.started_at,
        heartbeat_at=row.heartbeat_at,
        ended_at=row.ended_at,
    )
