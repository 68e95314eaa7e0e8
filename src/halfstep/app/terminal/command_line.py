"""The command line: ``halfstep lesson``, ``etude``, ``chart``, ``changes``, ``outline``, ``hear``.

Nothing heavy is imported before it is needed, so that ``--help`` is quick. Whatever the
user got wrong ends in one line on standard error and exit status 2.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TextIO

from halfstep.errors import BriefError, HalfstepError
from halfstep.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from halfstep.lesson.brief import LessonBrief
    from halfstep.level import Level
    from halfstep.render.handout import PaperName

STATUS_BAD_INPUT = 2
STATUS_FAULT = 70
STATUS_INTERRUPTED = 130

_LESSON_HELP = """\
CHART is one of
  a line of chords in bars   "| Am7 D7 | Gmaj7 | N.C. | Bm7b5 E7 |"
  a text file of the same, with header lines such as  title:  key:  meter:  tempo:  feel:
  a MusicXML lead sheet with chord symbols (.musicxml or .mxl)
Without CHART the demo lesson is made.
"""


_CHART_HELP = """\
CHART is a line of chords in bars, or a file: our plain text, MusicXML (.musicxml, .mxl),
ABC (.abc), ChordPro (.cho, .crd) or Harte labels (.lab).
"""

_HEAR_HELP = """\
TAKE is one instrument alone, recorded with any phone or computer (WAV, FLAC, MP3, M4A, OGG).
MIDI has the exact times, MusicXML is rounded to sixteenths in 4/4, both at --tempo. They
begin with the form, after the backing's count-in; without one, MIDI with the recording and
MusicXML with the first note.
A recording of a person is private, a minor's most of all: ask first, keep it no longer than
needed. Nothing is sent anywhere.
"""


class _Parser(argparse.ArgumentParser):
    """Errors of usage in one line, like all others."""

    def error(self, message: str) -> NoReturn:
        quotes = "put a line of chords in quotes, or " if "unrecognized" in message else ""
        raise BriefError(f"{message}; {quotes}see {self.prog} --help")


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = _Parser(prog="halfstep", description="Lessons in improvising over chord changes.")
    top.add_argument("--version", action="version", version=f"halfstep {VERSION}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    lesson = commands.add_parser(
        "lesson",
        help="make a lesson from a chart: handouts, parts, sound, data",
        description="Make a lesson from a chart.",
        epilog=_LESSON_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    lesson.add_argument("chart", nargs="?", metavar="CHART")
    lesson.add_argument(
        "--for",
        dest="instruments",
        metavar="INSTRUMENT[,INSTRUMENT…]",
        help="who plays (default: concert, or the class of the demo); "
        "--for list shows the instruments",
    )
    lesson.add_argument("--steps", default="1-6", metavar="SPAN", help="such as 1-6 or 1,3")
    lesson.add_argument("--key", metavar="KEY", help="concert key to move the chart to: Bb, F#m")
    lesson.add_argument("--tempo", metavar="BPM", help="pulses a minute, 40 to 300")
    lesson.add_argument("--feel", metavar="FEEL", help="swing or straight")
    lesson.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    lesson.add_argument("--seed", metavar="N", help="another number writes other lines")
    _add_reading(lesson)
    lesson.add_argument("--paper", metavar="SIZE", help="a4 or letter")
    lesson.add_argument(
        "--short",
        action="store_true",
        help="short handouts: chords with their notes, changes in a line, all the music",
    )
    lesson.add_argument("--out", metavar="DIR", help="folder for the files (default: lesson)")
    lesson.set_defaults(run=make_lesson_files)
    _add_etude(commands)
    _add_chart(commands)
    _add_changes(commands)
    _add_outline(commands)
    _add_hear(commands)
    return top


def _add_chart(commands: argparse._SubParsersAction[_Parser]) -> None:
    chart = commands.add_parser(
        "chart",
        help="show a chart, convert it, move it to another key or instrument",
        description="Show a chart as a grid, or convert it.",
        epilog=_CHART_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    chart.add_argument("chart", metavar="CHART")
    chart.add_argument("--to", dest="key", metavar="KEY", help="concert key to move it to")
    chart.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who reads it")
    chart.add_argument(
        "--as", dest="form", metavar="FORM", help="text, musicxml, abc, chordpro or json"
    )
    _add_reading(chart)
    chart.add_argument("--out", metavar="FILE", help="write there instead of to the screen")
    chart.set_defaults(run=convert_chart)


def _add_etude(commands: argparse._SubParsersAction[_Parser]) -> None:
    etude = commands.add_parser(
        "etude",
        help="write one etude over a chart: show it, or store it as a file",
        description="Write one etude over a chart. Notes are those the player reads.",
        epilog=_CHART_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    etude.add_argument("chart", metavar="CHART")
    etude.add_argument(
        "--step", required=True, metavar="N", help="1 to 13, or rhythm, echo, question, root-third"
    )
    etude.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who plays it")
    etude.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    etude.add_argument("--tempo", metavar="BPM", help="pulses a minute, 40 to 300")
    etude.add_argument("--notes", metavar="NOTES", help='the only notes to use: "G4 A4 Bb4"')
    etude.add_argument("--low", metavar="NOTE", help="no note below this one")
    etude.add_argument("--high", metavar="NOTE", help="no note above this one")
    etude.add_argument("--seed", metavar="N", help="another number writes another line")
    etude.add_argument("--keep", metavar="BARS", help="bars to keep, such as 3,5-6; with --from")
    etude.add_argument(
        "--from", dest="source", metavar="FILE", help="an etude stored as .json, for --keep"
    )
    etude.add_argument("--degrees", action="store_true", help="degrees under the notes on the page")
    _add_reading(etude)
    etude.add_argument(
        "--out", metavar="FILE", help="store it: .musicxml, .mid, .pdf, .svg, .wav or .json"
    )
    etude.set_defaults(run=write_one_etude)


def _add_changes(commands: argparse._SubParsersAction[_Parser]) -> None:
    changes = commands.add_parser(
        "changes",
        help="explain a chart: its keys, each chord's notes and scale, and what changes",
        description="Explain a chart, chord by chord.",
        epilog=_CHART_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    changes.add_argument("chart", metavar="CHART")
    changes.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who reads it")
    changes.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    changes.add_argument("--json", action="store_true", help="as data")
    _add_reading(changes)
    changes.add_argument("--out", metavar="FILE", help="draw it on a page: .pdf or .svg")
    changes.set_defaults(run=explain_changes)


def _add_outline(commands: argparse._SubParsersAction[_Parser]) -> None:
    outline = commands.add_parser(
        "outline",
        help="measure how well a line spells the changes",
        description="Measure how well a line spells the changes: all of it, every four bars, "
        "every change.",
        epilog="LINE is a file of notes: MusicXML (.musicxml, .mxl) or ABC (.abc) with its own "
        "chords,\nor any of these or MIDI (.mid) over --chart.\n",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    outline.add_argument("line", metavar="LINE")
    outline.add_argument("--chart", metavar="CHART", help="chords, or a file of them")
    outline.add_argument("--json", action="store_true", help="as data")
    _add_reading(outline)
    outline.set_defaults(run=measure_line)


def _add_hear(commands: argparse._SubParsersAction[_Parser]) -> None:
    hear = commands.add_parser(
        "hear",
        help="write down the notes of a recording",
        description="Write down the notes of a recording.",
        epilog=_HEAR_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    hear.add_argument("take", metavar="TAKE")
    hear.add_argument("--backing", metavar="FILE", help="the backing it was played to")
    hear.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who plays it")
    hear.add_argument("--tempo", metavar="BPM", help="beats a minute, 40 to 300 (default: 120)")
    hear.add_argument(
        "--out", metavar="FILE", help="store it: .mid, .musicxml, .json, .png or .svg"
    )
    hear.set_defaults(run=write_what_is_heard)


def _add_reading(command: argparse.ArgumentParser) -> None:
    command.add_argument("--tune", metavar="N", help="which tune of an ABC file of several")
    command.add_argument(
        "--reading",
        metavar="SIGN=CHORD[,…]",
        help="what doubtful signs mean: 'C2=Csus2, C7+=Cmaj7, B=Bb, e=Em'",
    )


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """The entry point of the program: do what is asked and exit."""
    sys.exit(main(sys.argv[1:] if arguments is None else arguments))


def main(arguments: Sequence[str]) -> int:
    """Do what is asked and return the exit status: 0, or 2 for bad input."""
    _accept_any_text(sys.stdout)
    try:
        asked = parser().parse_args(arguments)
        command: Callable[[argparse.Namespace], None] = asked.run
        command(asked)
        sys.stdout.flush()  # here, where a closed pipe is caught
    except HalfstepError as error:
        print(f"halfstep: {_one_line(str(error))}", file=sys.stderr)
        return STATUS_BAD_INPUT
    except KeyboardInterrupt:
        print("halfstep: stopped; nothing was written", file=sys.stderr)
        return STATUS_INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except Exception as error:
        if os.environ.get("HALFSTEP_DEBUG"):
            raise
        print(f"halfstep: {_fault(error)}", file=sys.stderr)
        return STATUS_FAULT
    return 0


def _accept_any_text(stream: TextIO) -> None:
    """Print a question mark for what the terminal's encoding lacks, such as ♭."""
    if isinstance(stream, TextIOWrapper):
        stream.reconfigure(errors="replace")


def _fault(error: Exception) -> str:
    """One line about a fault of the program itself."""
    return _one_line(
        f"a fault of the program, not of your chart, and nothing was written: {error} "
        f"({type(error).__name__}); set HALFSTEP_DEBUG=1 to see where, and please report it"
    )


def _one_line(text: str) -> str:
    """Text on one line, with control characters made visible."""
    return "".join(c if c.isprintable() else " " for c in text)


def convert_chart(asked: argparse.Namespace) -> None:
    """Show or convert a chart."""
    from halfstep.app.terminal.chart_command import show_or_convert

    show_or_convert(asked)


def explain_changes(asked: argparse.Namespace) -> None:
    """Explain a chart."""
    from halfstep.app.terminal.changes_command import explain

    explain(asked, level=_level(asked))


def write_one_etude(asked: argparse.Namespace) -> None:
    """Write one etude."""
    from halfstep.app.terminal.etude_command import write

    write(
        asked,
        level=_level(asked),
        tempo_bpm=None if asked.tempo is None else _tempo(asked.tempo),
        seed=1 if asked.seed is None else _whole_number("seed", asked.seed),
        progress=_progress,
    )


def measure_line(asked: argparse.Namespace) -> None:
    """Measure how well a line spells the changes."""
    from halfstep.app.terminal.outline_command import measure

    measure(asked)


def write_what_is_heard(asked: argparse.Namespace) -> None:
    """Write down the notes of a recording."""
    from halfstep.meter import DEFAULT_BPM

    tempo_bpm = DEFAULT_BPM if asked.tempo is None else _tempo(asked.tempo)
    from halfstep.app.terminal.hear_command import hear_take

    hear_take(
        asked,
        tempo_bpm=tempo_bpm,
        progress=lambda total: _progress(total, first="reading the recording"),
    )


def make_lesson_files(asked: argparse.Namespace) -> None:
    """Make a lesson and list its files."""
    if asked.instruments == "list":
        _list_instruments()
        return
    brief = lesson_brief(asked)
    paper = _paper("a4" if asked.paper is None else asked.paper)
    folder = Path(_some_text("out", "lesson" if asked.out is None else asked.out))
    from halfstep.lesson.make import make_lesson
    from halfstep.lesson.write import pieces_of_work
    from halfstep.services.make_lesson import write_lesson

    with _progress(pieces_of_work(len(brief.instruments), len(brief.steps))) as step:
        lesson = make_lesson(brief, progress=step)
        files = write_lesson(lesson, folder, paper=paper, short=asked.short, progress=step)
    for notice in lesson.notices:
        print(f"note: {notice}")
    _list_files(folder, files)


def lesson_brief(asked: argparse.Namespace) -> LessonBrief:
    """The request, read from the command line.

    Raises
    ------
    ReadError, BriefError
    """
    from dataclasses import replace

    from halfstep.app import demo
    from halfstep.app.terminal.chart_command import asked_reading, asked_tune
    from halfstep.etude.steps import parse_steps
    from halfstep.instruments import find_instrument
    from halfstep.lesson.brief import LessonBrief
    from halfstep.meter import Feel
    from halfstep.part.transposition import in_key
    from halfstep.progression.key import parse_key
    from halfstep.progression.load import load_chart

    is_demo = asked.chart is None
    keys = asked.instruments
    if keys is None:
        keys = ",".join(k for k, _ in demo.PLAYERS) if is_demo else "concert"
    feel = None if asked.feel is None else _one_of("feel", asked.feel, tuple(Feel))
    tempo_bpm = None if asked.tempo is None else _tempo(asked.tempo)
    key = None if asked.key is None else parse_key(asked.key)
    brief = LessonBrief(
        chart=load_chart(
            demo.CHART if is_demo else asked.chart,
            reading=asked_reading(asked),
            tune=asked_tune(asked),
        ),
        instruments=tuple(dict.fromkeys(find_instrument(each) for each in keys.split(","))),
        steps=parse_steps(asked.steps),
        level=_level(asked),
        tempo_bpm=tempo_bpm,
        feel=Feel(feel) if feel else None,
        seed=1 if asked.seed is None else _whole_number("seed", asked.seed),
        players=demo.PLAYERS if is_demo else (),
    )
    return brief if key is None else replace(brief, chart=in_key(brief.chart, key))


def _some_text(option: str, given: str) -> str:
    if not given.strip():
        raise BriefError(f"--{option} is empty; give it a value or leave it out")
    return given


def _one_of(option: str, given: str, known: Sequence[str]) -> str:
    if given.lower() not in known:
        raise BriefError(f"--{option} {given!r}: choose from {', '.join(known)}")
    return given.lower()


def _level(asked: argparse.Namespace) -> Level:
    from halfstep.level import Level

    given = "intermediate" if asked.level is None else asked.level
    return Level(_one_of("level", given, tuple(Level)))


def _paper(given: str) -> PaperName:
    return "letter" if _one_of("paper", given, ("a4", "letter")) == "letter" else "a4"


def _tempo(text: str) -> float:
    from halfstep.meter import FASTEST_BPM, SLOWEST_BPM

    try:
        tempo_bpm = float(text)
    except ValueError:
        tempo_bpm = 0.0
    if not SLOWEST_BPM <= tempo_bpm <= FASTEST_BPM:
        raise BriefError(
            f"--tempo {text!r}: give pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}"
        )
    return tempo_bpm


def _whole_number(option: str, text: str) -> int:
    if not text.isascii() or not text.isdecimal() or len(text) > 18:
        raise BriefError(f"--{option} {text!r}: give a whole number, 0 or more")
    return int(text)


@contextmanager
def _progress(total: int, *, first: str = "reading the chart") -> Iterator[Callable[[str], None]]:
    """A progress bar on a terminal's standard error, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress

    columns = ("{task.description:32}", BarColumn(), "{task.percentage:3.0f} %")
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(first, total=total)
        yield lambda done: bar.update(task, advance=1, description=done)


def _list_files(folder: Path, files: Sequence[Path]) -> None:
    """A short list: one line for each kind of file."""
    print(f"The lesson is in {folder}{os.sep}")
    groups: dict[str, list[str]] = {}
    for path in files:
        groups.setdefault(_KINDS_OF_FILE.get(path.suffix, "data"), []).append(path.name)
    for kind, names in groups.items():
        print(f"  {kind:9}{_shortened(names)}")


_KINDS_OF_FILE = {
    ".pdf": "handouts", ".musicxml": "parts", ".mid": "midi", ".wav": "sound", ".json": "data",
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
        print(f"{instrument.key:14}{instrument.label:22}{ranges}")
    print("Written ranges for beginner, intermediate and advanced players.")
