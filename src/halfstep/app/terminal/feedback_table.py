"""What is said of a take on a terminal: its facts, and a row for each finding."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from halfstep.app.terminal.columns import padded, screen_columns, text_width, wrapped
from halfstep.lesson.take_page import take_facts
from halfstep.services.feedback_words import finding_rows
from halfstep.services.give_feedback import FeedbackReply


def table_lines(
    reply: FeedbackReply, *, notices: Iterable[str] = (), columns: int | None = None
) -> Iterator[str]:
    """What is said of a take, in lines.

    Parameters
    ----------
    reply : FeedbackReply
    notices : iterable of str
    columns : int, optional
        Width to stay in; the terminal's when not given.
    """
    columns = max(20, columns or screen_columns())
    for text in (reply.written.title, " · ".join(take_facts(reply.written))):
        yield from wrapped(text, columns)
    rows = list(finding_rows(reply.feedback))
    if rows:
        yield ""
        yield from _aligned(rows)
    for notice in notices:
        yield from wrapped(f"note: {notice}", columns)


def _aligned(rows: list[list[str]]) -> Iterator[str]:
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        yield "  ".join(map(padded, row, widths)).rstrip()
