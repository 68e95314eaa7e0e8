"""How do all rows go from one database to another, of whichever kind?"""

from __future__ import annotations

from sqlalchemy import Connection, Table, func, insert, select

from halfstep.school.tables import metadata

ROWS_AT_ONCE = 500


def copy_rows(source: Connection, target: Connection) -> None:
    """Write all rows of one database into the empty tables of another; both are of today."""
    for table in metadata.sorted_tables:
        rows = source.execution_options(yield_per=ROWS_AT_ONCE).execute(select(table)).mappings()
        for some in rows.partitions(ROWS_AT_ONCE):
            target.execute(insert(table), [dict(row) for row in some])
        _number_on(target, table)


def is_empty(connection: Connection) -> bool:
    """True where nothing is kept."""
    return not any(
        connection.execute(select(table).limit(1)).first() for table in metadata.sorted_tables
    )


def _number_on(target: Connection, table: Table) -> None:
    """Have a server go on after the highest number; a file does so by itself."""
    if target.dialect.name != "postgresql" or "id" not in table.c:
        return
    highest = target.scalar(select(func.max(table.c.id)))
    if highest is not None:
        target.exec_driver_sql(
            f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), {highest:d})"
        )
