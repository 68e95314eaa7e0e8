"""A process that looks into files that were sent, one after another, within bounds of its own.

Each line of its standard input is JSON: what a file should be, where it lies, how many seconds of
work it may cost. A line of JSON answers. What takes more is ended by the system, and this process
with it; who asked starts another.
"""

from __future__ import annotations

import gc
import json
import math
import signal
import sys
import traceback
from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from time import process_time
from typing import Any, BinaryIO

from halfstep.app.job_workers import READY
from halfstep.app.tasks.chart_tasks import file_content
from halfstep.errors import HalfstepError, ReadError
from halfstep.services.recording_check import demand_recording
from halfstep.workers import RARE_GARBAGE, own_output

Reader = Callable[[Path, Mapping[str, Any]], dict[str, Any]]
"""Given a file and the rest of what was asked; gives what is answered."""


def _recording(path: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    demand_recording(path, asked["longest_s"])
    return {}


def _chart(path: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    del asked
    return asdict(file_content(path))


READERS: Mapping[str, Reader] = {"recording": _recording, "chart": _chart}


def main() -> None:
    """Look into files until nobody can ask for more."""
    _load()
    serve(READERS, sys.argv[1:])


def _load() -> None:
    """What reads files: what it takes itself is not counted."""
    from halfstep.listen.audio import Resampler
    from halfstep.progression.load import typed_sheet
    from halfstep.progression.notations.musicxml_file import read_score_root

    Resampler(16_000)
    typed_sheet("| C |")
    read_score_root(b"<score-partwise/>")


def serve(readers: Mapping[str, Reader], arguments: list[str]) -> None:
    """Answer what is asked, within bounds.

    Parameters
    ----------
    readers : mapping of str to callable
        By what a file should be.
    arguments : list of str
        Megabytes of memory that reading may take, beside what is loaded.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started this one ends it
    gc.set_threshold(RARE_GARBAGE)
    outbox = own_output()
    _bound_memory(int(arguments[0]) << 20)
    outbox.write(READY)
    outbox.flush()
    for line in sys.stdin.buffer:
        asked = json.loads(line)
        _bound_work(asked["work_s"])
        _answer(outbox, _reply(readers[asked["kind"]], asked))


def _reply(reader: Reader, asked: Mapping[str, Any]) -> dict[str, Any]:
    try:
        return {"read": reader(Path(asked["path"]), asked)}
    except ReadError as error:
        place = {"source": error.source, "line": error.line, "column": error.column}
        return {"fault": "ReadError", "text": error.message, "place": place}
    except HalfstepError as error:
        return {"fault": type(error).__name__, "text": error.marked_text}
    except (MemoryError, RecursionError):
        return {"fault": "greed"}
    except Exception as error:
        traceback.print_exc(file=sys.stderr)
        return {"fault": "", "text": f"{type(error).__name__}: {error}"}


def _answer(outbox: BinaryIO, reply: dict[str, Any]) -> None:
    outbox.write(json.dumps(reply).encode() + b"\n")
    outbox.flush()


def _bound_memory(most: int) -> None:
    """Take so many bytes beside what this process has, and leave nothing of it when it dies."""
    if sys.platform == "win32":
        return
    import resource

    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    bound = _taken() + most
    resource.setrlimit(resource.RLIMIT_AS, (bound if hard < 0 else min(bound, hard), hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _taken() -> int:
    """Bytes of addresses that this process has; 0 where the system does not say."""
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    except OSError:
        return 0
    import resource

    return pages * resource.getpagesize()


def _bound_work(work_s: float) -> None:
    """End this process when it has worked so long from now on."""
    if sys.platform == "win32":
        return
    import resource

    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(process_time() + work_s), hard))


if __name__ == "__main__":
    main()
