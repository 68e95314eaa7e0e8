"""The files of a school in a store of objects that speaks S3: for machines that share no folder.

An object is called as its file would be below the data folder. A recording that grows is several, a
piece each, called by the byte that it begins with: a piece is put where the last one ends, and the
store refuses a second one there, so that two machines that are sent the same keep it once.

What is made is made in the data folder of the machine that makes it, and goes from there when it is
kept. What is read as a file is fetched for as long as it is read; nothing of it stays.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import obstore
from obstore.exceptions import (
    AlreadyExistsError,
    BaseError,
    PermissionDeniedError,
    UnauthenticatedError,
    UnknownConfigurationKeyError,
)
from obstore.store import S3Store

from halfstep.errors import BriefError, StoreAway, StoreError
from halfstep.files import passing_folder
from halfstep.school.data_folder import (
    LINES_FOLDER,
    MADE_FOLDER,
    RECORDINGS_FOLDER,
    TAKES_FOLDER,
)
from halfstep.school.growing_files import fresh_part
from halfstep.school.kept_files import BLOCK_BYTES, FolderFiles, KeptFile, KeptFiles

if TYPE_CHECKING:
    from obstore import GetOptions, ObjectMeta

MOST_AT_HAND_BYTES = 1_000_000_000
"""More is not fetched at once."""
WAITS_S = 20
"""So long it is tried again while the store does not answer."""
LONGEST_S = 60
"""That one answer may take."""
ASKS_S = 4
"""So long it is waited for an answer where it is only asked whether there is one."""
_AT_ONCE = 6
_LISTED_AT_ONCE = 1000
_FETCHED_FOLDER = "fetched"
"""In the data folder of this machine."""
_FETCHED_FROM = frozenset({LINES_FOLDER, MADE_FOLDER, RECORDINGS_FOLDER, TAKES_FOLDER})
_GROWING = ".pcm"
"""How the name of a recording ends that grows."""
_DIGITS = 12
"""Of the byte that a piece begins with, so that pieces stand in their order."""


class _SoundPiece(NamedTuple):
    """A part of a recording that grows."""

    first: int
    size: int
    path: str
    changed_s: float


class ObjectFiles(KeptFiles):
    """Files in a store of objects.

    Parameters
    ----------
    address : str
        ``s3://BUCKET/FOLDER``; where the store answers and who asks is said by the variables of the
        environment that are usual for S3 (``AWS_ENDPOINT_URL``, ``AWS_REGION``,
        ``AWS_ACCESS_KEY_ID``, ``AWS_SECRET_ACCESS_KEY``).
    folder : Path
        The data folder of this machine.

    Raises
    ------
    BriefError
        When the address is none.
    """

    def __init__(self, address: str, folder: Path) -> None:
        self.name = address
        self._store = _store(address, longest_s=LONGEST_S, waits_s=WAITS_S)
        self._asked = _store(address, longest_s=ASKS_S, waits_s=0)
        self._folder = folder
        self._here = FolderFiles(folder)

    # To keep something

    def put(self, name: str, source: Path | bytes) -> None:
        """In one request: what is cut off leaves nothing."""
        data = source if isinstance(source, bytes) else _bytes_of(source)
        path = _piece_path(name, 0) if _is_growing(name) else name
        with self._said(), self._in_bucket():
            obstore.put(self._store, path, data, use_multipart=False)

    def put_new(self, name: str, data: bytes) -> bool:
        """Of two that keep one at once, one stands."""
        try:
            with self._said(), self._in_bucket():
                obstore.put(self._store, name, data, mode="create")
        except FileExistsError:
            return False
        return True

    def take_in(self, folder: str) -> None:
        """Put its files, and remove them here."""
        paths = [path for path in (self._folder / folder).iterdir() if path.is_file()]
        with ThreadPoolExecutor(_AT_ONCE) as pool:
            list(pool.map(lambda path: self.put(f"{folder}/{path.name}", path), paths))
        self._here.remove_below(folder.rpartition("/")[0])

    def add_piece(self, name: str, piece: bytes, *, first: int, most: int) -> int:
        """Put it where the last piece ends; done again where another machine was quicker."""
        try:
            while True:
                length = self.size(name) or 0
                fresh = fresh_part(piece, first=first, length=length, most=most)
                if not fresh or self.put_new(_piece_path(name, length), fresh):
                    return length + len(fresh)
        except StoreError as error:
            raise type(error)(f"{error.marked_text}; it stays in your browser") from None

    def alone_with(self, name: str) -> AbstractContextManager[None]:
        """Nobody need wait: the store takes a piece once, and rows say what a recording became."""
        del name
        return nullcontext()

    # To find something

    def size(self, name: str) -> int | None:
        """As the store says."""
        if _is_growing(name):
            pieces = self._pieces(name)
            return sum(piece.size for piece in pieces) if pieces else None
        try:
            with self._said():
                return obstore.head(self._store, name)["size"]
        except FileNotFoundError:
            return None

    def path_here(self, name: str) -> Path | None:
        """It has to be fetched."""
        del name
        return None

    def files_below(self, folder: str) -> Iterator[KeptFile]:
        """A recording that grows is one file."""
        growing: dict[str, list[KeptFile]] = {}
        for meta in self._listed(folder):
            file = _file_of(meta)
            name = file.name.rpartition("/")[0]
            if _is_growing(name):
                growing.setdefault(name, []).append(file)
            else:
                yield file
        for name, pieces in growing.items():
            changed_s = max(piece.changed_s for piece in pieces)
            yield KeptFile(name, sum(piece.size for piece in pieces), changed_s)

    def folders_beginning(self, start: str) -> set[str]:
        """Those in the store, and what is half made on this machine."""
        parent = start.rpartition("/")[0]
        found = self._here.folders_beginning(start)
        for meta in self._listed(parent, offset=start):
            if not meta["path"].startswith(start):
                break  # a store lists in the order of names
            found.add(f"{parent}/{meta['path'].removeprefix(f'{parent}/').partition('/')[0]}")
        return found

    def every_file(self) -> Iterator[KeptFile]:
        """All that is there."""
        return self.files_below("")

    # To read something

    def blocks(self, name: str, first: int = 0, end: int | None = None) -> Iterator[bytes]:
        """As the store gives them."""
        if not _is_growing(name):
            yield from self._blocks(name, first, end)
            return
        pieces = self._pieces(name)
        if not pieces:
            raise FileNotFoundError(name)
        for piece in pieces:
            low = max(first - piece.first, 0)
            high = piece.size if end is None else min(end - piece.first, piece.size)
            if low < high:
                yield from self._blocks(piece.path, low, high)

    def _blocks(self, path: str, first: int, end: int | None) -> Iterator[bytes]:
        options: GetOptions = {}
        if end is not None:
            options["range"] = (first, end)
        elif first:
            options["range"] = {"offset": first}
        if first == end:
            return
        with self._said():
            found = obstore.get(self._store, path, options=options)
            for block in found.stream(min_chunk_size=BLOCK_BYTES):
                yield bytes(block)

    @contextmanager
    def at_hand(self, *names: str) -> Iterator[Path]:
        """Fetched, and removed again; what a killed process left of it goes with the next one."""
        wanted = [file for name in names for file in self._meant(name)]
        if sum(file.size for file in wanted) > MOST_AT_HAND_BYTES:
            raise StoreError(f"{self.name}: more than a gigabyte is asked for at once")
        place = self._folder / _FETCHED_FOLDER
        place.mkdir(mode=0o700, parents=True, exist_ok=True)
        with passing_folder(place) as here:
            with ThreadPoolExecutor(_AT_ONCE) as pool:
                list(pool.map(lambda file: self._lay(file.name, here), wanted))
            yield here

    def _lay(self, name: str, here: Path) -> None:
        """Fetch a file to its place; one that went meanwhile is not there."""
        place = here / name
        place.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):
            self.fetch(name, place)

    def _meant(self, name: str) -> list[KeptFile]:
        """A file, or those of a folder; none of a place where nothing is kept."""
        if name.partition("/")[0] not in _FETCHED_FROM:
            return []
        size = self.size(name)
        return [*self.files_below(name)] if size is None else [KeptFile(name, size, 0.0)]

    # To remove something

    def remove(self, name: str) -> None:
        """From the store."""
        self._remove([one.path for one in self._pieces(name)] if _is_growing(name) else [name])

    def remove_below(self, folder: str) -> None:
        """From the store, and what is half made of it here."""
        self._remove([meta["path"] for meta in self._listed(folder)])
        self._here.remove_below(folder)

    def _remove(self, paths: list[str]) -> None:
        if paths:
            with self._said():
                obstore.delete(self._store, paths)

    def remove_unless_younger(self, name: str, than_s: float) -> None:
        """Asked of the store just before."""
        if _is_growing(name):
            changed = [piece.changed_s for piece in self._pieces(name)]
        else:
            try:
                with self._said():
                    changed = [_file_of(obstore.head(self._store, name)).changed_s]
            except FileNotFoundError:
                return
        if changed and max(changed) < than_s:
            self.remove(name)

    def trouble(self) -> str:
        """By asking the store, and the disk of this machine."""
        try:
            with self._said(), self._in_bucket():
                next(obstore.list(self._asked, _FETCHED_FOLDER, chunk_size=1), None)
        except StoreError as error:
            return error.marked_text
        return self._here.trouble()

    # The store

    def _pieces(self, name: str) -> list[_SoundPiece]:
        """What stands of a recording, up to the first piece that lacks."""
        found = sorted(map(_piece, self._listed(name)))
        pieces: list[_SoundPiece] = []
        for piece in found:
            if piece.first != (pieces[-1].first + pieces[-1].size if pieces else 0):
                break
            pieces.append(piece)
        return pieces

    def _listed(self, folder: str, offset: str | None = None) -> Iterator[ObjectMeta]:
        with self._said(), self._in_bucket():
            chunks = obstore.list(
                self._store, folder or None, offset=offset, chunk_size=_LISTED_AT_ONCE
            )
            for chunk in chunks:
                yield from chunk

    @contextmanager
    def _in_bucket(self) -> Iterator[None]:
        """What is not found where nothing need be is the bucket."""
        try:
            yield
        except FileNotFoundError:
            raise StoreError(f"{self.name}: {_NO_BUCKET}") from None

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Faults of the store in one line; what it answers may hold more than is good to show."""
        try:
            yield
        except AlreadyExistsError:
            raise FileExistsError from None
        except FileNotFoundError:
            raise
        except (PermissionDeniedError, UnauthenticatedError):
            raise StoreError(f"{self.name}: {_REFUSED}") from None
        except BaseError as error:
            if "NoSuchBucket" in str(error):  # of a list, for which it has no kind of its own
                raise StoreError(f"{self.name}: {_NO_BUCKET}") from None
            raise StoreAway(f"{self.name}: {_SILENT}") from None


_NO_BUCKET = "there is no such bucket; make it first, or see HALFSTEP_FILES and AWS_ENDPOINT_URL"
_REFUSED = "it refuses the key; see AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY and what they may do"
_SILENT = "the store of files does not answer; nothing was changed, try again in a moment"


def _store(address: str, *, longest_s: int, waits_s: int) -> S3Store:
    bucket, _, prefix = address.removeprefix("s3://").strip("/").partition("/")
    if not address.startswith("s3://") or not bucket or "@" in bucket:
        raise BriefError(
            "HALFSTEP_FILES: give an address such as s3://BUCKET/FOLDER, or leave it out for files "
            "in the data folder"
        )
    try:
        return S3Store(
            bucket,
            prefix=prefix or None,
            client_options={"timeout": timedelta(seconds=longest_s), "allow_http": _may_be_plain()},
            retry_config={
                "retry_timeout": timedelta(seconds=waits_s),
                "backoff": {"max_backoff": timedelta(seconds=2)},
                "max_retries": waits_s,
            },
        )
    except (BaseError, UnknownConfigurationKeyError, ValueError):
        raise BriefError("HALFSTEP_FILES: the variables AWS_… do not go together") from None


def _may_be_plain() -> bool:
    """Whether the store is spoken to by HTTP, where its address says so."""
    return os.environ.get("AWS_ALLOW_HTTP", "").lower() in {"true", "1", "yes", "on"}


def _is_growing(name: str) -> bool:
    return name.startswith(f"{RECORDINGS_FOLDER}/") and name.endswith(_GROWING)


def _piece_path(name: str, first: int) -> str:
    return f"{name}/{first:0{_DIGITS}d}"


def _piece(meta: ObjectMeta) -> _SoundPiece:
    file = _file_of(meta)
    return _SoundPiece(int(file.name.rpartition("/")[2]), file.size, file.name, file.changed_s)


def _file_of(meta: ObjectMeta) -> KeptFile:
    return KeptFile(meta["path"], meta["size"], meta["last_modified"].timestamp())


def _bytes_of(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise StoreError(f"cannot keep {path.name}: {error.strerror}") from None
