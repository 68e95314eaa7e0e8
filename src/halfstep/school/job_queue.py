"""Who does which job, and is a worker still at it? The queue that workers take from.

A job is one worker's while the worker's heart beats. What a worker says of a job that another has
taken over in the meantime, or that is gone, is refused: `JobLost`.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol

from sqlalchemy import Connection, Row, select, update

from halfstep.errors import StoreError
from halfstep.school.jobs import Job, JobState, job_of_row
from halfstep.school.tables import LONGEST_PHRASE, jobs

STALE_AFTER_S = 60.0
"""A worker that says nothing for so long is taken to have left its job."""


class JobLost(StoreError):
    """The job is no longer this worker's."""


class JobQueue(Protocol):
    """What workers need of a queue; each call stands in a change of the school."""

    def is_idle(self, connection: Connection) -> bool:
        """True when nothing waits or runs: a glance without a change."""

    def take(
        self, connection: Connection, worker: str, is_gone: Callable[[str], bool]
    ) -> Job | None:
        """The oldest job that waits, or whose worker is gone or silent; now this worker's."""

    def beat(self, connection: Connection, job: Job, share: float, phrase: str) -> None:
        """Say that the worker is at it, and how far."""

    def finish(self, connection: Connection, job: Job, result: str) -> Job:
        """The job, done."""

    def fail(self, connection: Connection, job: Job, trouble: str) -> Job:
        """The job, failed."""

    def give_back(self, connection: Connection, worker: str) -> None:
        """Have what a worker was at wait again, as if it had not been begun."""


class TableQueue:
    """The queue as a table in which one change is made at a time."""

    def is_idle(self, connection: Connection) -> bool:
        """True when nothing waits or runs."""
        states = (JobState.WAITING, JobState.RUNNING)
        return connection.scalar(select(jobs.c.id).where(jobs.c.state.in_(states)).limit(1)) is None

    def take(
        self, connection: Connection, worker: str, is_gone: Callable[[str], bool]
    ) -> Job | None:
        """The oldest job that waits, or whose worker is gone or silent; now this worker's.

        Parameters
        ----------
        connection : Connection
        worker : str
            Who takes it.
        is_gone : callable
            Told the name of a worker: True where it is known to have ended.
        """
        numbers = [*_waiting(connection), *_left(connection, worker, is_gone)]
        if not numbers:
            return None
        now = datetime.now(UTC)
        change = (
            update(jobs)
            .where(jobs.c.id == min(numbers))
            .values(state=JobState.RUNNING, worker=worker, attempts=jobs.c.attempts + 1)
            .values(progress=0.0, phrase="", started_at=now, heartbeat_at=now)
        )
        connection.execute(change)
        return job_of_row(connection.execute(select(jobs).where(jobs.c.id == min(numbers))).one())

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
        at_it = (jobs.c.state == JobState.RUNNING, jobs.c.worker == worker)
        again = {"state": JobState.WAITING, "attempts": jobs.c.attempts - 1}
        connection.execute(update(jobs).where(*at_it).values(again))


def _waiting(connection: Connection) -> list[int]:
    """The oldest job that waits."""
    query = select(jobs.c.id).where(jobs.c.state == JobState.WAITING).order_by(jobs.c.id).limit(1)
    return list(connection.scalars(query))


def _left(connection: Connection, taker: str, is_gone: Callable[[str], bool]) -> list[int]:
    """Jobs whose workers left them; who takes one is at none."""
    columns = (jobs.c.id, jobs.c.worker, jobs.c.heartbeat_at)
    rows = connection.execute(select(*columns).where(jobs.c.state == JobState.RUNNING))
    oldest = datetime.now(UTC) - timedelta(seconds=STALE_AFTER_S)
    return [
        row.id
        for row in rows
        if row.worker == taker or row.heartbeat_at < oldest or is_gone(row.worker)
    ]


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
    row: Row[tuple[object, ...]] = connection.execute(
        select(jobs).where(jobs.c.id == job.number)
    ).one()
    return job_of_row(row)
