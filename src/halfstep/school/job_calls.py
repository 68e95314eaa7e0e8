"""How do workers of many machines learn of a job? By a call in the same change as the job.

Where the database is on a server, procrastinate keeps the calls there: it wakes a worker, gives a
call to one of them at a time, and knows which of them are gone. What a job is, how far it is and
how it ended stands in our own table, as in a file; a call has nothing but the job's number. In a
file there are no calls: `TableQueue` looks.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from halfstep.school.lanes import lane_of

if TYPE_CHECKING:
    from procrastinate import App

CALL = "do-job"
"""What a call asks for."""
_FIRST_TURN = datetime(2020, 1, 1, tzinfo=UTC)
"""Seconds from then on are less than 32 bits, as priorities are, until 2088."""


def has_calls(connection: Connection) -> bool:
    """True where the database is on a server."""
    return connection.dialect.name == "postgresql"


def call_for(connection: Connection, number: int, belongs_to: str, turn_at: datetime) -> None:
    """Have a worker do a job, once the change stands; nothing where workers look by themselves."""
    if has_calls(connection):
        caller().configure_task(
            CALL,
            lock=lock_of(number),
            queue=lane_of(belongs_to),
            priority=_priority(turn_at),
            connection=_driver(connection),
        ).defer(number=number)


def call_sooner(connection: Connection, number: int, turn_at: datetime) -> None:
    """Have a job's turn come earlier, once the change stands."""
    if has_calls(connection):
        connection.exec_driver_sql(
            "UPDATE procrastinate_jobs SET priority = %(priority)s "
            "WHERE lock = %(lock)s AND status = 'todo'",
            {"lock": lock_of(number), "priority": _priority(turn_at)},
        )


def call_again(connection: Connection, numbers: Iterable[int]) -> None:
    """Give jobs whose worker is gone to the next worker at once."""
    if not has_calls(connection):
        return
    for number in numbers:
        connection.exec_driver_sql(
            "SELECT procrastinate_retry_job_v2(id, now(), NULL, NULL, NULL) "
            "FROM procrastinate_jobs WHERE lock = %(lock)s AND status = 'doing'",
            {"lock": lock_of(number)},
        )


def without_call(connection: Connection, numbers: Iterable[int]) -> frozenset[int]:
    """Those jobs that nobody is called for any more."""
    query = "SELECT lock FROM procrastinate_jobs WHERE status IN ('todo', 'doing')"
    called = set(connection.exec_driver_sql(query).scalars())
    return frozenset(number for number in numbers if lock_of(number) not in called)


def _priority(turn_at: datetime) -> int:
    """Of two calls the higher is answered first: an earlier turn, by the second."""
    return -round((turn_at - _FIRST_TURN).total_seconds())


def lock_of(number: int) -> str:
    """What two calls for one job have in common: one of them is answered at a time."""
    return f"job {number}"


def prepare_calls(connection: Connection) -> None:
    """Make what calls are kept in, where it is not there yet."""
    if not has_calls(connection) or connection.dialect.has_table(connection, "procrastinate_jobs"):
        return
    from procrastinate.schema import SchemaManager

    with _driver(connection).cursor() as cursor:
        cursor.execute(SchemaManager.get_schema())


@cache
def caller() -> App:
    """Who calls, on the connection of a change."""
    from procrastinate import App, SyncPsycopgConnector

    return App(connector=SyncPsycopgConnector())


def _driver(connection: Connection) -> Any:
    return connection.connection.driver_connection
