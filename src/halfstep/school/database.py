"""How is the database opened, and what holds while something is written?

One transaction is one change: it stands whole or not at all, though the process be killed or the
disk be full in its midst, and two processes that write wait for each other. What is SQLite's own
stands here and nowhere else: a log written ahead, waiting instead of failing, foreign keys, and
bytes of what was removed overwritten.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from halfstep.errors import StoreError
from halfstep.school.data_folder import DATABASE_FILE, TAKES_FOLDER

SchoolConnection = Connection
"""A view of what is kept, or a change of it, for who calls from outside."""
PATIENCE_MS = 20_000
"""How long one process waits for another that writes."""
NEWEST = "terms"
"""The change of the schema that leads to today's."""

_ON_CONNECT = (
    f"PRAGMA busy_timeout = {PATIENCE_MS}",
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
    "PRAGMA secure_delete = ON",
)


class School:
    """What is kept in one folder.

    Parameters
    ----------
    folder : Path
        Made if need be.

    Raises
    ------
    StoreError
        When it cannot be opened, or was made by a newer release.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(f"cannot make the folder {folder}: {error.strerror}") from None
        self._engine = _engine(folder / DATABASE_FILE)
        with self._said():
            self._bring_up_to_date()

    @property
    def takes_folder(self) -> Path:
        """Where recordings lie."""
        return self.folder / TAKES_FOLDER

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
        """Write the database as it stands at this moment into a new file, while others go on.

        Raises
        ------
        StoreError
        """
        with self._said(), self._engine.connect() as connection:
            dbapi = connection.connection.dbapi_connection
            assert dbapi is not None
            dbapi.execute("VACUUM INTO ?", (str(file),))

    def forget_removed(self) -> None:
        """Leave no byte of what was removed in the files of the database.

        Raises
        ------
        StoreError
            When another process holds on to it for too long.
        """
        with self._said(), self._engine.connect() as connection:
            dbapi = connection.connection.dbapi_connection
            assert dbapi is not None
            cursor = dbapi.cursor()
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            is_busy, *_ = cursor.fetchone() or (0,)
            cursor.close()
        if is_busy:
            raise StoreError(
                f"{self.folder}: it is removed, but another program holds on to the database; "
                "close that and do it again, so that no byte of it stays"
            )

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Faults of the database in one line."""
        try:
            yield
        except DBAPIError as error:
            raise StoreError(f"{self.folder}: {_fault_words(str(error.orig))}") from None

    def _bring_up_to_date(self) -> None:
        """Carry out the changes of the schema that are missing."""
        with self.reading() as connection:
            version = _version(connection)
        if version == NEWEST:
            return
        with self.writing() as connection:
            _demand_known(_version(connection), self.folder)
            _carry_out(connection)


def _engine(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path}")

    @event.listens_for(engine, "connect")
    def prepare(dbapi_connection: Any, _: object) -> None:
        dbapi_connection.isolation_level = None  # transactions are begun by `begin` below
        for statement in _ON_CONNECT:
            dbapi_connection.execute(statement)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        is_writing = connection.get_execution_options().get("is_writing")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if is_writing else "BEGIN")

    return engine


def _version(connection: Connection) -> str | None:
    """The change of the schema that was carried out last; None before the first."""
    if not connection.dialect.has_table(connection, "alembic_version"):
        return None
    version: str | None = connection.exec_driver_sql(
        "SELECT version_num FROM alembic_version"
    ).scalar()
    return version


def _demand_known(version: str | None, folder: Path) -> None:
    """Refuse a schema of a release to come.

    Raises
    ------
    StoreError
    """
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory(_migrations()).walk_revisions()}
    if version is not None and version not in known:
        raise StoreError(
            f"{folder} was made by a newer release of the program; install that one, or give "
            "`data` another folder"
        )


def _migrations() -> str:
    from halfstep.school import migrations

    return str(Path(migrations.__file__).parent)


def _carry_out(connection: Connection) -> None:
    """Bring the tables to today's."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", _migrations().replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


_FAULTS = {
    "database or disk is full": "the disk is full; nothing was changed",
    "disk I/O error": "the disk cannot be read or written; nothing was changed",
    "attempt to write a readonly database": "it may not be written to; nothing was changed",
    "unable to open database file": "its database cannot be opened; may you read and write there?",
    "file is not a database": f"{DATABASE_FILE} is no database of this program; move it away",
    "database disk image is malformed": f"{DATABASE_FILE} is damaged; put a copy in its place",
    "database is locked": "another program writes to it without end; close that and try again",
}


def _fault_words(fault: str) -> str:
    return next((words for part, words in _FAULTS.items() if part in fault), fault)
