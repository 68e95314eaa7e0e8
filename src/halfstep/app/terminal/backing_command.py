"""``halfstep backing``: something to play over, in tempi and keys, in a folder."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_band,
    add_reading,
    chart_help,
    request_from,
)

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

DESCRIPTION = "Make something to play over: drums, bass and chords, looping without a gap."
EXAMPLES = (
    'halfstep backing "| Am7 D7 | Gmaj7 |" --tempo 120 --choruses 8',
    "halfstep backing blues.txt --style shuffle --tempo 80..160+5",
    "halfstep backing blues.txt --tempo 60%,80%,100% --without bass",
    "halfstep backing blues.txt --key cycle --out all-keys",
    "halfstep backing --style list",
)
epilog = chart_help


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", nargs="?", metavar="CHART")
    parser.add_argument(
        "--tempo",
        dest="tempi",
        metavar="BPM[,…]",
        help="pulses a minute, 40 to 300: 120; 80..160+5, a file each; 60%%,80%%,100%% of the "
        "chart's tempo",
    )
    add_band(parser)
    parser.add_argument(
        "--ending", action="store_true", help="end at home behind the last chorus, if the form can"
    )
    parser.add_argument("--click", action="store_true", help="a click in the place of the band")
    parser.add_argument(
        "--drone", metavar="TONE", help="in the place of the band: roots of the chords, or home"
    )
    parser.add_argument("--style", metavar="STYLE", help="how the band plays; --style list")
    parser.add_argument("--feel", metavar="FEEL", help="swing or straight, in its plain style")
    parser.add_argument(
        "--key", dest="keys", metavar="KEY[,…]|cycle", help="concert keys; cycle: all, by fourths"
    )
    parser.add_argument(
        "--format", dest="sound_format", metavar="FORMAT", help="m4a (default), mp3, ogg, flac, wav"
    )
    parser.add_argument("--seed", metavar="N", help="another number plays other choruses")
    add_reading(parser)
    parser.add_argument(
        "--replace", action="store_true", help="put it in the place of another chart's backing"
    )
    parser.add_argument(
        "--out", dest="folder", metavar="DIR", help="folder for the files (default: backing)"
    )


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Make the backings and list their files."""
    if arguments.style == "list":
        from halfstep.app.terminal.lesson_command import list_styles

        list_styles()
        return
    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.errors import BriefError
    from halfstep.services.make_backing import MakeBacking, make_backing

    if arguments.chart is None:
        raise BriefError("`chart` is missing; give a line of chords or a file")
    if arguments.folder is None:
        arguments.folder = "backing"
    request = request_from(MakeBacking, arguments)
    with progress_bar("reading the chart") as progress:
        reply = make_backing(request, progress=progress)
    parser.print_notes(reply.notices, to_screen=True)
    for path in reply.files:
        print(path)
