"""The database on a server, for several machines: what is PostgreSQL's own stands here.

One change is made at a time, as in a file: each waits for the one lock of the school, and what is
looked up before something is written still holds when it is.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, func, make_url, select
from sqlalchemy.exc import ArgumentError, DBAPIError

from halfstep.errors import BriefError, MissingExtra
from halfstep.school.copied_tables import copy_rows
from halfstep.school.file_database import PATIENCE_MS, FileDatabase
from halfstep.school.schema_version import bring_up_to_date
from halfstep.school.tables import metadata

WRITTEN_ANEW_BYTES = 200_000_000
"""A larger table would keep those who work waiting for longer than a moment."""
WAITS_FOR_SERVER_S = 5
"""So long a connection may take to be made."""
_CHANGES = 4821_5509
"""The number of the lock of who changes something; any would do that nobody else takes."""
_SCHEMES = frozenset({"postgresql", "postgres"})


class ServerDatabase:
    """The database at an address.

    Parameters
    ----------
    address : str
        ``postgresql://NAME@HOST/DATABASE``, as libpq has it; the password is best left to its
        own settings, such as PGPASSFILE.

    Raises
    ------
    BriefError
        When the address is none.
    MissingExtra
    """

    def __init__(self, address: str) -> None:
        url = _url(address)
        self.name = url.render_as_string(hide_password=True).replace("+psycopg", "", 1)
        self.engine = _engine(url)

    def copy_into(self, file: Path) -> None:
        """Write all rows as they stand at this moment into a new file of SQLite's."""
        copy = FileDatabase(file.parent, file.name)
        with self.engine.connect() as source, copy.engine.connect() as connection:
            writer = connection.execution_options(is_writing=True)
            with writer.begin():
                bring_up_to_date(writer, str(file))
                copy_rows(source, writer)
        copy.settle()

    def forget_removed(self) -> None:
        """Leave nothing of what was removed in the tables' files.

        A table that is too large to be written anew while people work is only cleared up: what
        stood there is overwritten in time. What the server keeps beside its tables, its log and
        copies, goes as it is set up to.
        """
        with self.engine.connect() as connection:
            apart = connection.execution_options(isolation_level="AUTOCOMMIT")
            for table in metadata.sorted_tables:
                size = apart.scalars(select(func.pg_total_relation_size(table.name))).one()
                manner = "FULL" if size <= WRITTEN_ANEW_BYTES else "TRUNCATE"
                apart.exec_driver_sql(f"VACUUM ({manner}) {table.name}")
            # who may not ask for it waits for the server's own
            may = func.pg_has_role("pg_checkpoint", "USAGE")
            if apart.scalar(select(may)):
                apart.exec_driver_sql("CHECKPOINT")

    def words_of(self, error: DBAPIError) -> str:
        """What went wrong, in one line."""
        fault = str(error.orig)
        words = next((words for part, words in _FAULTS.items() if part in fault), "")
        return words or fault.strip().splitlines()[0]

    def is_away(self, error: DBAPIError) -> bool:
        """True where the same may go well in a moment."""
        fault = str(error.orig)
        return error.connection_invalidated or any(part in fault for part in _AWAY)


def _url(address: str) -> URL:
    try:
        url = make_url(address)
    except ArgumentError:
        raise BriefError(_NO_ADDRESS) from None
    if url.drivername not in _SCHEMES:
        raise BriefError(_NO_ADDRESS)
    return url.set(drivername="postgresql+psycopg")


def _engine(url: URL) -> Engine:
    try:
        engine = create_engine(
            url,
            pool_pre_ping=True,
            isolation_level="REPEATABLE READ",
            connect_args={"connect_timeout": WAITS_FOR_SERVER_S, "application_name": "halfstep"},
        )
    except ImportError:
        raise MissingExtra(
            "a database on a server needs halfstep[district]: pip install 'halfstep[district]'"
        ) from None

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get("is_writing"):
            # what others changed while this one waited is seen
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL READ COMMITTED")
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{PATIENCE_MS}ms'")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_CHANGES})")

    @event.listens_for(engine, "before_cursor_execute", retval=True)
    def leave_out(_c: Any, _cur: Any, text: str, values: Any, *_: Any) -> tuple[str, Any]:
        return text, _shown(values)

    return engine


def _shown(values: Any) -> Any:
    """Values without the letter 0, which a file keeps and a server does not."""
    if isinstance(values, str):
        return values.replace("\0", "\ufffd")
    if isinstance(values, dict):
        return {name: _shown(value) for name, value in values.items()}
    return [_shown(value) for value in values] if isinstance(values, list | tuple) else values


_NO_ADDRESS = (
    "HALFSTEP_DATABASE: give an address such as postgresql://NAME@HOST/DATABASE, or leave it out "
    "for a file in the data folder"
)
_SHUT = "the database is shutting down or starting; nothing was changed, try again in a moment"
_NOBODY = "no database answers there; is it started?"
_AWAY = {
    "lock timeout": "another program writes to it without end; close that and try again",
    "Connection refused": _NOBODY,
    "connection timeout expired": _NOBODY,
    "terminating connection": _SHUT,
    "server closed the connection": _SHUT,
    "the database system is": _SHUT,
}
_FAULTS = _AWAY | {
    "could not extend file": "the disk of the database is full; nothing was changed",
    "No space left on device": "the disk of the database is full; nothing was changed",
    "password authentication failed": "the database refuses the name or the password",
    "no password supplied": "the database asks for a password; give it in PGPASSFILE",
    "read-only transaction": "it may not be written to; nothing was changed",
}
