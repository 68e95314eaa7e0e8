"""How do files appear? Whole or not at all, one of them or a folder's.

A file is written under another name beside the wanted one, a folder's files in a folder
beside it; both are moved into place when all is done.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from halfstep.errors import BriefError


def write_whole(path: str | Path, data: bytes) -> None:
    """Write a file under another name beside it, then rename it into place."""
    with whole_file(path) as file:
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
def whole_file(path: str | Path) -> Iterator[BinaryIO]:
    """A file under another name, which takes its place when all went well; it may be read too."""
    path = Path(path)
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(descriptor, "w+b") as file:
            yield file
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
        work = Path(tempfile.mkdtemp(prefix=".halfstep-", dir=folder.parent))
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
