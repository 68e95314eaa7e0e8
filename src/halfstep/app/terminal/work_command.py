"""``halfstep work``: do the jobs of a data folder, beside a server or without one."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, wrapped_help
from halfstep.app.terminal.serve_command import (
    add_metrics,
    add_workers,
    demand_installed,
    worker_count,
)
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from contextlib import AbstractContextManager

    from halfstep.school.database import School

DESCRIPTION = "Do the jobs of a data folder: hear takes, make sheets, until stopped."
EXAMPLES = (
    "halfstep work --workers 2",
    "halfstep work --data ~/evening-class",
)


def epilog() -> str:
    """Where it is of use."""
    return wrapped_help(
        "halfstep serve has workers of its own. This is for a server that was started with "
        "--workers 0, or for more of them. A job is done by one worker at a time; one whose worker "
        "ends or is killed goes to another. On several machines, HALFSTEP_DATABASE names the "
        "database that they share, and --data the folder, or HALFSTEP_FILES a store in its place."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    add_workers(parser)
    parser.add_argument(
        "--queue",
        metavar="NAME",
        default="",
        help="only the jobs of one: listen, what students sent; make, all else",
    )
    add_metrics(parser)
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Work until stopped."""
    del parser
    import signal
    from contextlib import suppress
    from threading import Event

    from halfstep.app.job_workers import JobWorkers, usual_workers
    from halfstep.school.lanes import demand_lane

    lane, count = demand_lane(arguments.queue), worker_count(arguments.workers)
    count = usual_workers() if count is None else count
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with (
        school_of(arguments) as school,
        suppress(KeyboardInterrupt),
        _watching(arguments.metrics, school),
        JobWorkers(school, count, lane),
    ):
        words = "1 worker" if count == 1 else f"{count} workers"
        print(f"{words} at {school.name}; Ctrl-C stops", flush=True)
        Event().wait()


def _watching(typed: str | None, school: School) -> AbstractContextManager[None]:
    """Answer with numbers where that was asked for."""
    from contextlib import nullcontext

    demand_installed(typed)
    if typed is None:
        return nullcontext()
    from halfstep.app.metrics import metrics_at

    return metrics_at(typed, school)
