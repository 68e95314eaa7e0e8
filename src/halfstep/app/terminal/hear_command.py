"""``halfstep hear``: the notes of a recording, as a table or in a file."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, request_from

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

DESCRIPTION = "Write down the notes of a recording."
EXAMPLES = (
    "halfstep hear take.wav",
    "halfstep hear take.wav --for alto-sax --lesson monday --out take.png",
    "halfstep hear take.wav --lesson monday --step cells --for alto-sax",
    "halfstep hear take.wav --lesson monday --headphones --out take.musicxml",
    "halfstep hear take.wav --backing band.mp3 --tempo 132 --out take.mid",
    "halfstep hear take.wav --tempo 120 --start 4.1 --out take.pdf",
)
_EPILOG = """\
TAKE is one instrument alone, recorded with any phone or computer (WAV, FLAC, MP3, M4A, OGG).
Tempo, chords and bar 1 are taken from the lesson.json that lies beside TAKE or the backing, or
is named with --lesson; from --chart and --tempo otherwise. The backing of that lesson, or
one beside TAKE, is taken where it is heard in the take. With headphones bar 1 is found by
laying the notes over the steps of the lesson, or over its chords; where that is not clear, say
it with --start. Where the lesson has several steps, --step says which is played: its line is
listened for, so that more notes struck again in an echoing room are found. MIDI has the exact
times; MusicXML and the pages (.pdf, .png, .svg) are rounded to sixteenths. All begin with bar 1,
or where that is not known, MIDI with the recording and notes on a staff with the first of them.
A recording of a person is private, a minor's most of all: ask first, keep it no longer than
needed. Nothing is sent anywhere.
"""


def epilog() -> str:
    """What a take may be, and what to mind."""
    return _EPILOG


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("take", metavar="TAKE")
    parser.add_argument(
        "--backing", metavar="FILE", help="the backing it was played to, where it is no lesson's"
    )
    parser.add_argument(
        "--headphones", action="store_true", help="no backing is in the take; look for none"
    )
    parser.add_argument("--chart", metavar="CHART", help="what it was played over")
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who plays it")
    parser.add_argument(
        "--lesson", metavar="PATH", help="the lesson.json it belongs to, or its folder"
    )
    parser.add_argument(
        "--step", metavar="STEP", help="which step of the lesson is played: cells, 9"
    )
    parser.add_argument(
        "--etude", metavar="FILE", help="the etude that is played, as halfstep etude stores it"
    )
    parser.add_argument(
        "--tempo", dest="tempo_bpm", metavar="BPM", help="pulses a minute, 40 to 300"
    )
    parser.add_argument(
        "--start", dest="start_s", metavar="SECONDS", help="where bar 1 begins in the recording"
    )
    parser.add_argument(
        "--out", metavar="FILE", help="store it: .mid, .musicxml, .json, .pdf, .png or .svg"
    )


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Hear a take."""
    from halfstep.app.terminal.out_file import out_path, write_content
    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.app.terminal.take_table import table_lines
    from halfstep.services.hear_take import HearTake, hear_take
    from halfstep.services.take_reply import TAKE_SUFFIXES

    out = None if arguments.out is None else out_path(arguments.out, TAKE_SUFFIXES)
    request = request_from(HearTake, arguments)
    with progress_bar("reading the recording") as progress:
        reply = hear_take(request, progress=progress)
    if out is None:
        print("\n".join(table_lines(reply.written, notices=map(parser.in_words, reply.notices))))
        return
    content = reply.file(out.suffix.lower())
    parser.print_notes((*reply.notices, *write_content(content, out)))
