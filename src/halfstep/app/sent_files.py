"""Are files that were sent what they should be? Each is looked into in another process first.

What decodes recordings and opens archives is written in languages in which a fault is more than
an error. So a file is read to its end in a process with bounds on time and memory, which may die
of it; only what came through is kept, and read again by who hears or draws it.
"""

from __future__ import annotations

import atexit
import json
import subprocess
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, LifoQueue
from threading import Timer
from typing import Any

from halfstep.app.job_workers import READY, started_beside
from halfstep.app.tasks.chart_tasks import ChartContent
from halfstep.errors import BriefError, HalfstepError, ReadError, StoreAway, TakeError
from halfstep.services.recording_check import LONGEST_S

PROCESS = "halfstep.app.reading_process"
AT_ONCE = 2
"""Processes at most; each takes a tenth of a gigabyte, and is started when it is needed."""
STARTS_WITHIN_S = 60.0
"""A process, on however busy a machine."""
_FAULTS: dict[str, type[HalfstepError]] = {"BriefError": BriefError, "TakeError": TakeError}


@dataclass(frozen=True, slots=True)
class ReadingBounds:
    """What reading one file may take.

    Attributes
    ----------
    work_s : float
        Seconds of a core.
    wait_s : float
        Seconds by the clock, whatever else the machine does.
    memory_mb : int
        Beside what is loaded.
    longest_s : float
        Of a recording.
    """

    work_s: float = 30.0
    wait_s: float = 90.0
    memory_mb: int = 512
    longest_s: float = LONGEST_S


class FileReaders:
    """Processes that look into files, started as they are needed.

    They end with the process that asks.

    Parameters
    ----------
    bounds : ReadingBounds
    process : str
        The module that they run.
    """

    def __init__(
        self,
        bounds: ReadingBounds = ReadingBounds(),
        process: str = PROCESS,
    ) -> None:
        self._bounds = bounds
        self._slots: LifoQueue[_ReaderSlot] = LifoQueue()
        for _ in range(AT_ONCE):
            self._slots.put(_ReaderSlot(process, bounds))

    def demand_recording(self, path: Path) -> None:
        """Refuse what is no recording that can be heard.

        Raises
        ------
        TakeError
        StoreAway
            When no process can be started to look.
        """
        asked = {"longest_s": self._bounds.longest_s}
        if self._read("recording", path, asked) is None:
            raise TakeError(_greedy(path))

    def chart(self, path: Path) -> ChartContent:
        """What a file of a chart holds.

        Raises
        ------
        ReadError
        StoreAway
            When no process can be started to look.
        """
        content = self._read("chart", path, {})
        if content is None:
            raise ReadError(_greedy(path))
        return ChartContent(**content)

    def _read(self, kind: str, path: Path, asked: dict[str, Any]) -> dict[str, Any] | None:
        """What a file holds; None where reading it would take too much."""
        slot = self._slots.get()
        try:
            reply = slot.reply({"kind": kind, "path": str(path.resolve()), **asked})
        finally:
            self._slots.put(slot)
        if reply is None or reply.get("fault") == "greed":
            return None
        if "read" in reply:
            read: dict[str, Any] = reply["read"]
            return read
        if reply["fault"] == "ReadError":
            raise ReadError(reply["text"], **reply["place"])
        raise _FAULTS.get(reply["fault"], RuntimeError)(reply["text"])

    def close(self) -> None:
        """End the processes that rest; nothing can be asked any more."""
        with suppress(Empty):
            while True:
                self._slots.get_nowait().end()


def _greedy(path: Path) -> str:
    return (
        f"{path.name}: to read it takes more time or memory than any music needs; "
        "send it as another program saves it anew"
    )


class _ReaderSlot:
    """A place for one process after another."""

    def __init__(self, module: str, bounds: ReadingBounds) -> None:
        self._module, self._bounds = module, bounds
        self._process: subprocess.Popen[bytes] | None = None

    def reply(self, asked: dict[str, Any]) -> dict[str, Any] | None:
        """What is answered; None where the process died of it, or was ended."""
        if self._process is None or self._process.poll() is not None:
            self._start()
        line = json.dumps(asked | {"work_s": self._bounds.work_s}).encode() + b"\n"
        answer = self._told(line, self._bounds.wait_s)
        if not answer.endswith(b"\n"):
            self.end()
            return None
        reply: dict[str, Any] = json.loads(answer)
        return reply

    def _start(self) -> None:
        self.end()
        memory = str(self._bounds.memory_mb)
        self._process = started_beside(self._module, memory, stdout=subprocess.PIPE)
        if self._told(b"", STARTS_WITHIN_S) != READY:
            self.end()
            raise StoreAway("what looks into files cannot be started; try again in a moment")

    def _told(self, line: bytes, wait_s: float) -> bytes:
        """The next line of the process once it was given one; a part of it where it ends."""
        process = self._process
        assert process is not None
        assert process.stdin
        assert process.stdout
        timer = Timer(wait_s, process.kill)
        timer.start()
        try:
            process.stdin.write(line)
            process.stdin.flush()
            return process.stdout.readline()
        except OSError:
            return b""
        finally:
            timer.cancel()

    def end(self) -> None:
        """End the process, whatever it is at."""
        if self._process is not None:
            self._process.kill()
            with suppress(OSError), self._process:
                pass
        self._process = None


SENT_FILES = FileReaders()
"""Those of this process: none is there before a file is sent."""
atexit.register(SENT_FILES.close)
