"""How soon is a job begun, how many are done in a second, and what does a worker cost that waits?

    python bench/jobs.py             200 quick jobs, 40 begun one by one
    python bench/jobs.py --jobs 1000

Prints, all of one run: a job's way through the table, added, taken and ended, each a change of its
own, beside the same INSERT and two UPDATEs by the standard library's sqlite3 under the same
settings, by the clock, for the disk is part of it, and in CPU time; how long a job waits for a
worker that is told of it, and for one that is not; and of a worker: when it is ready, its memory,
its CPU time while there is nothing to do, and how soon it has stopped.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter, process_time, sleep

from halfstep.app.job_workers import JobWorkers
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.school.database import School
from halfstep.school.job_queue import TableQueue
from halfstep.school.jobs import Job, add_job, find_job
from halfstep.services.check_course import CheckCourse
from halfstep.services.stored_requests import request_text

COURSE = "course"
QUICK = request_text(CheckCourse(Path(COURSE)))
"""A request that makes no file, so that what is measured is the job around it."""
IDLE_S = 20.0


@contextmanager
def timed(what: str, count: int) -> Iterator[None]:
    """Print what one of so many takes."""
    clock_s, cpu_s = perf_counter(), process_time()
    yield
    clock_s, cpu_s = perf_counter() - clock_s, process_time() - cpu_s
    each = f"{1000 * clock_s / count:6.2f} ms, CPU {1000 * cpu_s / count:5.2f} ms"
    print(f"{what:44}{each}, {count / clock_s:6.0f} a second")


def add(school: School, belongs_to: str) -> Job:
    """A job that waits."""
    with school.writing() as connection:
        return add_job(connection, belongs_to, QUICK)


def bare(folder: Path, count: int) -> None:
    """The same rows written by hand."""
    with tempfile.TemporaryDirectory(dir=folder) as name:
        connection = sqlite3.connect(Path(name) / "bare.sqlite3", isolation_level=None)
        for setting in ("journal_mode = WAL", "synchronous = FULL", "secure_delete = ON"):
            connection.execute(f"PRAGMA {setting}")
        connection.execute(
            "CREATE TABLE jobs (id INTEGER PRIMARY KEY, request TEXT, state TEXT, result TEXT)"
        )
        with timed("bare: INSERT, UPDATE, UPDATE", count):
            for number in range(count):
                connection.execute("INSERT INTO jobs VALUES (?, ?, 'waiting', '')", (number, QUICK))
                connection.execute("UPDATE jobs SET state = 'running' WHERE id = ?", (number,))
                connection.execute(
                    "UPDATE jobs SET state = 'done', result = '{}' WHERE id = ?", (number,)
                )
        connection.close()


def through_the_table(school: School, turn: int, count: int) -> None:
    """Added, taken and ended, with no work between."""
    queue = TableQueue()
    with timed("ours: added, taken, ended", count):
        for number in range(count):
            add(school, f"turn-{turn} {number}")
            with school.writing() as connection:
                job = queue.take(connection, "bench", lambda _: False)
            assert job
            with school.writing() as connection:
                queue.finish(connection, job, "{}")


def with_work(school: School, count: int) -> None:
    """As a worker does them: with a heartbeat, a draft and its end."""
    for number in range(count):
        add(school, f"work {number}")
    place = Workplace(school, "bench")
    with timed("ours: done by a worker", count):
        while work_once(place):
            pass


def waits(school: School, count: int, tell: Callable[[], None]) -> str:
    """How long jobs wait before they are begun, each added when nothing else is to do."""
    times_ms = []
    for _ in range(count):
        job = add(school, f"wait {perf_counter()}")
        tell()
        while not (job := _latest(school, job)).has_ended:
            sleep(0.02)
        assert job.started_at
        times_ms.append(1000 * (job.started_at - job.added_at).total_seconds())
        sleep(0.05)
    return f"{median(times_ms):4.0f} ms, 95 of 100 within {quantiles(times_ms, n=20)[-1]:4.0f} ms"


def _latest(school: School, job: Job) -> Job:
    with school.reading() as connection:
        return find_job(connection, job.number)


def cpu_s(process: int) -> float:
    """What a process has taken so far."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory_mb(process: int) -> float:
    """What a process has in memory."""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def of_a_worker(school: School, count: int) -> None:
    """What it costs, and how soon it begins."""
    start_s = perf_counter()
    with JobWorkers(school, 1) as workers:
        workers.wait_ready(60)
        (process,) = workers.processes
        ready = f"after {perf_counter() - start_s:.1f} s, CPU {cpu_s(process):.1f} s"
        print(f"{'a worker is ready':44}{ready}, {memory_mb(process):.0f} MB")
        print(f"{'a job waits, when the worker is told':44}{waits(school, count, workers.wake)}")
        print(f"{'a job waits, when nobody tells':44}{waits(school, count, lambda: None)}")
        before_s = cpu_s(process)
        sleep(IDLE_S)
        print(f"{'a worker that waits':44}{100 * (cpu_s(process) - before_s) / IDLE_S:.2f} % CPU")
        start_s = perf_counter()
    print(f"{'it has stopped':44}after {perf_counter() - start_s:.2f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--waits", type=int, default=40)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, School(Path(name)) as school:
        school.folder.joinpath(COURSE).mkdir()
        school.folder.joinpath(COURSE, "unit.toml").write_text("title = ")
        for turn in range(2):
            bare(school.folder, arguments.jobs)
            through_the_table(school, turn, arguments.jobs)
        with_work(school, arguments.jobs)
        of_a_worker(school, arguments.waits)


if __name__ == "__main__":
    main()
