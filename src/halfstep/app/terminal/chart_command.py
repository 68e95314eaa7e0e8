"""``halfstep chart``: a chart shown, converted, moved to another key or instrument."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_reading,
    chart_help,
    request_from,
)
from halfstep.errors import BriefError

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from halfstep.services.read_chart import ChartReply

DESCRIPTION = "Show a chart as a grid, or convert it."
EXAMPLES = (
    'halfstep chart "| Am7 D7 | Gmaj7 |" --to Bb',
    'halfstep chart "| Am7 D7 | Gmaj7 |" --for bb --out sheet.pdf',
    "halfstep chart song.musicxml --as text",
)
epilog = chart_help

WORDS = "words"
"""A form that is no notation: a chart for the ear."""


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", metavar="CHART")
    parser.add_argument("--to", dest="key", metavar="KEY", help="concert key to move it to")
    parser.add_argument(
        "--for",
        dest="instrument",
        metavar="READER",
        help="who reads it: an instrument, or bb, eb or bass-clef for all of a kind",
    )
    parser.add_argument(
        "--as",
        dest="notation",
        metavar="FORM",
        help="text, musicxml, abc, chordpro or json; words: each bar read aloud",
    )
    add_reading(parser)
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="write there instead of to the screen; .pdf, .svg and .png are lead sheets",
    )


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Show or convert a chart."""
    from halfstep.app.terminal.chart_grid import grid_lines
    from halfstep.services.read_chart import ReadChart, read_chart

    out = _picture_path(arguments)
    notation = "" if out else _notation(arguments)
    reply = read_chart(request_from(ReadChart, arguments))
    if out:
        parser.print_notes((*reply.notices, *_drawn(reply, out)))
    elif notation == WORDS:
        _deliver("\n".join(reply.words()), arguments.out)
    elif notation:
        written = reply.written(notation)
        parser.print_notes(f"{notation} cannot hold {loss}" for loss in written.losses)
        _deliver(written.text, arguments.out)
    else:
        print("\n".join(grid_lines(reply)))


def _picture_path(arguments: argparse.Namespace) -> Path | None:
    """Where a lead sheet is wanted; None where none is."""
    from halfstep.app.terminal.out_file import out_path
    from halfstep.services.read_chart import PICTURE_SUFFIXES

    out = arguments.out
    if out is None or _suffix(out) not in PICTURE_SUFFIXES:
        return None
    if arguments.notation is not None:
        raise BriefError(f"`out` {out!r} is a lead sheet and `notation` a text; give one of them")
    return out_path(out, PICTURE_SUFFIXES)


def _drawn(reply: ChartReply, out: Path) -> tuple[str, ...]:
    """Write a lead sheet, and return what should be said of it."""
    from halfstep.app.terminal.out_file import write_content

    return write_content(reply.picture(out.suffix.lower()), out)


def _notation(arguments: argparse.Namespace) -> str:
    """The notation that is asked for, by name or by the end of a file's; empty for the grid."""
    if arguments.notation is None:
        return "" if arguments.out is None else _notation_of(arguments.out)
    from halfstep.services.read_chart import NOTATIONS_WRITTEN
    from halfstep.services.request_fields import choice_of

    return choice_of("notation", arguments.notation, (*NOTATIONS_WRITTEN, WORDS))


def _notation_of(out: str) -> str:
    """The notation a file name asks for."""
    from halfstep.services.read_chart import PICTURE_SUFFIXES, suffixes_written

    by_suffix = suffixes_written()
    suffix = _suffix(out)
    if suffix not in by_suffix:
        known = ", ".join((*by_suffix, *PICTURE_SUFFIXES))
        raise BriefError(f"`out` {out!r}: say `notation`, or end the name in one of {known}")
    return by_suffix[suffix]


def _suffix(out: str) -> str:
    from pathlib import Path

    return Path(out).suffix.lower()


def _deliver(text: str, out: str | None) -> None:
    from halfstep.app.terminal.out_file import print_document, write_content

    if out is None:
        print_document(text if text.endswith("\n") else f"{text}\n")
        return
    from pathlib import Path

    from halfstep.services.file_content import FileContent

    write_content(FileContent((text.encode(),)), Path(out))
