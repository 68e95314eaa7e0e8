"""Which progressions does the teacher have? Charts as they were typed, or came as a file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.demo_things import own_now
from halfstep.school.tables import charts, lines

LONGEST_TITLE = 200
_GLANCE = 300
"""Letters of a chart that a list shows."""


@dataclass(frozen=True, slots=True)
class KeptChart:
    """A chart that is kept.

    Attributes
    ----------
    number : int
    title : str
    text : str
        As typed; of a chart that came as a file, what a text can hold of it.
    sheet : str
        A chart that came as a file, as data, and then the truth; empty for a typed one.
    scales : str
        The scales that the teacher set over its chords, as `halfstep.progression.set_scales`
        writes them.
    changed_at : datetime
    """

    number: int
    title: str
    text: str
    sheet: str
    scales: str
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class ChartEntry:
    """A chart in a list.

    Attributes
    ----------
    number : int
    title : str
    beginning : str
        Of its text.
    changed_at : datetime
    """

    number: int
    title: str
    beginning: str
    changed_at: datetime


def add_chart(
    connection: Connection, *, title: str, text: str, sheet: str = "", account: int | None = None
) -> int:
    """The number of a new chart; the account is that of whose it is, where several teach."""
    now = datetime.now(UTC)
    row = {
        "title": title[:LONGEST_TITLE],
        "text": text,
        "sheet": sheet,
        "account": account,
        "scales": "",
        "made_at": now,
        "changed_at": now,
    }
    number: int = connection.execute(insert(charts).returning(charts.c.id), row).scalar_one()
    return number


def change_chart(
    connection: Connection, number: int, *, title: str, text: str, scales: str
) -> None:
    """Keep a chart as it is now.

    Raises
    ------
    NoSuchThing
    """
    changed: dict[str, Any] = {
        "title": title[:LONGEST_TITLE],
        "text": text,
        "scales": scales,
        "changed_at": datetime.now(UTC),
    }
    done = connection.execute(update(charts).where(charts.c.id == number).values(**changed))
    if not done.rowcount:
        raise _no_such_chart()


def find_chart(connection: Connection, number: int) -> KeptChart:
    """The chart of a number.

    Raises
    ------
    NoSuchThing
    """
    row = connection.execute(select(charts).where(charts.c.id == number)).first()
    if row is None:
        raise _no_such_chart()
    return _kept(row)


def _kept(row: Row[Any]) -> KeptChart:
    return KeptChart(row.id, row.title, row.text, row.sheet, row.scales, row.changed_at)


def _no_such_chart() -> NoSuchThing:
    return NoSuchThing("there is no such chart; it may have been removed")


def every_chart(connection: Connection) -> tuple[ChartEntry, ...]:
    """All of them, the one that was changed last first."""
    beginning = func.substr(charts.c.text, 1, _GLANCE).label("beginning")
    query = select(charts.c.id, charts.c.title, beginning, charts.c.changed_at).order_by(
        charts.c.changed_at.desc(), charts.c.id.desc()
    )
    return tuple(
        ChartEntry(row.id, row.title, row.beginning, row.changed_at)
        for row in connection.execute(query)
    )


def lines_over(connection: Connection, number: int) -> int:
    """How many lines are kept that were written over a chart."""
    query = select(func.count()).select_from(lines).where(lines.c.chart_id == number)
    count: int = connection.execute(query).scalar_one()
    return count


def remove_chart(connection: Connection, number: int) -> None:
    """Remove a chart with the lines that were written over it.

    Raises
    ------
    NoSuchThing
    """
    done = connection.execute(delete(charts).where(charts.c.id == number))
    if not done.rowcount:
        raise _no_such_chart()
    own_now(connection, "chart", number)
