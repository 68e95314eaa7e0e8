"""``halfstep changes``: a chart explained, as a table, as data, or drawn on a page."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_reading,
    chart_help,
    request_from,
)

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

DESCRIPTION = "Explain a chart, chord by chord."
EXAMPLES = (
    'halfstep changes "| Am7 D7 | Gmaj7 |"',
    'halfstep changes "| Am7 D7 | Gmaj7 |" --for tenor-sax --level beginner',
    "halfstep changes song.abc --tune 2 --out map.pdf",
)
epilog = chart_help


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", metavar="CHART")
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who reads it")
    parser.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    parser.add_argument(
        "--strict-spelling",
        action="store_true",
        help="a letter for each degree, with double signs: C E♭ G♭ B𝄫",
    )
    parser.add_argument("--json", action="store_true", help="as data")
    add_reading(parser)
    parser.add_argument("--out", metavar="FILE", help="draw it on a page: .pdf or .svg")


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Explain a chart."""
    from halfstep.app.terminal.changes_table import table_lines
    from halfstep.app.terminal.out_file import out_path, print_document, write_content
    from halfstep.services.explain_chart import MAP_SUFFIXES, ExplainChart, explain_chart

    out = None if arguments.out is None else out_path(arguments.out, MAP_SUFFIXES)
    reply = explain_chart(request_from(ExplainChart, arguments))
    map_notices: tuple[str, ...] = ()
    if out:
        page = reply.map_file(out.suffix.lower())
        map_notices = write_content(page, out, beside_data=arguments.json)
    notices = (*reply.notices, *map_notices)
    if arguments.json:
        from halfstep.data.documents import json_text

        print_document(json_text(reply.data(notices=map_notices)))
    elif not out:
        print("\n".join(table_lines(reply.part, level=reply.level, notices=notices)))
        return
    parser.print_notes(notices)
