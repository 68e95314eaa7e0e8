"""What was heard of a take on a terminal: its facts, its notes, those to doubt.

The table shows the beginning and the end of a long take; all notes are in the files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from halfstep.app.terminal.columns import padded, screen_columns, text_width, wrapped
from halfstep.lesson.take_page import DOUBTFUL, clock_text, signed, take_facts
from halfstep.part.take_part import WrittenTake
from halfstep.pitch import Pitch

_MOST, _FIRST, _LAST = 24, 12, 6
"""More notes than the first are cut to those at the beginning and the end."""
_MOST_DOUBTFUL = 5


def table_lines(
    written: WrittenTake, *, notices: Iterable[str] = (), columns: int | None = None
) -> Iterator[str]:
    """What was heard, in lines.

    Parameters
    ----------
    written : WrittenTake
    notices : iterable of str
        What should be said of the take.
    columns : int, optional
        Width to stay in; the terminal's when not given.
    """
    columns = max(20, columns or screen_columns())
    for text in (written.title, " · ".join(take_facts(written))):
        yield from wrapped(text, columns)
    if written.take.notes:
        yield ""
        yield from _table(written)
    if doubtful := _doubtful(written):
        yield ""
        yield from wrapped(doubtful, columns)
    for notice in notices:
        yield from wrapped(f"note: {notice}", columns)


def _table(written: WrittenTake) -> Iterator[str]:
    """The notes in columns, or the beginning and the end of them."""
    pitches = written.pitches()
    cut = len(pitches) > _MOST
    shown = [*range(_FIRST), *range(len(pitches) - _LAST, len(pitches))] if cut else None
    rows = [_cells(written, pitches, place) for place in shown or range(len(pitches))]
    note = "written" if written.player.rise.semitones else "note"
    lines = list(_aligned([["onset", "length", note, "cents", "level", "certainty"], *rows]))
    if cut:
        left_out = len(pitches) - _FIRST - _LAST
        lines.insert(_FIRST + 1, f"  … {left_out} more; --out FILE.json or FILE.png has them")
    yield from lines


def _cells(written: WrittenTake, pitches: Sequence[Pitch], place: int) -> list[str]:
    note = written.take.notes[place]
    return [
        clock_text(note.onset_s, 2),
        f"{note.offset_s - note.onset_s:.2f} s",
        str(pitches[place]),
        signed(note.cents, "+d"),
        f"{signed(note.level_db)} dB",
        f"{100 * note.certainty:.0f} %",
    ]


def _aligned(rows: list[list[str]]) -> Iterator[str]:
    """Columns to the right, but for the names of notes."""
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [
            padded(cell, width) if place == 2 else " " * (width - text_width(cell)) + cell
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()


def _doubtful(written: WrittenTake) -> str:
    """The notes to listen to again, least certain first; empty when there are none."""
    notes = list(zip(written.take.notes, written.pitches(), strict=True))
    doubtful = sorted(
        (pair for pair in notes if pair[0].certainty < DOUBTFUL), key=lambda p: p[0].certainty
    )
    if not doubtful:
        return ""
    named = (f"{pitch} at {clock_text(note.onset_s, 2)}" for note, pitch in doubtful)
    first = [text for text, _ in zip(named, range(_MOST_DOUBTFUL), strict=False)]
    more = f" and {len(doubtful) - len(first)} more" if len(doubtful) > len(first) else ""
    return f"doubtful, listen again: {', '.join(first)}{more}"
