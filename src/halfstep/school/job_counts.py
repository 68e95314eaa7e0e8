"""How many jobs wait and run, how did they end, and how long does the oldest wait?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, func, select

from halfstep.school.jobs import JobState
from halfstep.school.lanes import LANES, in_lane
from halfstep.school.tables import jobs


@dataclass(frozen=True, slots=True)
class LaneCount:
    """What stands in a lane.

    Attributes
    ----------
    lane : str
    states : dict of JobState to int
        How many jobs stand so.
    oldest_s : float
        Seconds that the oldest has waited; 0 where none waits.
    """

    lane: str
    states: dict[JobState, int]
    oldest_s: float


def lane_counts(connection: Connection) -> tuple[LaneCount, ...]:
    """Each lane as it is now."""
    return tuple(_counted(connection, lane) for lane in LANES)


def _counted(connection: Connection, lane: str) -> LaneCount:
    query = select(jobs.c.state, func.count(), func.min(jobs.c.added_at)).where(in_lane(lane))
    rows = {row[0]: row for row in connection.execute(query.group_by(jobs.c.state))}
    states = {state: int(rows[state][1]) if state in rows else 0 for state in JobState}
    waiting = rows.get(JobState.WAITING)
    waited = datetime.now(UTC) - waiting[2] if waiting else None
    return LaneCount(lane, states, max(waited.total_seconds(), 0.0) if waited else 0.0)
