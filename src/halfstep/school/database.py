"""How is the database opened, and what holds while something is written?

One transaction is one change: it stands whole or not at all, though the process be killed or the
disk be full in its midst, and two processes that write wait for each other. Whether the rows lie in
a file or on a server is asked here, by what copies rows, and by what gets jobs to workers.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from halfstep.errors import BriefError, MissingExtra, StoreAway, StoreError
from halfstep.school.data_folder import database_address, files_address
from halfstep.school.file_database import FileDatabase
from halfstep.school.kept_files import FolderFiles, KeptFiles
from halfstep.school.schema_version import NEWEST, bring_up_to_date, schema_version

if TYPE_CHECKING:
    from halfstep.school.server_database import ServerDatabase

_TOO_MUCH = "more is asked of it than it can do just now; try again in a moment"
SchoolConnection = Connection
"""A view of what is kept, or a change of it, for who calls from outside."""


class School:
    """What is kept in one folder, with its rows in a file there or on a server.

    Parameters
    ----------
    folder : Path
        Made if need be. Where `files_address` names a store for a school on a server, only that
        lies here which passes.
    address : str, optional
        Of a database on a server; empty for a file in the folder, and then files lie there too; as
        `database_address` says unless given.

    Raises
    ------
    StoreError
        When it cannot be opened, or was made by a newer release.
    BriefError
        When the address is none.
    MissingExtra
        When what speaks to a server is not installed.
    """

    def __init__(self, folder: Path, address: str | None = None) -> None:
        self.folder = folder
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(f"cannot make the folder {folder}: {error.strerror}") from None
        self.address = database_address() if address is None else address
        own = address == ""  # a file, whatever the environment says
        self.files = _files(folder, "" if own else files_address(), self.address)
        self._database = _database(folder, self.address)
        self._engine = self._database.engine
        with self._said():
            self._bring_up_to_date()

    @property
    def name(self) -> str:
        """What the database is called where something is said of it; no password is in it."""
        return self._database.name

    def __enter__(self) -> School:
        return self

    def __exit__(self, *_: object) -> None:
        self._engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A view of what is kept, the same until it ends.

        Raises
        ------
        StoreError
        """
        with self._said(), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A change, whole or not at all; others that write wait until it ends.

        Raises
        ------
        StoreError
        """
        with self._said(), self._engine.connect() as connection:
            writer = connection.execution_options(is_writing=True)
            with writer.begin():
                yield writer

    def snapshot(self, file: Path) -> None:
        """Write the rows as they stand at this moment into a new file, while others go on.

        Raises
        ------
        StoreError
        """
        with self._said():
            self._database.copy_into(file)

    def forget_removed(self) -> None:
        """Leave no byte of what was removed in the files of the database.

        Raises
        ------
        StoreError
            When another process holds on to it for too long.
        """
        with self._said():
            self._database.forget_removed()

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Faults of the database in one line."""
        try:
            yield
        except DBAPIError as error:
            kind = StoreAway if self._database.is_away(error) else StoreError
            raise kind(f"{self.name}: {self._database.words_of(error)}") from None
        except PoolTimeout:
            raise StoreAway(f"{self.name}: {_TOO_MUCH}") from None

    def _bring_up_to_date(self) -> None:
        """Carry out the changes of the schema that are missing."""
        with self.reading() as connection:
            version = schema_version(connection)
        if version == NEWEST:
            return
        with self.writing() as connection:
            bring_up_to_date(connection, self.name)


def _files(folder: Path, address: str, database: str) -> KeptFiles:
    """Where files lie.

    Raises
    ------
    BriefError, MissingExtra
    """
    if not address:
        return FolderFiles(folder)
    if not database:
        raise BriefError(
            "HALFSTEP_FILES: a store of files is for several machines; say with HALFSTEP_DATABASE "
            "which database they share, or leave it out for files in the data folder"
        )
    try:
        from halfstep.school.object_files import ObjectFiles
    except ImportError:
        raise MissingExtra(
            "a store of files needs halfstep[district]: pip install 'halfstep[district]'"
        ) from None
    return ObjectFiles(address, folder)


def _database(folder: Path, address: str) -> FileDatabase | ServerDatabase:
    if not address:
        return FileDatabase(folder)
    from halfstep.school.server_database import ServerDatabase

    return ServerDatabase(address)
