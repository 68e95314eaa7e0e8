"""The figures of a line on a terminal: the whole, every four bars, every change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from halfstep.app.terminal.columns import padded, screen_columns, text_width, wrapped
from halfstep.data.outline_json import MEANING
from halfstep.harmony.outline import Outline
from halfstep.progression.chart import Chart
from halfstep.services.outline_words import (
    CHANGE_HEAD,
    WINDOW_HEAD,
    change_rows,
    summary,
    window_rows,
)


def table_lines(
    outline: Outline, chart: Chart, notices: Sequence[str] = (), *, columns: int | None = None
) -> Iterator[str]:
    """The figures in lines.

    Parameters
    ----------
    outline : Outline
    chart : Chart
    notices : sequence of str
        What was not certain.
    columns : int, optional
        Width to stay in; the terminal's when not given.
    """
    columns = max(20, columns or screen_columns())
    for text in (chart.title, *summary(outline), MEANING):
        yield from wrapped(text, columns)
    yield ""
    yield from _aligned([WINDOW_HEAD, *window_rows(outline, chart)])
    if outline.changes:
        yield ""
        yield from _aligned([CHANGE_HEAD, *change_rows(outline, chart)])
    for notice in notices:
        yield from wrapped(f"note: {notice}", columns)


def _aligned(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows of a table, each column as wide as its widest cell."""
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (padded(cell, width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()
