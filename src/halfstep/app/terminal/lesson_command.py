"""``halfstep lesson``: a lesson in a folder, and the list of its files."""

from __future__ import annotations

import os

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_band,
    add_ending,
    add_print_setting,
    add_reading,
    chart_help,
    request_from,
)

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence
    from pathlib import Path

    from halfstep.services.make_lesson import MakeLesson

DESCRIPTION = "Make a lesson from a chart."
EXAMPLES = (
    "halfstep lesson",
    'halfstep lesson "| Am7 D7 | Gmaj7 |" --for alto-sax,flute --out monday',
    "halfstep lesson blues.txt --key Bb --steps rhythm,1-3 --level beginner",
    'halfstep lesson "| Dm7 | G7 |" --for alto-sax:beginner:Ada,tenor-sax:advanced',
    "halfstep lesson blues.txt --line idea.musicxml --for alto-sax,trumpet",
    "halfstep lesson --for list",
    "halfstep lesson --steps list",
)


def epilog() -> str:
    """What a chart may be, and what is made without one."""
    return f"{chart_help()}Without CHART the demo lesson is made.\n"


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", nargs="?", metavar="CHART")
    parser.add_argument(
        "--for",
        dest="instruments",
        metavar="INSTRUMENT[:LEVEL[:NAME]][,…]",
        help="who plays, at which level, and the name on the handout: alto-sax, "
        "alto-sax:beginner:Ada, flute::Bo (default: concert, or the class of the demo); "
        "--for list shows the instruments",
    )
    parser.add_argument(
        "--steps",
        default="1-6",
        metavar="SPAN",
        help="such as 1-6, or rhythm,cells; --steps list shows them",
    )
    parser.add_argument(
        "--key",
        metavar="KEY",
        help="concert key to move the chart to: Bb, F#m; cycle: backings in all keys",
    )
    parser.add_argument(
        "--tempo",
        dest="tempi",
        metavar="BPM[,…]",
        help="pulses a minute, 40 to 300; of several, such as 80..120+5, the last is the lesson's, "
        "and each has a backing",
    )
    add_band(parser)
    parser.add_argument("--feel", metavar="FEEL", help="swing or straight")
    parser.add_argument("--style", metavar="STYLE", help="how the band plays; --style list")
    parser.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    parser.add_argument("--seed", metavar="N", help="another number writes other lines")
    add_ending(parser)
    add_reading(parser)
    parser.add_argument(
        "--line",
        metavar="FILE",
        help="your own line over the chart, as an example before the steps: MusicXML, ABC or MIDI, "
        "or a recording of it",
    )
    parser.add_argument(
        "--line-start",
        dest="line_start_s",
        metavar="S",
        help="where in that recording bar 1 begins, in seconds",
    )
    add_print_setting(parser)
    parser.add_argument("--paper", metavar="SIZE", help="a4 or letter")
    parser.add_argument(
        "--plain",
        action="store_true",
        help="no slurs, accents or signs of loudness: they are left to the player",
    )
    parser.add_argument(
        "--midi-band", action="store_true", help="chords, bass and drums in each .mid, on tracks"
    )
    parser.add_argument(
        "--format",
        dest="sound_format",
        metavar="FORMAT",
        help="of the sound: m4a (default), mp3, ogg, flac or wav",
    )
    parser.add_argument(
        "--stems", action="store_true", help="line, drums, bass and chords alone as sound, too"
    )
    parser.add_argument(
        "--short",
        action="store_true",
        help="short handouts: chords with their notes, changes in a line, all the music",
    )
    parser.add_argument(
        "--replace",
        action="store_true",
        help="put it in the place of another lesson in the folder",
    )
    parser.add_argument(
        "--out", dest="folder", metavar="DIR", help="folder for the files (default: lesson)"
    )


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Make a lesson and list its files."""
    if arguments.instruments == "list":
        _list_instruments()
        return
    if arguments.steps == "list":
        _list_steps()
        return
    if arguments.style == "list":
        list_styles()
        return
    request = lesson_request(arguments)
    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.services.make_lesson import make_lesson

    with progress_bar("reading the chart") as progress:
        reply = make_lesson(request, progress=progress)
    parser.print_notes(reply.notices, to_screen=True)
    _list_files(reply.folder, reply.files)


def lesson_request(arguments: argparse.Namespace) -> MakeLesson:
    """The request; without a chart it is the demo's."""
    from halfstep.app import demo
    from halfstep.errors import BriefError
    from halfstep.services.make_lesson import MakeLesson

    if arguments.folder is None:
        arguments.folder = "lesson"
    elif not arguments.folder.strip():
        raise BriefError("`folder` is empty; give it a value or leave it out")
    if arguments.chart is not None:
        return request_from(MakeLesson, arguments)
    if arguments.instruments is not None:
        return request_from(MakeLesson, arguments, chart=demo.CHART)
    return request_from(MakeLesson, arguments, chart=demo.CHART, instruments=demo.PLAYERS)


def _list_files(folder: Path, files: Sequence[Path]) -> None:
    """A short list: one line for each kind of file."""
    print(f"The lesson is in {folder}{os.sep}")
    groups: dict[str, list[str]] = {}
    for path in files:
        groups.setdefault(_KINDS_OF_FILE.get(path.suffix, "data"), []).append(path.name)
    for kind, names in groups.items():
        print(f"  {kind:9}{_shortened(names)}")


_KINDS_OF_FILE = {
    ".pdf": "handouts", ".musicxml": "parts", ".mid": "midi", ".json": "data",
    **dict.fromkeys((".m4a", ".mp3", ".ogg", ".flac", ".wav"), "sound"),
}  # fmt: skip


def _shortened(names: list[str]) -> str:
    if len(names) <= 4:
        return "  ".join(names)
    return f"{names[0]}  …  {names[-1]}  ({len(names)} files)"


def _list_instruments() -> None:
    from halfstep.instruments import INSTRUMENTS
    from halfstep.level import Level

    for instrument in INSTRUMENTS.values():
        ranges = ", ".join(str(instrument.compass(level)) for level in Level)
        print(f"{instrument.key:15}{instrument.label:22}{ranges}")
    print("Written ranges for beginner, intermediate and advanced players.")


def _list_steps() -> None:
    from halfstep.etude.steps import STEPS, VOCABULARY

    for step in STEPS:
        print(f"{step.number or '':>2}  {step.name:23}{step.task}")
    print("Vocabulary, which is asked for by name:")
    for step in VOCABULARY:
        print(f"    {step.name:23}{step.task}")


def list_styles() -> None:
    """The styles of the band with their feels."""
    from halfstep.backing import STYLES

    for style in STYLES:
        print(f"{style.name:14}{style.title:22}{style.feel}")
