"""How do files appear? Whole or not at all, one of them or a folder's.

A file is written under another name beside the wanted one, a folder's files in a folder
beside it; both are moved into place when all is done. What a process leaves there that is killed
before is removed by the next one that writes beside it: whoever works on such a draft holds a lock
on it, which the system lets go of when the process ends, however it ends.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from halfstep.errors import BriefError


def write_whole(path: str | Path, data: bytes, *, is_private: bool = False) -> None:
    """Write a file under another name beside it, then rename it into place.

    Parameters
    ----------
    is_private : bool
        Readable for its owner alone.
    """
    with whole_file(path, is_private=is_private) as file:
        file.write(data)


def flush(*paths: Path) -> None:
    """Have files and folders on the disk as they are, so that they outlive a loss of power.

    Raises
    ------
    OSError
    """
    for path in paths:
        if os.name == "nt" and path.is_dir():
            continue  # it opens no folders
        descriptor = os.open(path, os.O_RDWR if os.name == "nt" else os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def file_digest(path: Path) -> str:
    """What a file is known by, whatever it is called: SHA-256 of its bytes.

    Raises
    ------
    BriefError
        When it cannot be read.
    """
    from hashlib import file_digest as digest_of

    try:
        with path.open("rb") as file:
            return digest_of(file, "sha256").hexdigest()
    except OSError as error:
        raise BriefError(f"cannot read {path}: {error.strerror}") from None


@contextmanager
def whole_file(path: str | Path, *, is_private: bool = False) -> Iterator[BinaryIO]:
    """A file under another name, which takes its place when all went well; it may be read too."""
    path = Path(path)
    remove_left_drafts(path.parent)
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=DRAFT)
    try:
        with _in_use(name):
            with os.fdopen(descriptor, "w+b") as file:
                yield file
            if not is_private:
                os.chmod(name, 0o666 & ~_umask())
            os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """A working folder whose files are moved into ``folder`` when all went well."""
    new_folders: list[Path] = []
    work: Path | None = None
    try:
        new_folders += _missing_folders(folder)
        # made at once, so that a folder that cannot be made is known before the work
        folder.mkdir(parents=True, exist_ok=True)
        remove_left_drafts(folder.parent)
        work = Path(tempfile.mkdtemp(prefix=DRAFT, dir=folder.parent))
        with _in_use(work):
            yield work
            _move_all(work, folder)
        new_folders.clear()
    except OSError as error:
        raise BriefError(f"cannot write to {folder}: {error.strerror or error}") from error
    finally:
        if work:
            shutil.rmtree(work, ignore_errors=True)
        for new_folder in new_folders:
            with suppress(OSError):  # not there, or no longer empty
                new_folder.rmdir()


@contextmanager
def whole_files(folder: Path) -> Iterator[Path]:
    """A working folder inside a folder that is there, to which its files are moved when all went
    well; what else is there stays.
    """
    try:
        with passing_folder(folder) as work:
            yield work
            _move_all(work, folder)
    except OSError as error:
        raise BriefError(f"cannot write to {folder}: {error.strerror or error}") from error


@contextmanager
def passing_folder(folder: Path) -> Iterator[Path]:
    """A folder inside one that is there, which is gone when the block ends.

    Raises
    ------
    OSError
        When it cannot be made.
    """
    remove_left_drafts(folder)
    work = Path(tempfile.mkdtemp(prefix=DRAFT, dir=folder))
    try:
        with _in_use(work):
            yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _missing_folders(folder: Path) -> list[Path]:
    """The folders that must be made, innermost first.

    Raises
    ------
    BriefError
        When something on the way is a file.
    """
    path = (folder, *folder.parents)
    for step in path:
        if step.exists() and not step.is_dir():
            raise BriefError(f"{step} is a file; give `folder` the name of a folder")
    return [step for step in path if not step.exists()]


def _move_all(work: Path, folder: Path) -> None:
    """Move the files into place, or none where a folder stands in the way of one."""
    paths = sorted(work.iterdir())
    for path in paths:
        if (folder / path.name).is_dir():
            taken = folder / path.name
            raise BriefError(f"{taken} is a folder; move it or choose another `folder`")
    for path in paths:
        os.replace(path, folder / path.name)


# Drafts


DRAFT = ".halfstep-draft-"
"""How their names begin; eight letters follow."""
YOUNG_S = 2.0
"""A draft so young may be one that is not locked yet."""


def remove_left_drafts(folder: Path) -> None:
    """Remove the drafts in a folder whose process ended before it could."""
    for draft in folder.glob(f"{DRAFT}????????"):
        if not _is_left(draft):
            continue
        if draft.is_dir():
            shutil.rmtree(draft, ignore_errors=True)
        else:
            draft.unlink(missing_ok=True)


@contextmanager
def _in_use(draft: str | Path) -> Iterator[None]:
    """Be known to others as the one who works on a draft, until the block or the process ends."""
    if not _HAS_LOCKS:
        yield
        return
    descriptor = os.open(draft, os.O_RDONLY)
    try:
        take_lock(descriptor)
        yield
    finally:
        os.close(descriptor)


def _is_left(draft: Path) -> bool:
    """Whether nobody works on a draft; False where that is not known."""
    try:
        is_young = time.time() - draft.stat().st_mtime < YOUNG_S
        descriptor = os.open(draft, os.O_RDONLY)
    except OSError:
        return False
    try:
        return _HAS_LOCKS and not is_young and take_lock(descriptor)
    finally:
        os.close(descriptor)


if sys.platform == "win32":
    import msvcrt

    _HAS_LOCKS = False  # on a folder, or on a file that is renamed
else:
    import fcntl

    _HAS_LOCKS = True


def take_lock(descriptor: int) -> bool:
    """Lock a file that is open, until it is closed; True when the lock is this process's now."""
    try:
        if sys.platform == "win32":
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def wait_for_lock(descriptor: int) -> None:
    """Lock a file that is open, until it is closed; who holds it is waited for."""
    if sys.platform == "win32":
        msvcrt.locking(descriptor, msvcrt.LK_LOCK, 1)
    else:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
