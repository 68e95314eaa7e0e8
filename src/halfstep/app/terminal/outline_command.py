"""``halfstep outline``: does a line spell the changes? As a table, or as data."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, add_reading, request_from, wrapped_help

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

DESCRIPTION = (
    "Measure how well a line spells the changes: all of it, every four bars, every change."
)
EXAMPLES = (
    "halfstep outline solo.musicxml",
    'halfstep outline take.mid --chart "| Am7 D7 | Gmaj7 |"',
)


def epilog() -> str:
    """What a line may be."""
    from halfstep.progression.notations import NOTATIONS, notation_words

    lines = notation_words(notation for notation in NOTATIONS if notation.has_melody)
    with_chords = notation_words(n for n in NOTATIONS if n.has_melody and n.read)
    return wrapped_help(
        f"LINE is a file of notes: {with_chords} with its own chords, or {lines} over --chart."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("line", metavar="LINE")
    parser.add_argument("--chart", metavar="CHART", help="chords, or a file of them")
    parser.add_argument("--json", action="store_true", help="as data")
    add_reading(parser)


def run(arguments: argparse.Namespace, _parser: CommandParser) -> None:
    """Measure a line."""
    from halfstep.app.terminal.out_file import print_document
    from halfstep.app.terminal.outline_table import table_lines
    from halfstep.data.documents import json_text
    from halfstep.services.outline_line import OutlineLine, outline_line

    reply = outline_line(request_from(OutlineLine, arguments))
    if arguments.json:
        print_document(json_text(reply.data()))
    else:
        print("\n".join(table_lines(reply.outline, reply.chart, reply.notices)))
