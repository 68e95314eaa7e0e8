"""``halfstep feedback``: what is there to say of a take, as lines, as data, or in a folder."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, request_from, wrapped_help
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from halfstep.services.feedback_reply import FeedbackReply
    from halfstep.services.give_feedback import GiveFeedback
    from halfstep.services.request_fields import Progress


DESCRIPTION = "Say where a take made the changes and where it missed, and what else is in it."
EXAMPLES = (
    "halfstep feedback take.wav --backing backing.m4a --for alto-sax",
    'halfstep feedback take.wav --chart "| Am7 D7 | Gmaj7 |" --tempo 120 --for trumpet',
    "halfstep feedback take.wav --etude line.json --tempo 96 --out monday",
    "halfstep feedback take.wav --lesson monday --step cells --for alto-sax --json",
    "halfstep feedback take.wav --etude today/item-2.json --student Odile",
)


def epilog() -> str:
    """What a take may be, and what to mind."""
    return wrapped_help(
        "TAKE is one instrument alone, as for halfstep hear, which tells how tempo, chords and "
        "bar 1 are known. With --etude, or --step of a lesson, it is held against the written "
        "line; without it is improvised. A recording of a person is private, a minor's most of "
        "all: ask first, keep it no longer than needed. Nothing is sent anywhere."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("take", metavar="TAKE")
    parser.add_argument("--chart", metavar="CHART", help="what it was played over")
    parser.add_argument("--backing", metavar="FILE", help="the backing it was played to")
    parser.add_argument(
        "--tempo", dest="tempo_bpm", metavar="BPM", help="pulses a minute, 40 to 300"
    )
    parser.add_argument(
        "--etude", metavar="FILE", help="the etude that was played, as halfstep etude stores it"
    )
    parser.add_argument(
        "--lesson", metavar="PATH", help="the lesson.json it belongs to, or its folder"
    )
    parser.add_argument(
        "--step", metavar="STEP", help="which step of the lesson was played: cells, 9"
    )
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who plays it")
    parser.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    parser.add_argument(
        "--start", dest="start_s", metavar="SECONDS", help="where bar 1 begins in the recording"
    )
    parser.add_argument(
        "--headphones", action="store_true", help="no backing is in the take; look for none"
    )
    parser.add_argument(
        "--words", metavar="FILE", help="a text of your own words for the student, in place of ours"
    )
    parser.add_argument("--paper", metavar="SIZE", help="a4 or letter")
    parser.add_argument("--json", action="store_true", help="as data")
    parser.add_argument("--out", dest="folder", metavar="DIR", help="folder for the files")
    parser.add_argument(
        "--student", dest="name", metavar="NAME", help="whose take it is: kept, and planned by"
    )
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Judge a take."""
    import sys

    from halfstep.app.terminal.feedback_table import table_lines
    from halfstep.app.terminal.out_file import out_folder, print_document
    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.data.documents import json_text
    from halfstep.services.give_feedback import GiveFeedback

    folder = None if arguments.folder is None else out_folder(arguments.folder)
    request = request_from(GiveFeedback, arguments)
    with progress_bar("reading the recording") as progress:
        reply, notices = _judged(request, arguments, progress)
    files: tuple[Path, ...] = ()
    if folder:
        with progress_bar("writing the pages") as progress:
            files = reply.write(folder, progress=progress)
    if arguments.json:
        print_document(files[0].read_text("utf-8") if files else json_text(reply.data()))
    elif files:
        parser.print_notes(reply.notices)
    else:
        print("\n".join(table_lines(reply, in_words=parser.in_words)))
    for file in files:
        print(f"written to {file}", file=sys.stderr if arguments.json else sys.stdout)
    parser.print_notes(notices)


def _judged(
    request: GiveFeedback, arguments: argparse.Namespace, progress: Progress
) -> tuple[FeedbackReply, tuple[str, ...]]:
    """The take judged, and what was kept of it where it is a student's."""
    if arguments.name is None:
        from halfstep.services.give_feedback import give_feedback

        return give_feedback(request, progress=progress), ()
    from halfstep.app.tasks.take_tasks import student_s_take

    with school_of(arguments) as school:
        student, reply = student_s_take(school, arguments.name, request, progress=progress)
    shown = reply.shown
    if shown.evidence is None:
        return reply, (f"kept for {student.name}; {shown.notice}",)
    skill, word = shown.evidence.skill, str(shown.evidence.verdict).replace("-", " ")
    at = f"{skill.unit}, {skill.step}, at {shown.evidence.tempo_bpm:g}"
    return reply, (f"kept for {student.name}: {at}: {word}",)
