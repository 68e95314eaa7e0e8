"""What happened, a line of JSON each on standard error, for who watches over a server.

Nothing of a person is in them: no name, no address, no word; things are told by their numbers, and
a page by its route. They are written where ``HALFSTEP_LOG=json`` says so.
"""

from __future__ import annotations

import json
import os
import sys
from datetime import UTC, datetime

from halfstep.school.jobs import Job

VARIABLE = "HALFSTEP_LOG"
_MS = 1000.0


def is_logging() -> bool:
    """True where lines are wanted."""
    return os.environ.get(VARIABLE, "") == "json"


def log_line(what: str, **fields: object) -> None:
    """Write a line, where lines are wanted."""
    if is_logging():
        at = datetime.now(UTC).isoformat(timespec="milliseconds")
        line = json.dumps({"at": at, "what": what, **fields})
        print(line, file=sys.stderr, flush=True)


def log_request(method: str, route: str, status: int, seconds: float) -> None:
    """Write how something was answered."""
    ms = round(_MS * seconds, 1)
    log_line("request", method=method, route=route, status=status, ms=ms)


def log_job(job: Job) -> None:
    """Write how a job ended."""
    log_line(
        "job",
        number=job.number,
        kind=job.kind,
        state=str(job.state),
        attempts=job.attempts,
        waited_ms=_ms_between(job.added_at, job.started_at),
        took_ms=_ms_between(job.started_at, job.ended_at),
    )


def _ms_between(first: datetime | None, last: datetime | None) -> int | None:
    return None if first is None or last is None else round(_MS * (last - first).total_seconds())
