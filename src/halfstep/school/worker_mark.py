"""Is a worker still there? It holds a lock on a file of its name until it ends, however it ends.

The system lets go of the lock when a process ends, so no number of a process must be trusted that
another may have by now, and a folder that was copied or moved to another machine has no worker.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from halfstep.errors import StoreError
from halfstep.files import take_lock

WORKERS_FOLDER = "workers"
"""Below the school's folder."""


def new_worker_name() -> str:
    """A name that no other worker has, nor had."""
    return uuid4().hex


@contextmanager
def worker_mark(folder: Path, worker: str) -> Iterator[None]:
    """Be known as a worker of a school, until the block or the process ends.

    Raises
    ------
    StoreError
        When the mark cannot be made.
    """
    path = folder / WORKERS_FOLDER / worker
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise StoreError(f"cannot make {path}: {error.strerror}") from None
    try:
        if not take_lock(descriptor):
            raise StoreError(f"{path}: there is a worker of that name already")
        yield
    finally:
        os.close(descriptor)
    path.unlink(missing_ok=True)


def is_gone(folder: Path, worker: str) -> bool:
    """True for a worker that has left its mark and ended; False where that is not known."""
    path = folder / WORKERS_FOLDER / worker
    try:
        descriptor = os.open(path, os.O_RDWR)
    except OSError:
        return False
    try:
        return take_lock(descriptor)
    finally:
        os.close(descriptor)


def remove_old_marks(folder: Path, needed: Collection[str]) -> None:
    """Remove the marks of workers that are gone, but for those of which it must still be known."""
    for path in (folder / WORKERS_FOLDER).glob("*"):
        if path.name not in needed and is_gone(folder, path.name):
            path.unlink(missing_ok=True)
