"""Who else works? Other processes of this program, which are given tasks and hand back results.

A process runs Python on one core at a time. Where there is work for several, `Workers` starts as
many processes; each takes a task, does it, and takes the next.

Conventions
-----------
- A task is a function of a module and its arguments, all of which can be pickled. What many tasks
  need is given to each process once: `Workers.share`.
- Results come in futures, in whatever order; an error of a task is raised where its result is
  asked for, as if it had been done in this process.
- They are begun before there is a task: while this process works out what the tasks are, they
  load what those need.
- A process is new, not a copy of this one, and does not run the script that was started: the
  library may be used from any script, in threads, on any system.
- All end with the ``with`` block, what they are at undone.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock, local
from types import TracebackType
from typing import Any, BinaryIO, Generic, Self, TypeVar

from halfstep.errors import BriefError

Value = TypeVar("Value")

RARE_GARBAGE = 100_000
"""So many new objects before garbage is looked for: what is loaded stays."""
_LOST = (
    "a process that made a part of it was ended from outside, perhaps for want of memory; "
    "make it again, with fewer at once"
)


def cores() -> int:
    """How many processor cores this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@dataclass(frozen=True, slots=True)
class Shared(Generic[Value]):
    """A value that every process reads once.

    Attributes
    ----------
    path : Path
        Where it lies while the workers are there.
    """

    path: Path

    @property
    def value(self) -> Value:
        """The value, as the process has it."""
        value: Value = _read(self.path)
        return value


@lru_cache(maxsize=2)
def _read(path: Path) -> Any:
    return pickle.loads(path.read_bytes())


class Workers:
    """Processes that do tasks, each started when there is one for it.

    Parameters
    ----------
    count : int
        How many there are at most.
    """

    def __init__(self, count: int) -> None:
        self.count = count
        self._threads = ThreadPoolExecutor(count)  # each waits for a process of its own
        self._own = local()
        self._starting = Lock()
        self._processes: list[subprocess.Popen[bytes]] = []
        self._over = False
        self._folder = TemporaryDirectory(prefix="halfstep-")
        self._values = 0

    def submit(self, task: Callable[..., Value], *arguments: object) -> Future[Value]:
        """Have a task done; tasks are begun in the order in which they come."""
        return self._threads.submit(self._result, task, arguments)

    def share(self, value: Value) -> Shared[Value]:
        """Put a value where every process finds it."""
        self._values += 1
        path = Path(self._folder.name) / str(self._values)
        path.write_bytes(pickle.dumps(value, pickle.HIGHEST_PROTOCOL))
        return Shared(path)

    def _result(self, task: Callable[..., Value], arguments: tuple[object, ...]) -> Value:
        request = pickle.dumps((task, arguments), pickle.HIGHEST_PROTOCOL)
        try:
            inbox, outbox = self._process()
            inbox.write(request)
            inbox.flush()
            done, value = pickle.load(outbox)
        except (EOFError, BrokenPipeError, pickle.UnpicklingError):
            raise BriefError(_LOST) from None
        if not done:
            raise value
        return value  # type: ignore[no-any-return]

    def _process(self) -> tuple[BinaryIO, BinaryIO]:
        """Where this thread's process is given tasks, and where its results come from."""
        with self._starting:
            if self._over:
                raise EOFError
            if not hasattr(self._own, "process"):
                self._own.process = _started()
                self._processes.append(self._own.process)
        process = self._own.process
        return process.stdin, process.stdout

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        with self._starting:
            self._over = True
        for process in self._processes:
            process.kill()
        self._threads.shutdown(cancel_futures=True)
        for process in self._processes:
            with suppress(BrokenPipeError), process:
                pass
        self._folder.cleanup()


@contextmanager
def workers_for(count: int, first: Callable[[], object]) -> Iterator[Workers | None]:
    """So many workers, each busy with a first task; None where this process works alone.

    Parameters
    ----------
    count : int
    first : callable
        A function of the module that the tasks need, which is loaded with it.
    """
    if count < 2:
        yield None
        return
    with Workers(count) as workers:
        for _ in range(count):
            workers.submit(first)
        yield workers


def _started() -> subprocess.Popen[bytes]:
    """A process that serves, and finds the modules that this one finds."""
    return subprocess.Popen(
        [sys.executable, "-m", __name__],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )


def serve(inbox: BinaryIO, outbox: BinaryIO) -> None:
    """Do tasks until no more can come."""
    while True:
        try:
            task, arguments = pickle.load(inbox)
        except EOFError:
            return
        outbox.write(_reply(task, arguments))
        outbox.flush()


def _reply(task: Callable[..., object], arguments: tuple[object, ...]) -> bytes:
    try:
        return pickle.dumps((True, task(*arguments)), pickle.HIGHEST_PROTOCOL)
    except Exception as error:
        return _error_reply(error)


def _error_reply(error: Exception) -> bytes:
    """An error as it is, or in words where it cannot be sent."""
    try:
        reply = pickle.dumps((False, error))
        pickle.loads(reply)
    except Exception:
        return pickle.dumps((False, RuntimeError(f"{type(error).__name__}: {error}")))
    return reply


def main() -> None:
    """Serve the process that started this one; what tasks print goes to standard error."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the other one ends both
    gc.set_threshold(RARE_GARBAGE)
    serve(sys.stdin.buffer, own_output())


def own_output() -> BinaryIO:
    """Standard output; what libraries print goes to standard error from now on."""
    outbox = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return outbox


if __name__ == "__main__":
    main()
