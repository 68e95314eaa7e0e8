"""``halfstep chart``: a chart shown, converted, moved to another key or instrument."""

from __future__ import annotations

from pathlib import Path

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

DESCRIPTION = "Show a chart as a grid, or convert it."
epilog = chart_help


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", metavar="CHART")
    parser.add_argument("--to", dest="key", metavar="KEY", help="concert key to move it to")
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who reads it")
    parser.add_argument(
        "--as", dest="notation", metavar="FORM", help="text, musicxml, abc, chordpro or json"
    )
    add_reading(parser)
    parser.add_argument("--out", metavar="FILE", help="write there instead of to the screen")


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Show or convert a chart."""
    from halfstep.app.terminal.chart_grid import grid_lines
    from halfstep.services.read_chart import ReadChart, read_chart

    notation = _notation(arguments)
    reply = read_chart(request_from(ReadChart, arguments))
    if not notation:
        print("\n".join(grid_lines(reply)))
        return
    written = reply.written(notation)
    parser.print_notes(f"{notation} cannot hold {loss}" for loss in written.losses)
    _deliver(written.text, arguments.out)


def _notation(arguments: argparse.Namespace) -> str:
    """The notation that is asked for, by name or by the end of a file's; empty for the grid."""
    if arguments.notation is None:
        return "" if arguments.out is None else _notation_of(arguments.out)
    from halfstep.services.read_chart import NOTATIONS_WRITTEN
    from halfstep.services.request_fields import choice_of

    return choice_of("notation", arguments.notation, NOTATIONS_WRITTEN)


def _notation_of(out: str) -> str:
    """The notation a file name asks for."""
    from halfstep.services.read_chart import suffixes_written

    by_suffix = suffixes_written()
    suffix = Path(out).suffix.lower()
    if suffix not in by_suffix:
        known = ", ".join(by_suffix)
        raise BriefError(f"`out` {out!r}: say `notation`, or end the name in one of {known}")
    return by_suffix[suffix]


def _deliver(text: str, out: str | None) -> None:
    if out is None:
        print(text, end="" if text.endswith("\n") else "\n")
        return
    from halfstep.app.terminal.out_file import write_content
    from halfstep.services.file_content import FileContent

    write_content(FileContent((text.encode(),)), Path(out))
