"""The database in a file of the school's folder: what is SQLite's own stands here.

A log written ahead, waiting instead of failing, foreign keys, and bytes of what was removed
overwritten.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from halfstep.errors import StoreError
from halfstep.school.data_folder import DATABASE_FILE

PATIENCE_MS = 20_000
"""How long one process waits for another that writes."""

_ON_CONNECT = (
    f"PRAGMA busy_timeout = {PATIENCE_MS}",
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
    "PRAGMA secure_delete = ON",
)


class FileDatabase:
    """The database of one folder.

    Parameters
    ----------
    folder : Path
    file : str, optional
        What it is called there.
    """

    def __init__(self, folder: Path, file: str = DATABASE_FILE) -> None:
        self.name = str(folder)
        self.engine = _engine(folder / file)

    def copy_into(self, file: Path) -> None:
        """Write the database as it stands at this moment into a new file, while others go on."""
        with self.engine.connect() as connection:
            dbapi = connection.connection.dbapi_connection
            assert dbapi is not None
            dbapi.execute("VACUUM INTO ?", (str(file),))

    def settle(self) -> None:
        """Leave one file, with nothing beside it, and close it."""
        with self.engine.connect() as connection:
            dbapi = connection.connection.dbapi_connection
            assert dbapi is not None
            dbapi.execute("PRAGMA journal_mode = DELETE")
        self.engine.dispose()

    def forget_removed(self) -> None:
        """Leave no byte of what was removed in the files of the database.

        Raises
        ------
        StoreError
            When another process holds on to it for too long.
        """
        with self.engine.connect() as connection:
            dbapi = connection.connection.dbapi_connection
            assert dbapi is not None
            cursor = dbapi.cursor()
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            is_busy, *_ = cursor.fetchone() or (0,)
            cursor.close()
        if is_busy:
            raise StoreError(
                f"{self.name}: it is removed, but another program holds on to the database; "
                "close that and do it again, so that no byte of it stays"
            )

    def words_of(self, error: DBAPIError) -> str:
        """What went wrong, in one line."""
        fault = str(error.orig)
        return next((words for part, words in _FAULTS.items() if part in fault), fault)

    def is_away(self, error: DBAPIError) -> bool:
        """True where the same may go well in a moment."""
        return _LOCKED in str(error.orig)


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


_LOCKED = "database is locked"
_FAULTS = {
    "database or disk is full": "the disk is full; nothing was changed",
    "disk I/O error": "the disk cannot be read or written; nothing was changed",
    "attempt to write a readonly database": "it may not be written to; nothing was changed",
    "unable to open database file": "its database cannot be opened; may you read and write there?",
    "file is not a database": f"{DATABASE_FILE} is no database of this program; move it away",
    "database disk image is malformed": f"{DATABASE_FILE} is damaged; put a copy in its place",
    _LOCKED: "another program writes to it without end; close that and try again",
}
