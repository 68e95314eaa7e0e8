"""A process that reads files as no file should be: for ever, into all of memory, to its death."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from halfstep.app.reading_process import serve


def _read(path: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    if path.name == "spins":
        while True:
            pass
    if path.name == "waits":
        signal.pause()
    if path.name == "hoards":
        return {"title": str(len(bytearray(1 << 40)))}
    if path.name == "dies":
        os.kill(os.getpid(), signal.SIGSEGV)
    if path.name == "fails":
        raise ValueError("a fault of ours")
    if path.name == "chatters":
        print("something of a library")
    return {"title": path.name, "text": str(asked["work_s"])}


if __name__ == "__main__":
    serve({"chart": _read, "recording": _read}, sys.argv[1:])
