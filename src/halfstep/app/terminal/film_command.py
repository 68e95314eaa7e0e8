"""``halfstep film``: a line with its sound as a film, or a student's take on its staff."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_ending,
    add_reading,
    chart_help,
    request_from,
)
from halfstep.errors import BriefError

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

_OF_FILM = ("overlay", "captions", "take", "called", "backing", "headphones", "start_s")
"""Options that no running order has."""

DESCRIPTION = (
    "Make a film of a line: notation and sound on one clock, the sounding note and bar marked, "
    "the chord now and next, and the note that changes before it does."
)
EXAMPLES = (
    'halfstep film "| Am7 D7 | Gmaj7 |" --step cells --for trumpet --out cells.mp4',
    "halfstep film monday --step 6 --size portrait --captions",
    'halfstep film "| F7 | Bb7 |" --step 3 --tempo 80..160+5 --out rising.mp4',
    'halfstep film "| F7 | Bb7 |" --step 3 --overlay --out over-me.mov',
    "halfstep film monday --step 6 --take take.wav --called Bo --out bo.mp4",
    "halfstep film monday --script --talk 30 --out monday-script",
)


def epilog() -> str:
    """What a chart is, and what is written beside the film."""
    from halfstep.app.terminal.arguments import wrapped_help

    return (
        chart_help()
        + wrapped_help("The folder of a lesson, or its lesson.json, may stand in its place.")
        + wrapped_help(
            "Beside the film stand its chapters as text and a picture of it, with --captions also "
            "chords and changes in words. An overlay is .mov for video editors or .webm, without "
            "sound, for pages."
        )
        + wrapped_help(
            "With --script no film is made but what you film by: a folder with the running "
            "order on paper and as cues (.vtt), which has what to say and play at each step and "
            "when, a text to paste under the film with the times of its chapters, and a still "
            "picture of each step. Of a lesson it has all steps where none is named."
        )
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", metavar="CHART|LESSON")
    parser.add_argument(
        "--step",
        metavar="STEP",
        help="its name or number: cells, 9, chorus; of a lesson also example, the teacher's line",
    )
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who reads it")
    parser.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    parser.add_argument("--size", metavar="SIZE", help="720p (default), 1080p, square or portrait")
    parser.add_argument("--choruses", metavar="N", help="how many (default: half a minute of them)")
    parser.add_argument(
        "--tempo",
        dest="tempi",
        metavar="BPM|LADDER",
        help="pulses a minute, 40 to 300; 80..160+5 makes one film whose choruses rise",
    )
    parser.add_argument("--style", metavar="STYLE", help="how the band plays; see halfstep lesson")
    parser.add_argument("--feel", metavar="FEEL", help="swing or straight")
    parser.add_argument(
        "--notes", dest="known_notes", metavar="NOTES", help='the only notes to use: "G4 A4 Bb4"'
    )
    parser.add_argument("--seed", metavar="N", help="another number writes another line")
    add_ending(parser)
    parser.add_argument(
        "--overlay", action="store_true", help="without a background, to lay over a film of yours"
    )
    parser.add_argument(
        "--captions", action="store_true", help="chords and changes in words beside it: .vtt"
    )
    parser.add_argument(
        "--take", metavar="FILE", help="a recording to film in its place, with what is found in it"
    )
    parser.add_argument(
        "--called", metavar="NAME", help="a nickname for who plays the take; none is shown without"
    )
    parser.add_argument("--backing", metavar="FILE", help="what the take was played to")
    parser.add_argument(
        "--headphones", action="store_true", help="no backing is in the take; look for none"
    )
    parser.add_argument(
        "--start", dest="start_s", metavar="SECONDS", help="where in the take bar 1 begins"
    )
    parser.add_argument(
        "--script", action="store_true", help="the running order to film by, in the place of a film"
    )
    parser.add_argument(
        "--talk",
        dest="talk_s",
        metavar="SECONDS",
        help="of a running order: kept for talking before each step (default: 0)",
    )
    parser.add_argument("--paper", metavar="SIZE", help="of a running order: a4 or letter")
    add_reading(parser)
    parser.add_argument(
        "--out",
        metavar="FILE|DIR",
        help="the film: .mp4, as an overlay .mov or .webm (default: film); a folder for --script",
    )


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Make a film, or a running order to film by."""
    if arguments.script:
        _make_script(arguments)
        return
    for option in ("talk_s", "paper"):
        if getattr(arguments, option) is not None:
            raise BriefError(f"`{option}` goes with `script`; leave it out")
    from halfstep.app.terminal.out_file import out_path
    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.services.make_film import MakeFilm, film_suffixes, make_film

    suffixes = film_suffixes(is_overlay=arguments.overlay)
    out = out_path(arguments.out or f"film{suffixes[0]}", suffixes)
    request = request_from(MakeFilm, arguments)
    with progress_bar("reading the chart") as progress:
        reply = make_film(request, progress=progress)
        written = reply.write(out, progress=progress)
    film, *others = written.paths
    beside = f" and beside it {', '.join(path.name for path in others)}" if others else ""
    print(f"written to {film}{beside}")
    parser.print_notes(written.notices)


def _make_script(arguments: argparse.Namespace) -> None:
    from halfstep.app.terminal.out_file import out_folder
    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.services.make_running_order import MakeRunningOrder, make_running_order

    for option in _OF_FILM:
        if getattr(arguments, option) not in {None, False}:
            raise BriefError(f"`{option}` goes with a film, not with `script`; leave it out")
    folder = out_folder(arguments.out or "script", field="out")
    request = request_from(MakeRunningOrder, arguments)
    with progress_bar("reading the chart") as progress:
        reply = make_running_order(request, progress=lambda share, work: progress(share / 2, work))
        files = reply.write(folder, progress=lambda share, work: progress(0.5 + share / 2, work))
    print("\n".join(f"written to {file}" for file in files))
