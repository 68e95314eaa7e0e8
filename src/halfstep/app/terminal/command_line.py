"""The command line: ``halfstep lesson``, ``etude``, ``chart``, ``changes`` and the others.

Nothing is imported before it is needed: of the commands only the one that is asked for, and
what it works with when it works. Whatever the user got wrong ends in one line on standard
error and exit status 2.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence

from halfstep.app.terminal.arguments import CommandParser
from halfstep.app.terminal.plain_signs import accept_any_text
from halfstep.errors import BriefError, HalfstepError, did_you_mean
from halfstep.version import VERSION

STATUS_BAD_INPUT = 2
STATUS_FAULT = 70
STATUS_INTERRUPTED = 130

COMMANDS = {
    "lesson": "make a lesson from a chart: handouts, parts, sound, data",
    "backing": "make something to play over, in any tempo and key",
    "etude": "write one etude over a chart: show it, or store it as a file",
    "film": "make a film of a line, with notation and sound on one clock",
    "chart": "show a chart, convert it, move it to another key or instrument",
    "changes": "explain a chart: its keys, each chord's notes and scale, and what changes",
    "outline": "measure how well a line spells the changes",
    "sounds": "show the instruments that play, and other sound banks",
    "hear": "write down the notes of a recording",
    "feedback": "say where a take made the changes, where it missed, and what else is in it",
    "course": "show what there is to learn and in which order, or check a course of your own",
    "student": "keep who studies, and what was played",
    "plan": "plan a student's day: what to practise, why, and when to stop",
    "played": "say how something of the day's plan went",
    "school": "let people in where several teach",
    "serve": "open the desk in a browser, for a teacher and the phones in the room",
    "work": "do the jobs of a data folder beside a server",
    "completion": "let a shell complete commands, options and their words",
}
"""What each does, in the order of the help; each is a module of its own beside this one."""


TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    from typing import NoReturn, Protocol

    class CommandModule(Protocol):
        """What the module of a command has."""

        DESCRIPTION: str
        EXAMPLES: tuple[str, ...]

        def epilog(self) -> str:
            """What stands below the examples in the help."""

        def add_arguments(self, parser: CommandParser) -> None:
            """Tell the parser the arguments."""

        def run(self, arguments: argparse.Namespace, parser: CommandParser) -> None:
            """Do what is asked."""


def command_module(command: str) -> CommandModule:
    """The module of a command."""
    from importlib import import_module

    module: CommandModule = import_module(f"halfstep.app.terminal.{command}_command")
    return module


def command_parser(command: str) -> CommandParser:
    """The parser of one command."""
    module = command_module(command)
    parser = CommandParser(
        prog=f"halfstep {command}",
        description=module.DESCRIPTION,
        below=lambda: f"examples:\n{_indented(module.EXAMPLES)}\n{module.epilog()}",
    )
    module.add_arguments(parser)
    return parser


def _indented(lines: Sequence[str]) -> str:
    return "".join(f"  {line}\n" for line in lines)


EXAMPLES = (
    'halfstep changes "| Am7 D7 | Gmaj7 |" --for alto-sax',
    'halfstep lesson "| Am7 D7 | Gmaj7 |" --for alto-sax,flute --out monday',
    "halfstep lesson --help",
)


def top_parser() -> CommandParser:
    """The parser that lists the commands."""
    top = CommandParser(
        prog="halfstep",
        description="Lessons in improvising over chord changes.",
        below=lambda: f"examples:\n{_indented(EXAMPLES)}",
    )
    top.add_argument("--version", action="version", version=f"halfstep {VERSION}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command, does in COMMANDS.items():
        commands.add_parser(command, help=does)
    return top


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """The entry point of the program: do what is asked and exit."""
    gc.set_threshold(100_000)  # what is loaded stays, so looking for garbage finds none
    # our matrices are small: other threads would wait for them at full speed, and start first
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    status = main(sys.argv[1:] if arguments is None else arguments)
    gc.freeze()  # nor does it on the way out, where all would be looked through
    sys.exit(status)


def main(arguments: Sequence[str]) -> int:
    """Do what is asked and return the exit status: 0, or 2 for bad input."""
    accept_any_text(sys.stdout)
    accept_any_text(sys.stderr)
    parser: CommandParser | None = None
    try:
        if not arguments or arguments[0] == "help":
            arguments = [*arguments[1:], "--help"]
        if arguments[0] not in COMMANDS:
            _demand_command(arguments[0])
            top_parser().parse_args(arguments)  # help, version, or an error
        parser = command_parser(arguments[0])
        command_module(arguments[0]).run(parser.parse_args(arguments[1:]), parser)
        sys.stdout.flush()  # here, where a closed pipe is caught
    except HalfstepError as error:
        message = error.worded(parser.word) if parser else str(error)
        print(f"halfstep: {_one_line(message)}", file=sys.stderr)
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


def _demand_command(word: str) -> None:
    """Refuse a word that is neither a command nor an option.

    Raises
    ------
    BriefError
    """
    if word.startswith("-"):
        return
    if "|" in word:
        raise BriefError('a chart comes after a command, such as: halfstep chart "| Am7 D7 |"')
    meant = did_you_mean(word, COMMANDS)
    raise BriefError(f"there is no command {word!r}{meant or ';'} see halfstep --help")


def _fault(error: Exception) -> str:
    """One line about a fault of the program itself."""
    return _one_line(
        f"a fault of the program, not of your chart, and nothing was written: {error} "
        f"({type(error).__name__}); set HALFSTEP_DEBUG=1 to see where, and please report it"
    )


def _one_line(text: str) -> str:
    """Text on one line, with control characters made visible."""
    return "".join(c if c.isprintable() else " " for c in text)
