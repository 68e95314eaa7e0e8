"""Who does the jobs of a school while its page is open? Processes, kept up by a thread each.

A process that dies is followed by another; all end with the one that started them, however that
ends, and what they were at then waits for the next.
"""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from threading import Event, Lock, Thread
from time import monotonic
from types import TracebackType
from typing import Self

from halfstep.errors import StoreError
from halfstep.school.database import School
from halfstep.school.job_calls import call_again
from halfstep.school.job_queue import TableQueue
from halfstep.school.jobs import JobState, at_work, jobs_in_state
from halfstep.school.made_files import sweep_made
from halfstep.school.worker_mark import new_worker_name, remove_old_marks
from halfstep.workers import cores

PROCESS = "halfstep.app.job_process"
"""The module that a process runs; to load it here would keep the page waiting."""
READY = b"ready\n"
"""What a process says when it has loaded all that jobs need."""
STOPS_WITHIN_S = 4.0
"""What has not ended by itself by then is ended."""
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.2, 30.0
"""Before a process is started again: longer each time, when it never got ready."""
NICENESS = 10
"""From its first moment on a worker lets whoever looks at a page go before."""
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""Of libraries that would each start as many threads as there are cores."""


MOST_WORKERS = 4
"""Each takes a quarter of a gigabyte and more."""


def usual_workers() -> int:
    """One for each core but the one that the page needs; one at least."""
    return min(max(cores() - 1, 1), MOST_WORKERS)


class JobWorkers:
    """Processes that do the jobs of a school, inside the ``with`` block.

    Parameters
    ----------
    school : School
    count : int, optional
        How many; as `usual_workers` says unless said.
    lane : str, optional
        Which jobs they do; all unless said.
    """

    def __init__(self, school: School, count: int | None = None, lane: str = "") -> None:
        self._school = school
        slots = range(usual_workers() if count is None else count)
        self._over = Event()
        self._slots = [_Slot(school, self._over, lane) for _ in slots]

    def wake(self) -> None:
        """Say that a job was added: they look at once, not only now and then."""
        for slot in self._slots:
            slot.tell()

    def wait_ready(self, timeout_s: float) -> bool:
        """True when all have loaded what they need by then."""
        until_s = monotonic() + timeout_s
        return all(slot.ready.wait(max(until_s - monotonic(), 0.0)) for slot in self._slots)

    @property
    def processes(self) -> tuple[int, ...]:
        """The numbers of the processes that are there now."""
        return tuple(slot.process.pid for slot in self._slots if slot.process)

    def __enter__(self) -> Self:
        self._clear_up()
        for slot in self._slots:
            slot.thread.start()
        return self

    def _clear_up(self) -> None:
        """Remove what workers of old have left behind."""
        with self._school.reading() as connection:
            running = jobs_in_state(connection, JobState.RUNNING)
        sweep_made(self._school)
        remove_old_marks(self._school.folder, {job.worker for job in running})

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._over.set()
        until_s = monotonic() + STOPS_WITHIN_S
        for slot in self._slots:
            slot.close()
        for slot in self._slots:
            slot.end(until_s)
        # what could not give its job back by itself had no time to
        with suppress(StoreError), self._school.writing() as connection:
            for slot in self._slots:
                TableQueue().give_back(connection, slot.worker)


class _Slot:
    """A place for one process after another."""

    def __init__(self, school: School, over: Event, lane: str) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.ready = Event()
        self.thread = Thread(target=self._keep_up, daemon=True)
        self._school, self._over, self._lane = school, over, lane
        self.worker = ""
        self._changing = Lock()

    def tell(self) -> None:
        """Say that there may be a job."""
        process = self.process
        if process and process.stdin:
            with suppress(OSError, ValueError):  # it has just ended
                process.stdin.write(b".")
                process.stdin.flush()

    def close(self) -> None:
        """Say that there will be no more; one that is not ready yet has no job, and is ended."""
        with self._changing:
            if self.process and not self.ready.is_set():
                self.process.kill()
            if self.process and self.process.stdin:
                with suppress(OSError):
                    self.process.stdin.close()

    def end(self, until_s: float) -> None:
        """Wait for its end, and then do not wait."""
        self.thread.join(max(until_s - monotonic(), 0.0))
        if self.thread.is_alive() and self.process:
            self.process.kill()
            self.thread.join()

    def _keep_up(self) -> None:
        """Have a process there until all is over."""
        pause_s = 0.0
        while not self._over.wait(pause_s):
            pause_s = FIRST_PAUSE_S if self._lived() else _longer(pause_s)

    def _lived(self) -> bool:
        """Start a process and wait for its end; True when it was ready to work."""
        self.worker = new_worker_name()
        with self._changing:
            if self._over.is_set():
                return False
            self.ready.clear()
            try:
                self.process = process = _started(self._school, self.worker, self._lane)
            except OSError as error:  # for want of memory, perhaps: later
                print(f"no worker can be started: {error.strerror}", file=sys.stderr)
                return False
        with suppress(BrokenPipeError), process:
            assert process.stdout
            is_ready = process.stdout.readline() == READY
            if is_ready:
                self.ready.set()
            process.stdout.read()
        self._give_back()
        return is_ready

    def _give_back(self) -> None:
        """Have what it was at when it ended given to another worker at once."""
        if self._school.address:  # else the lock that it held says so
            with suppress(StoreError), self._school.writing() as connection:
                call_again(connection, at_work(connection, self.worker))


def _longer(pause_s: float) -> float:
    return min(max(2 * pause_s, FIRST_PAUSE_S), LONGEST_PAUSE_S)


def _started(school: School, worker: str, lane: str) -> subprocess.Popen[bytes]:
    folder = str(school.folder.resolve())
    return started_beside(PROCESS, folder, worker, lane, stdout=subprocess.PIPE)


def started_beside(module: str, *arguments: str, stdout: int) -> subprocess.Popen[bytes]:
    """A process that works beside the page, and finds the modules that this one finds.

    Parameters
    ----------
    module : str
        What it runs.
    arguments : str
    stdout : int
        Where its standard output goes, as `subprocess` has it.
    """
    process = subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        stdin=subprocess.PIPE,
        stdout=stdout,
        env=os.environ
        | dict.fromkeys(_THREADS, "1")
        | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    if sys.platform != "win32":
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, process.pid, NICENESS)
    return process
