"""A process that does jobs, one after another, until the one that started it is done with it.

Its standard input is its line to that process: a byte says that there may be a job, and its end,
however it comes, that there will be none. A job that is half done then waits for another worker.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from contextlib import suppress
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Thread
from time import monotonic
from typing import BinaryIO

from halfstep.app.job_workers import READY
from halfstep.app.log_lines import log_job
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.course.course_folder import our_course
from halfstep.course.kind_of_chart import kind_of_chart
from halfstep.errors import HalfstepError, StoreError
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.school.database import School
from halfstep.school.early_folders import sweep_early
from halfstep.school.job_queue import TableQueue
from halfstep.school.retention import let_go_in_time
from halfstep.school.worker_mark import worker_mark
from halfstep.services.hear_take import HearTake
from halfstep.services.request_fields import no_progress
from halfstep.services.request_files import make_files
from halfstep.services.write_etude import WriteEtude
from halfstep.workers import RARE_GARBAGE, own_output

LOOKS_EVERY_S = 0.3
"""How often a worker looks for a job of which nobody told it."""
LETS_GO_EVERY_S = 600.0
"""How often a worker asks, between two jobs, whether something is past its time."""
_CHART = "| C6 | G7 |"
PAUSE_S = 2.0
"""After the school could not be read or written."""


def main(arguments: list[str]) -> None:
    """Do the jobs of a school: its folder, the name of this worker, and whose lane it is."""
    folder, worker, lane = arguments
    try:
        _serve(Path(folder), worker, lane)
    except HalfstepError as error:
        sys.exit(str(error))


def _serve(folder: Path, worker: str, lane: str) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started this one ends it
    outbox = own_output()
    gc.set_threshold(RARE_GARBAGE)
    with School(folder) as school, worker_mark(folder, worker):
        place = Workplace(
            school, worker, TableQueue(lane), leave=partial(os._exit, 1), tell=log_job
        )
        news = Event()
        Thread(target=_listen, args=(sys.stdin.buffer, news, place), daemon=True).start()
        warm_up()
        outbox.write(READY)
        outbox.flush()
        if school.address:
            from halfstep.app.called_work import work_when_called

            work_when_called(place, lane, partial(let_go, place))
        else:
            work(place, news)


def _listen(line: BinaryIO, news: Event, place: Workplace) -> None:
    """Pass on that there may be a job; end the process with the line."""
    while line.read(1):
        news.set()
    with suppress(HalfstepError), place.school.writing() as connection:
        place.queue.give_back(connection, place.worker)
    os._exit(0)  # whatever the work is at: nothing of it is kept


def warm_up() -> None:
    """Have loaded what jobs need: an etude is written, played and heard, the course read."""
    kind_of_chart(played(read_sheet_text(_CHART)), our_course())
    with suppress(HalfstepError, OSError), TemporaryDirectory(prefix="halfstep-") as name:
        folder = Path(name)
        make_files(WriteEtude(_CHART, "arpeggio"), folder, progress=no_progress)
        make_files(HearTake(folder / "etude.m4a"), folder, progress=no_progress)


def work(place: Workplace, news: Event) -> None:
    """Do jobs without end, and now and then look for what is past its time."""
    looks_at_s = monotonic()
    while True:
        news.clear()
        try:
            job = work_once(place)
        except StoreError as error:
            print(error, file=sys.stderr)
            news.wait(PAUSE_S)
            continue
        if monotonic() >= looks_at_s:  # though it is never idle: nothing is kept longer than said
            looks_at_s = monotonic() + LETS_GO_EVERY_S
            let_go(place)
        elif job is None:
            news.wait(LOOKS_EVERY_S)


def let_go(place: Workplace) -> None:
    """Let go what is past its time; a fault is printed, and it is tried again later."""
    sweep_early(place.school)  # what was heard early lies on each machine by itself
    try:
        let_go_in_time(place.school)
    except (HalfstepError, OSError) as error:
        print(error, file=sys.stderr)


if __name__ == "__main__":
    main(sys.argv[1:])
