"""Which lines has the teacher had written? Etudes as they were written, with what was done since.

What was done is a list of edits, and what was undone another: both as data, which this part keeps
and does not read.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.tables import lines


@dataclass(frozen=True, slots=True)
class KeptLine:
    """A line that is kept.

    Attributes
    ----------
    number, chart : int
        Its own, and that of the chart that it was written over.
    request : str
        What was asked for, as data.
    etude : str
        The etude as it was written, as data.
    edits, undone : str
        What was done to it, and what was undone again, the last first, as data; empty for nothing.
    locked : str
        Bars that stand while the rest is written anew: ``3,5-6``; empty for none.
    changed_at : datetime or None
    """

    number: int
    chart: int
    request: str
    etude: str
    edits: str = ""
    undone: str = ""
    locked: str = ""
    changed_at: datetime | None = None


def add_line(connection: Connection, chart: int, *, request: str, etude: str) -> int:
    """The number of a new line."""
    now = datetime.now(UTC)
    row = {
        "chart_id": chart, "request": request, "etude": etude, "made_at": now, "changed_at": now
    }  # fmt: skip
    number: int = connection.execute(insert(lines).returning(lines.c.id), row).scalar_one()
    return number


def find_line(connection: Connection, number: int) -> KeptLine:
    """The line of a number.

    Raises
    ------
    NoSuchThing
    """
    row = connection.execute(select(lines).where(lines.c.id == number)).first()
    if row is None:
        raise NoSuchThing("there is no such line; it may have been removed")
    return _line_of(row)


def lines_of_chart(connection: Connection, chart: int) -> tuple[KeptLine, ...]:
    """The lines over a chart, the one that was changed last first."""
    query = select(lines).where(lines.c.chart_id == chart)
    rows = connection.execute(query.order_by(lines.c.changed_at.desc(), lines.c.id.desc()))
    return tuple(map(_line_of, rows))


def _line_of(row: Row[Any]) -> KeptLine:
    return KeptLine(
        row.id,
        row.chart_id,
        row.request,
        row.etude,
        row.edits,
        row.undone,
        row.locked,
        row.changed_at,
    )


def change_line(
    connection: Connection, line: KeptLine, *, edits: str, undone: str, locked: str
) -> KeptLine | None:
    """The line with what was done to it now; None where it was changed in the meantime."""
    changed: dict[str, Any] = {"edits": edits, "undone": undone, "locked": locked}
    stands = (lines.c.edits == line.edits) & (lines.c.locked == line.locked)
    query = update(lines).where((lines.c.id == line.number) & stands)
    done = connection.execute(query.values(**changed, changed_at=datetime.now(UTC)))
    return replace(line, **changed) if done.rowcount else None


def remove_line(connection: Connection, number: int) -> None:
    """Remove a line; what was handed out of it stays.

    Raises
    ------
    NoSuchThing
    """
    find_line(connection, number)
    connection.execute(delete(lines).where(lines.c.id == number))
