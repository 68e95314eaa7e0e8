"""Which tables does a database have, and how is it brought to today's?"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, String, column, select, table

from halfstep.errors import StoreError
from halfstep.school.job_calls import prepare_calls

NEWEST = "erasures"
"""The change of the schema that leads to today's."""
VERSIONS_TABLE = "alembic_version"


def schema_version(connection: Connection) -> str | None:
    """The change of the schema that was carried out last; None before the first."""
    if not connection.dialect.has_table(connection, VERSIONS_TABLE):
        return None
    versions = table(VERSIONS_TABLE, column("version_num", String))
    return connection.scalar(select(versions.c.version_num))


def bring_up_to_date(connection: Connection, name: str) -> None:
    """Carry out the changes of the schema that are missing.

    Parameters
    ----------
    connection : Connection
        In a change.
    name : str
        What the database is called, to be said.

    Raises
    ------
    StoreError
        When it is of a release to come.
    """
    from alembic import command
    from alembic.config import Config

    _demand_known(schema_version(connection), name)
    config = Config()
    config.set_main_option("script_location", _migrations().replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    prepare_calls(connection)


def _demand_known(version: str | None, name: str) -> None:
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory(_migrations()).walk_revisions()}
    if version is not None and version not in known:
        raise StoreError(
            f"{name} was made by a newer release of the program; install that one, or give "
            "`data` another folder"
        )


def _migrations() -> str:
    from halfstep.school import migrations

    return str(Path(migrations.__file__).parent)
