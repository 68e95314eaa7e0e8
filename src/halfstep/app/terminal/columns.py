"""How wide is a text on a terminal, and how is it broken into lines?

Source of the widths: Unicode's East Asian Width and combining classes, as the standard
library has them.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import lru_cache
from unicodedata import combining, east_asian_width

from halfstep.app.terminal.plain_signs import printed

_COLUMNS = 80
"""Where nothing says how wide it is: a file, a pipe."""


def screen_columns() -> int:
    """The width of the terminal: what ``COLUMNS`` says, or the terminal itself.

    As `shutil.get_terminal_size` has it, which takes as long to load as a chart to read.
    """
    try:
        columns = int(os.environ["COLUMNS"])
    except (KeyError, ValueError):
        columns = 0
    return columns if columns > 0 else _columns_of_output()


def _columns_of_output() -> int:
    try:
        output = sys.__stdout__
        return (output and os.get_terminal_size(output.fileno()).columns) or _COLUMNS
    except (OSError, ValueError):  # no terminal, or closed
        return _COLUMNS


def text_width(text: str) -> int:
    """Columns on the terminal, where a sign that it lacks is printed in others."""
    text = printed(text)
    if text.isascii():
        return len(text)
    return sum(map(_sign_width, text))


@lru_cache(maxsize=1024)
def _sign_width(sign: str) -> int:
    """Columns of one character: none for one that is written over the last, two for a wide one."""
    return 1 + (east_asian_width(sign) in "WF") - bool(combining(sign))


def padded(text: str, width: int) -> str:
    """The text with blanks after it, up to ``width`` columns."""
    return text + " " * (width - text_width(text))


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most ``width`` columns, broken at blanks where it can be.

    >>> wrapped("only the C♯ becomes C", 12)
    ['only the C♯', 'becomes C']
    """
    lines = [""]
    for word in text.split():
        for piece in _pieces(word, max(1, width)):
            longer = f"{lines[-1]} {piece}".lstrip()
            if text_width(longer) <= width:
                lines[-1] = longer
            elif lines[-1]:
                lines.append(piece)
            else:
                lines[-1] = piece
    return lines


def _pieces(word: str, width: int) -> Iterator[str]:
    """The word, cut where it is longer than a line."""
    if text_width(word) <= width:
        yield word
        return
    piece = ""
    for character in word:
        if piece and text_width(piece + character) > width:
            yield piece
            piece = ""
        piece += character
    yield piece


def row_lines(cells: list[str], widths: list[int], *, gap: str = "  ") -> Iterator[str]:
    """A row of a table, each cell wrapped in its own column."""
    columns = [wrapped(cell, width) for cell, width in zip(cells, widths, strict=True)]
    for line in range(max(map(len, columns))):
        pieces = [
            padded(column[line] if line < len(column) else "", width)
            for column, width in zip(columns, widths, strict=True)
        ]
        yield gap.join(pieces).rstrip()
