"""Who listens to takes while they are recorded? One process beside the page.

It is started when a recording has grown, told of each one that has, and never waited for: should it
die, another is started with the next word, and what it had not heard is heard when the take is.
"""

from __future__ import annotations

import subprocess
import sys
from contextlib import suppress
from threading import Event, Lock, Thread
from time import monotonic
from types import TracebackType
from typing import Self

from halfstep.app.job_workers import started_beside
from halfstep.school.database import School
from halfstep.school.early_folders import sweep_early
from halfstep.services.early_hearing import GrowingRecording

PROCESS = "halfstep.app.ear_process"
SWEEPS_EVERY_S = 600.0
PAUSE_S = 5.0
"""No process is started sooner after the last."""


class Ear:
    """A process that listens to takes as they grow, inside the ``with`` block.

    Parameters
    ----------
    school : School
    """

    def __init__(self, school: School) -> None:
        self._school = school
        self._process: subprocess.Popen[bytes] | None = None
        self._started_s = -PAUSE_S
        self._speaking = Lock()
        self._over = Event()

    def tell(self, recording: GrowingRecording) -> None:
        """Say that a recording has grown; nothing comes of it where nobody listens."""
        with self._speaking:
            process = self._listening()
            if process is None or process.stdin is None:
                return
            with suppress(OSError, ValueError):  # it has just ended
                process.stdin.write(f"{recording.text}\n".encode())
                process.stdin.flush()

    @property
    def process(self) -> int | None:
        """The number of the process that is there now."""
        return self._process.pid if self._process else None

    def _listening(self) -> subprocess.Popen[bytes] | None:
        """The process, started anew where it has ended; None for a while after that."""
        if self._process is not None and self._process.poll() is None:
            return self._process
        if monotonic() - self._started_s < PAUSE_S:
            return None
        self._end()
        self._started_s = monotonic()
        try:
            self._process = started_beside(PROCESS, stdout=subprocess.DEVNULL)
        except OSError as error:  # for want of memory, perhaps: takes are heard without
            print(f"nobody can listen to takes: {error.strerror}", file=sys.stderr)
        return self._process

    def _end(self) -> None:
        if self._process is not None:
            self._process.kill()  # what it is at is of no worth without a page
            with suppress(OSError), self._process:
                pass
        self._process = None

    def __enter__(self) -> Self:
        sweep_early(self._school)
        Thread(target=self._keep_swept, daemon=True).start()
        return self

    def _keep_swept(self) -> None:
        """Have nothing lie for long that was heard on this machine, though none comes any more."""
        while not self._over.wait(SWEEPS_EVERY_S):
            sweep_early(self._school)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._over.set()
        with self._speaking:
            self._end()
