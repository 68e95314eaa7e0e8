"""Where is a typed chart at fault? Every place, not only the first: what is wrong is set aside.

The reader stops at its first error. Here the word at fault is put aside and the text is read
again, so that a page can mark all of them at once. A fault that has no place, or comes again
where it was, is the last.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from halfstep.errors import ReadError
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.notations.text_signs import signs_of_line

MOST_FAULTS = 8
_LONG_TEXT = 20_000
"""Letters; of a longer text the first fault is enough, as each takes as long as the whole."""


def chart_faults(text: str) -> tuple[ReadError, ...]:
    r"""What is wrong in a typed chart, in order; nothing where it can be read.

    Examples
    --------
    >>> [(fault.line, fault.column) for fault in chart_faults("| Dm7 | Xx |\n| {?} C | G7 |")]
    [(1, 9), (2, 3)]
    """
    return tuple(sorted(_faults(text), key=lambda fault: (fault.line or 0, fault.column or 0)))


def _faults(text: str) -> Iterator[ReadError]:
    seen: set[tuple[int, int]] = set()
    while len(seen) < MOST_FAULTS:
        try:
            played(read_sheet_text(text))
            return
        except ReadError as error:
            place = (error.line or 0, error.column or 0)
            if place in seen or (seen and not error.line):
                return
            seen.add(place)
            yield error
            if not error.line or len(text) > _LONG_TEXT:
                return
        text = _set_aside(text, *place)


def _set_aside(text: str, line: int, column: int) -> str:
    """The text with blanks for the sign at a place, and a chord where one stood."""
    lines = text.splitlines(keepends=True)
    if line <= len(lines):
        row = lines[line - 1]
        is_header = re.match(r"\s*[A-Za-z]{3,}\s*:(?!\s*\|)", row)
        bare = row.rstrip("\r\n")
        start, end = (0, len(bare)) if is_header else fault_span(bare, column)
        is_chord = not row[start:end].startswith(("{", "[")) and "|" not in row[start:end]
        word = "C" if is_chord and not is_header else ""
        lines[line - 1] = row[:start] + word.ljust(end - start) + row[end:]
    return "".join(lines)


def fault_span(line: str, column: int) -> tuple[int, int]:
    """From where to where a sign stands that is at fault; places count from 0.

    Parameters
    ----------
    line : str
    column : int
        Where the fault was seen, from 1, which may lie inside of the sign.
    """
    for sign in signs_of_line(1, line):
        if sign.column <= column - 1 < sign.column + len(sign.text):
            return sign.column, sign.column + len(sign.text)
    start = min(max(column - 1, 0), len(line))
    return start, len(line)
