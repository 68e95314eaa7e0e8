"""Where do the files of a school lie, and how are they kept? In its folder, or in a store.

A file is known by its name: where it lies below the data folder, with slashes. It is there whole or
not at all. A name says what is in its file, by a digest or the number of an attempt, so that what
is kept twice under one name is the same; what must never take another's place is kept by `put_new`.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from abc import ABC, abstractmethod
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from hashlib import sha256
from pathlib import Path
from stat import S_ISREG
from typing import NamedTuple

from halfstep.errors import StoreError
from halfstep.files import DRAFT, flush
from halfstep.school.data_folder import DATABASE_FILE, EARLY_FOLDER
from halfstep.school.growing_files import LOCKS_FOLDER, add_piece, alone_with
from halfstep.school.worker_mark import WORKERS_FOLDER

BLOCK_BYTES = 1 << 20
"""A file is read in blocks of so many."""
_PASSING = frozenset({WORKERS_FOLDER, LOCKS_FOLDER, EARLY_FOLDER})
"""What is made anew, or means something to running processes alone."""


class KeptFile(NamedTuple):
    """A file in a list.

    Attributes
    ----------
    name : str
    size : int
        Bytes.
    changed_s : float
        When it was kept, in seconds since the epoch.
    """

    name: str
    size: int
    changed_s: float


class KeptFiles(ABC):
    """The files of a school, wherever they lie.

    Each method raises `StoreError` where what is kept cannot be read or written, and
    `FileNotFoundError` where it is told of a file that is not there.
    """

    # To keep something

    @abstractmethod
    def put(self, name: str, source: Path | bytes) -> None:
        """Keep a copy of a file, or some bytes, for good; its age counts from now."""

    @abstractmethod
    def put_new(self, name: str, data: bytes) -> bool:
        """Keep some bytes unless there is a file of that name; whether they were."""

    @abstractmethod
    def take_in(self, folder: str) -> None:
        """Keep for good what was made in a folder below the data folder of this machine."""

    @abstractmethod
    def add_piece(self, name: str, piece: bytes, *, first: int, most: int) -> int:
        """Add a piece to a file that grows; as `growing_files.add_piece`."""

    @abstractmethod
    def alone_with(self, name: str) -> AbstractContextManager[None]:
        """Let nobody else write to a file that grows, where two could spoil it."""

    # To find something

    @abstractmethod
    def size(self, name: str) -> int | None:
        """How many bytes a file has; None where there is none of that name."""

    def exists(self, name: str) -> bool:
        """True where there is such a file."""
        return self.size(name) is not None

    @abstractmethod
    def path_here(self, name: str) -> Path | None:
        """Where a file would lie on this machine; None where it has to be fetched."""

    @abstractmethod
    def files_below(self, folder: str) -> Iterator[KeptFile]:
        """All files below a folder."""

    @abstractmethod
    def folders_beginning(self, start: str) -> set[str]:
        """The folders whose name begins so, such as ``made/12-``."""

    @abstractmethod
    def every_file(self) -> Iterator[KeptFile]:
        """All that belongs to the school: what a copy of it has, beside its rows."""

    def names_in(self, folder: str) -> tuple[str, ...]:
        """The bare names of the files in a folder, in order."""
        names = (one.name.removeprefix(f"{folder}/") for one in self.files_below(folder))
        return tuple(sorted(name for name in names if "/" not in name))

    # To read something

    @abstractmethod
    def blocks(self, name: str, first: int = 0, end: int | None = None) -> Iterator[bytes]:
        """The bytes of a file, from one of them up to another."""

    @abstractmethod
    def at_hand(self, *names: str) -> AbstractContextManager[Path]:
        """A folder on this machine below which some files, or folders of them, lie by their names.

        It is there inside the ``with`` block; what does not exist is not in it.
        """

    def content(self, name: str) -> bytes:
        """All bytes of a file."""
        return b"".join(self.blocks(name))

    def digest(self, name: str) -> str:
        """SHA-256 of a file's bytes."""
        digest = sha256()
        for block in self.blocks(name):
            digest.update(block)
        return digest.hexdigest()

    def fetch(self, name: str, place: Path) -> None:
        """Write a copy of a file to a path of this machine, for its owner alone."""
        try:
            with open(place, "wb", opener=_for_oneself) as file:
                file.writelines(self.blocks(name))
        except FileNotFoundError:
            place.unlink(missing_ok=True)
            raise

    # To remove something

    @abstractmethod
    def remove(self, name: str) -> None:
        """Remove a file, if it is there."""

    @abstractmethod
    def remove_below(self, folder: str) -> None:
        """Remove a folder with all that is in it, also what is half made of it on this machine."""

    @abstractmethod
    def remove_unless_younger(self, name: str, than_s: float) -> None:
        """Remove a file that was not kept anew since a moment, in seconds since the epoch."""

    @abstractmethod
    def trouble(self) -> str:
        """Why nothing can be kept just now, in one line; empty where it can."""


class FolderFiles(KeptFiles):
    """Files as they lie in the data folder.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def put(self, name: str, source: Path | bytes) -> None:
        """Write a draft beside it, which takes its place when it is on the disk for good."""
        place = self._folder / name
        try:
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with _draft_beside(place, source) as draft:
                draft.replace(place)
            flush(place.parent)
        except OSError as error:
            called = source.name if isinstance(source, Path) else place.name
            raise StoreError(f"cannot keep {called}: {error.strerror}") from None

    def put_new(self, name: str, data: bytes) -> bool:
        """Of two that keep one at once, one stands."""
        place = self._folder / name
        try:
            with _draft_beside(place, data) as draft:
                return _take_place(draft, place)
        except OSError as error:
            raise StoreError(f"cannot make {place}: {error.strerror}") from None

    def take_in(self, folder: str) -> None:
        """It lies where it was made."""
        made = self._folder / folder
        try:
            flush(*made.iterdir(), made, made.parent, made.parent.parent)
        except OSError as error:
            raise StoreError(f"cannot keep what was made: {error.strerror}") from error

    def add_piece(self, name: str, piece: bytes, *, first: int, most: int) -> int:
        """Append to the file."""
        return add_piece(self._folder / name, piece, first=first, most=most)

    def alone_with(self, name: str) -> AbstractContextManager[None]:
        """By a lock that holds between threads, processes and machines that have the folder."""
        return alone_with(self._folder / name, self._folder)

    def size(self, name: str) -> int | None:
        """As the disk says."""
        try:
            found = (self._folder / name).stat()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise StoreError(f"{name} cannot be read: {error.strerror}") from None
        return found.st_size if S_ISREG(found.st_mode) else None

    def path_here(self, name: str) -> Path | None:
        """Below the folder."""
        return self._folder / name

    def files_below(self, folder: str) -> Iterator[KeptFile]:
        """What goes meanwhile is left out."""
        for path in sorted((self._folder / folder).rglob("*")):
            name = path.relative_to(self._folder).as_posix()
            try:
                if path.is_file() and not path.is_symlink():
                    yield KeptFile(name, path.stat().st_size, path.stat().st_mtime)
            except FileNotFoundError:
                continue

    def folders_beginning(self, start: str) -> set[str]:
        """As the disk says."""
        parent, _, beginning = start.rpartition("/")
        found = (self._folder / parent).glob(f"{beginning}*")
        return {f"{parent}/{path.name}" for path in found if path.is_dir()}

    def every_file(self) -> Iterator[KeptFile]:
        """All but the database, drafts, and what passes."""
        for file in self.files_below(""):
            parts = Path(file.name).parts
            if parts[0] in _PASSING or parts[0].startswith(DATABASE_FILE):
                continue
            if not any(part.startswith(DRAFT) for part in parts):
                yield file

    def blocks(self, name: str, first: int = 0, end: int | None = None) -> Iterator[bytes]:
        """As the disk gives them."""
        try:
            with (self._folder / name).open("rb") as file:
                file.seek(first)
                left = os.fstat(file.fileno()).st_size if end is None else end - first
                while left > 0 and (block := file.read(min(BLOCK_BYTES, left))):
                    left -= len(block)
                    yield block
        except FileNotFoundError:
            raise
        except OSError as error:
            raise StoreError(f"cannot read {name}: {error.strerror}") from None

    def fetch(self, name: str, place: Path) -> None:
        """With the moment at which it was kept."""
        try:
            shutil.copy2(self._folder / name, place)
        except FileNotFoundError:
            raise
        except OSError as error:
            raise StoreError(f"cannot copy {name}: {error.strerror}") from None

    @contextmanager
    def at_hand(self, *names: str) -> Iterator[Path]:
        """Where they lie."""
        del names
        yield self._folder

    def remove(self, name: str) -> None:
        """From the disk."""
        try:
            (self._folder / name).unlink(missing_ok=True)
        except OSError as error:
            raise StoreError(f"{name} cannot be removed: {error.strerror}") from None

    def remove_below(self, folder: str) -> None:
        """From the disk."""
        path = self._folder / folder
        try:
            if path.exists():
                shutil.rmtree(path)
        except OSError as error:
            raise StoreError(f"cannot remove {path}: {error.strerror}") from None

    def remove_unless_younger(self, name: str, than_s: float) -> None:
        """Asked of the disk just before."""
        path = self._folder / name
        try:
            if path.stat().st_mtime < than_s:
                path.unlink()
        except FileNotFoundError:
            return

    def trouble(self) -> str:
        """By its permissions."""
        is_ours = os.access(self._folder, os.W_OK)
        return "" if is_ours else "the data folder may not be written to"


@contextmanager
def _draft_beside(place: Path, source: Path | bytes) -> Iterator[Path]:
    """What is to be a file, on the disk for good and for its owner alone; gone afterwards."""
    descriptor, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.")
    draft = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as copy:
            if isinstance(source, Path):
                with source.open("rb") as file:
                    shutil.copyfileobj(file, copy)
            else:
                copy.write(source)
            copy.flush()
            os.fsync(copy.fileno())
        yield draft
    finally:
        draft.unlink(missing_ok=True)


def _for_oneself(name: str, flags: int) -> int:
    return os.open(name, flags, 0o600)


def _take_place(draft: Path, place: Path) -> bool:
    """Call a draft by its name unless another has that; whether it has."""
    try:
        os.link(draft, place)
    except FileExistsError:
        return False
    except OSError:  # a disk without links
        if place.exists():
            return False
        draft.replace(place)
    return True
