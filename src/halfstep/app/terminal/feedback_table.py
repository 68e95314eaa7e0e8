"""What is said of a take on a terminal: its facts, and a row for each finding."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from halfstep.app.terminal.columns import padded, screen_columns, text_width, wrapped
from halfstep.lesson.take_page import take_facts
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.feedback_words import digest_lines, finding_rows


def table_lines(
    reply: FeedbackReply, *, in_words: Callable[[str], str] = str, columns: int | None = None
) -> Iterator[str]:
    """What is said of a take, in lines.

    Parameters
    ----------
    reply : FeedbackReply
    in_words : callable
        Calls the fields in a message by what is typed for them.
    columns : int, optional
        Width to stay in; the terminal's when not given.
    """
    columns = max(20, columns or screen_columns())
    for text in (reply.written.title, " · ".join(take_facts(reply.written))):
        yield from wrapped(text, columns)
    for text in digest_lines(reply.feedback):
        yield ""
        yield from wrapped(text, columns)
    rows = [list(map(in_words, row)) for row in finding_rows(reply.feedback)]
    if rows:
        yield ""
        yield from _aligned(rows)
    for notice in reply.notices:
        yield from wrapped(f"note: {in_words(notice)}", columns)


def _aligned(rows: list[list[str]]) -> Iterator[str]:
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        yield "  ".join(map(padded, row, widths)).rstrip()
