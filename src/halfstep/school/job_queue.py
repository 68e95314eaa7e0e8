"""Who does which job, and is a worker still at it? The queue that workers take from.

A job is one worker's while the worker's heart beats. What a worker says of a job that another has
taken over in the meantime, or that is gone, is refused: `JobLost`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Protocol

from sqlalchemy import Connection, and_, or_, select, update

from halfstep.errors import StoreError
from halfstep.school.job_calls import call_again, call_for, without_call
from halfstep.school.jobs import Job, JobState, at_work, find_job, job_of_row
from halfstep.school.lanes import in_lane
from halfstep.school.tables import LONGEST_PHRASE, jobs

STALE_AFTER_S = 60.0
"""A worker that says nothing for so long is taken to have left its job."""
SET_BACK = timedelta(seconds=5)
"""For each time that a job was begun: it may end its worker again, and others wait for that."""


class JobLost(StoreError):
    """The job is no longer this worker's."""


class JobQueue(Protocol):
    """What workers need of a queue; each call stands in a change of the school."""

    def is_idle(self, connection: Connection) -> bool:
        """True when nothing waits or runs: a glance without a change."""

    def take(
        self, connection: Connection, worker: str, is_gone: Callable[[str], bool]
    ) -> Job | None:
        """The next job that waits, or whose worker is gone or silent; now this worker's."""

    def take_called(self, connection: Connection, number: int, worker: str) -> Job | None:
        """A job for which this worker was called; None where there is nothing left to do."""

    def beat(self, connection: Connection, job: Job, share: float, phrase: str) -> None:
        """Say that the worker is at it, and how far."""

    def demand_own(self, connection: Connection, job: Job) -> None:
        """Refuse who has lost it."""

    def finish(self, connection: Connection, job: Job, result: str) -> Job:
        """The job, done."""

    def fail(self, connection: Connection, job: Job, trouble: str) -> Job:
        """The job, failed."""

    def give_back(self, connection: Connection, worker: str) -> None:
        """Have what a worker was at wait again, as if it had not been begun."""


class TableQueue:
    """The queue as a table in which one change is made at a time.

    Parameters
    ----------
    lane : str, optional
        Whose jobs are taken; all unless said.
    """

    def __init__(self, lane: str = "") -> None:
        self._lane = lane

    def is_idle(self, connection: Connection) -> bool:
        """True when nothing waits or runs."""
        states = jobs.c.state.in_((JobState.WAITING, JobState.RUNNING))
        query = select(jobs.c.id).where(states, in_lane(self._lane)).limit(1)
        return connection.scalar(query) is None

    def take(
        self, connection: Connection, worker: str, is_gone: Callable[[str], bool]
    ) -> Job | None:
        """The next job that waits, or whose worker is gone or silent; now this worker's.

        Whose turn is first goes first; what was begun before is set back a little.

        Parameters
        ----------
        connection : Connection
        worker : str
            Who takes it.
        is_gone : callable
            Told the name of a worker: True where it is known to have ended.
        """
        offered = [
            *_waiting(connection, self._lane),
            *_left(connection, self._lane, worker, is_gone),
        ]
        if not offered:
            return None
        number = min(offered, key=_place).number
        return _begun(connection, number, worker)

    def take_called(self, connection: Connection, number: int, worker: str) -> Job | None:
        """A job for which this worker was called, and nobody else is now.

        None where it has ended, or is gone.
        """
        open_one = (jobs.c.id == number, jobs.c.state.in_((JobState.WAITING, JobState.RUNNING)))
        if connection.scalar(select(jobs.c.id).where(*open_one)) is None:
            return None
        return _begun(connection, number, worker)

    def beat(self, connection: Connection, job: Job, share: float, phrase: str) -> None:
        """Say that the worker is at it, and how far.

        Raises
        ------
        JobLost
        """
        _change(
            connection,
            job,
            progress=min(max(share, 0.0), 1.0),
            phrase=phrase[:LONGEST_PHRASE],
            heartbeat_at=datetime.now(UTC),
        )

    def demand_own(self, connection: Connection, job: Job) -> None:
        """Refuse who has lost the job.

        Raises
        ------
        JobLost
        """
        _change(connection, job, heartbeat_at=datetime.now(UTC))

    def finish(self, connection: Connection, job: Job, result: str) -> Job:
        """The job, done.

        Raises
        ------
        JobLost
        """
        return _change(
            connection,
            job,
            state=JobState.DONE,
            progress=1.0,
            phrase="",
            result=result,
            ended_at=datetime.now(UTC),
        )

    def fail(self, connection: Connection, job: Job, trouble: str) -> Job:
        """The job, failed.

        Raises
        ------
        JobLost
        """
        return _change(
            connection,
            job,
            state=JobState.FAILED,
            phrase="",
            trouble=" ".join(trouble.split()),
            ended_at=datetime.now(UTC),
        )

    def give_back(self, connection: Connection, worker: str) -> None:
        """Have what a worker was at wait again, as if it had not been begun."""
        numbers = at_work(connection, worker)
        again = {"state": JobState.WAITING, "progress": 0.0, "phrase": ""}
        change = update(jobs).where(jobs.c.id.in_(numbers)).values(again)
        connection.execute(change.values(attempts=jobs.c.attempts - 1))
        call_again(connection, numbers)


def call_for_overlooked(connection: Connection) -> int:
    """Call for jobs that nobody calls for any more; how many there were.

    There are none unless calls were lost: by a copy that was given back, by hand, or by a fault.
    """
    oldest = datetime.now(UTC) - timedelta(seconds=STALE_AFTER_S)
    waits = and_(jobs.c.state == JobState.WAITING, jobs.c.added_at < oldest)
    is_silent = or_(jobs.c.heartbeat_at.is_(None), jobs.c.heartbeat_at < oldest)
    runs = and_(jobs.c.state == JobState.RUNNING, is_silent)
    query = select(jobs.c.id, jobs.c.belongs_to, jobs.c.turn_at).where(or_(waits, runs))
    left = {row.id: row for row in connection.execute(query)}
    overlooked = without_call(connection, left) if left else frozenset()
    for number in sorted(overlooked):
        call_for(connection, number, left[number].belongs_to, left[number].turn_at)
    return len(overlooked)


def _begun(connection: Connection, number: int, worker: str) -> Job:
    """A job, now this worker's."""
    now = datetime.now(UTC)
    change = (
        update(jobs)
        .where(jobs.c.id == number)
        .values(state=JobState.RUNNING, worker=worker, attempts=jobs.c.attempts + 1)
        .values(progress=0.0, phrase="", started_at=now, heartbeat_at=now)
    )
    connection.execute(change)
    return find_job(connection, number)


def _place(job: Job) -> tuple[datetime, int]:
    """Where a job stands among others: the least is next."""
    return job.turn_at + job.attempts * SET_BACK, job.number


def _waiting(connection: Connection, lane: str) -> list[Job]:
    """The first of the jobs that wait."""
    order = (jobs.c.turn_at, jobs.c.id)
    query = select(jobs).where(jobs.c.state == JobState.WAITING, in_lane(lane))
    return list(map(job_of_row, connection.execute(query.order_by(*order).limit(1))))


def _left(
    connection: Connection, lane: str, taker: str, is_gone: Callable[[str], bool]
) -> Iterator[Job]:
    """Jobs whose workers left them; who takes one is at none."""
    oldest = datetime.now(UTC) - timedelta(seconds=STALE_AFTER_S)
    query = select(jobs).where(jobs.c.state == JobState.RUNNING, in_lane(lane))
    for job in map(job_of_row, connection.execute(query.order_by(jobs.c.id))):
        is_silent = job.heartbeat_at is None or job.heartbeat_at < oldest
        if job.worker == taker or is_silent or is_gone(job.worker):
            yield job


def _change(connection: Connection, job: Job, **values: object) -> Job:
    """Change a job that is still its worker's."""
    mine = (
        jobs.c.id == job.number,
        jobs.c.state == JobState.RUNNING,
        jobs.c.worker == job.worker,
        jobs.c.attempts == job.attempts,
    )
    if connection.execute(update(jobs).where(*mine).values(**values)).rowcount != 1:
        raise JobLost(f"job {job.number} is no longer this worker's")
    return find_job(connection, job.number)
