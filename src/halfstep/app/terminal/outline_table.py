"""The figures of a line on a terminal: the whole, every four bars, every change."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence

from halfstep.app.terminal.columns import padded, text_width, wrapped
from halfstep.data.outline_json import MEANING
from halfstep.harmony.outline import Arrival, Figures, Outline, OutlinedChange
from halfstep.part.places import place_of
from halfstep.progression.chart import Chart


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
    columns = max(20, columns or shutil.get_terminal_size().columns)
    for text in (chart.title, *_summary(outline), MEANING):
        yield from wrapped(text, columns)
    yield ""
    yield from _aligned([["bars", "notes", "outline", "of step 1"], *_windows(outline, chart)])
    if outline.changes:
        yield ""
        yield from _aligned([["bar", "beat", "change", "heard"], *_changes(outline, chart)])
    for notice in notices:
        yield from wrapped(f"note: {notice}", columns)


def _summary(outline: Outline) -> Iterator[str]:
    whole = outline.whole
    if whole.outline is None:
        yield f"outline: none, {whole.reason}"
    else:
        yield f"outline: {whole.outline:.2f} nats a note; a line that follows no chord has 0"
    if whole.relative is not None:
        yield f"of step 1: {whole.relative:.2f}, where the plain arpeggio of these chords has 1"
    elif whole.outline is not None:
        yield f"of step 1: none, {whole.reason}"
    judged = len(outline.judged)
    if judged:
        spelled = sum(bool(change.spelled) for change in outline.judged)
        yield f"changes: {spelled} of {judged} spelled on both sides"
    else:
        yield "changes: none that can be judged"


def _windows(outline: Outline, chart: Chart) -> Iterator[list[str]]:
    for window in outline.windows:
        yield [_span(window, chart), str(window.notes), *_two(window)]


def _two(window: Figures) -> list[str]:
    if window.outline is None:
        return ["–", f"– ({window.reason})"]
    if window.relative is None:
        return [f"{window.outline:.2f}", f"– ({window.reason})"]
    return [f"{window.outline:.2f}", f"{window.relative:.2f}"]


def _span(window: Figures, chart: Chart) -> str:
    chorus, first = place_of(window.first_bar, chart)
    until, last = place_of(window.last_bar, chart)
    ahead = f"chorus {chorus}: " if until > 1 else ""
    return ahead + (f"{first}–{last}" if first != last or chorus != until else first)


def _changes(outline: Outline, chart: Chart) -> Iterator[list[str]]:
    several = outline.whole.last_bar > len(chart.form)
    for change in outline.changes:
        chorus, bar = place_of(change.bar, chart)
        place = f"chorus {chorus}: {bar}" if several else bar
        yield [place, f"{change.beat:.4g}", f"{change.old} → {change.new}", heard_text(change)]


def heard_text(change: OutlinedChange) -> str:
    """What was heard of a change, in words."""
    if change.arrival is Arrival.UNKNOWN:
        return f"cannot be said ({change.reason})"
    if change.arrival in {Arrival.ON_TIME, Arrival.NOT_HEARD}:
        return f"{'heard ' * (change.arrival is Arrival.ON_TIME)}{change.arrival}"
    return f"heard {_beats(abs(change.moved_beats))} {change.arrival}"


def _beats(count: float) -> str:
    """``half a beat``, ``1 beat``, ``2.5 beats``."""
    if count == 0.5:
        return "half a beat"
    return f"{count:.3g} beat{'s' * (count != 1)}"


def _aligned(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows of a table, each column as wide as its widest cell."""
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (padded(cell, width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()
