"""How does a recording grow on the disk? By pieces, each there for good before it is acknowledged.

A piece says at which byte it begins. What stands already is not written again, so that a piece may
be sent twice; a piece that begins beyond the end is refused with the byte that is due. What a full
disk took of a piece is cut off again.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from io import FileIO
from pathlib import Path
from threading import Lock
from zlib import crc32

from halfstep.errors import BriefError, StoreError
from halfstep.files import flush, wait_for_lock

LOCKS_FOLDER = "locks"
"""Below the school's folder."""
_LOCKS = tuple(Lock() for _ in range(64))
"""A file is written by one at a time; two files seldom share a lock."""


@contextmanager
def alone_with(path: Path, folder: Path) -> Iterator[None]:
    """Let nobody else write to a file: no thread, no process, no machine that has the folder.

    Parameters
    ----------
    path : Path
    folder : Path
        The school's.

    Raises
    ------
    StoreError
    """
    number = crc32(path.name.encode()) % len(_LOCKS)
    with _LOCKS[number]:
        try:
            locks = folder / LOCKS_FOLDER
            locks.mkdir(mode=0o700, exist_ok=True)
            descriptor = os.open(locks / f"{number}", os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise StoreError(f"the recording cannot be kept: {error.strerror}") from None
        try:
            wait_for_lock(descriptor)
            yield
        finally:
            os.close(descriptor)


def length_of(path: Path) -> int:
    """How many bytes stand in a file; none where there is no file.

    Raises
    ------
    StoreError
    """
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0
    except OSError as error:
        raise StoreError(f"the recording cannot be read: {error.strerror}") from None


def add_piece(path: Path, piece: bytes, *, first: int, most: int) -> int:
    """Add a piece, on the disk for good, and tell how many bytes stand then.

    Parameters
    ----------
    path : Path
        Made if need be; call `alone_with` around it.
    piece : bytes
    first : int
        Which byte of the whole the piece begins with.
    most : int
        So many bytes may stand.

    Raises
    ------
    BriefError
        When it grows too long; then nothing of the piece is kept.
    StoreError
        When the disk cannot take it; then nothing of the piece is kept.
    """
    length = length_of(path)
    fresh = fresh_part(piece, first=first, length=length, most=most)
    if fresh:
        _append(path, fresh, length)
    return length + len(fresh)


def fresh_part(piece: bytes, *, first: int, length: int, most: int) -> bytes:
    """What of a piece does not stand yet; nothing where it begins beyond the end.

    Parameters
    ----------
    piece : bytes
    first : int
        Which byte of the whole the piece begins with.
    length : int
        So many bytes stand.
    most : int
        So many may.

    Raises
    ------
    BriefError
        When it grows too long.
    """
    fresh = piece[length - first :] if first <= length else b""
    if length + len(fresh) > most:
        raise BriefError("the recording is too long; stop, and send it in two takes")
    return fresh


def _append(path: Path, data: bytes, length: int) -> None:
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with open(path, "ab", buffering=0, opener=_for_oneself) as file:
            try:
                _write_all(file, data)
                os.fsync(file.fileno())
            except OSError:
                file.truncate(length)
                raise
        if not length:
            flush(path.parent, path.parent.parent)
    except OSError as error:
        raise StoreError(
            f"your teacher's machine cannot keep it: {error.strerror}; it stays in your browser"
        ) from None


def _write_all(file: FileIO, data: bytes) -> None:
    """Write all of it, though the system take a part at a time."""
    left = memoryview(data)
    while left:
        left = left[file.write(left) :]


def _for_oneself(name: str, flags: int) -> int:
    return os.open(name, flags, 0o600)
