"""``halfstep played``: a player's own word of how an item of the day's plan went."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, wrapped_help
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

    from halfstep.practice.evidence import Evidence
    from halfstep.school.database import School

DESCRIPTION = "Say how something of the day's plan went: clean, nearly, or not yet."
EXAMPLES = (
    "halfstep played 2 clean --student Odile",
    "halfstep played 3 not-yet --student Odile --today 2026-03-02",
    "halfstep played monday/feedback.json --student Odile",
)


def epilog() -> str:
    """What the word does."""
    return wrapped_help(
        "ITEM is its number in the plan, with WORD clean, nearly or not-yet; a later word of the "
        "same day takes the place of the first. Or it is a feedback.json, whose take counts once, "
        "however often it is given. What is played is planned by it from then on."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("number", metavar="ITEM", help="its number in the plan, or a feedback.json")
    parser.add_argument("word", metavar="WORD", nargs="?", help="clean, nearly or not-yet")
    parser.add_argument("--student", dest="name", metavar="NAME", help="who played it")
    parser.add_argument("--today", dest="day", metavar="DATE", help="which day, such as 2026-03-02")
    add_data(parser)


def run(arguments: argparse.Namespace, _parser: CommandParser) -> None:
    """Keep the word."""
    name = arguments.name or ""
    with school_of(arguments) as school:
        if arguments.number.lower().endswith(".json"):
            evidence = _fed(school, name, arguments.number)
        else:
            evidence = _said(school, name, arguments)
    skill, word = evidence.skill, str(evidence.verdict).replace("-", " ")
    print(f"kept: {skill.unit}, {skill.step}, at {evidence.tempo_bpm:g}: {word}")


def _fed(school: School, name: str, file: str) -> Evidence:
    from pathlib import Path

    from halfstep.app.tasks.take_tasks import keep_feedback
    from halfstep.errors import ReadError

    try:
        return keep_feedback(school, name, Path(file))
    except ReadError as error:
        raise error.at(source=file) from None


def _said(school: School, name: str, arguments: argparse.Namespace) -> Evidence:
    from halfstep.app.tasks.practice_tasks import keep_word
    from halfstep.errors import BriefError

    if arguments.word is None:
        raise BriefError("`word` is missing; say clean, nearly or not-yet")
    day = arguments.day or ""
    return keep_word(school, name, arguments.number, arguments.word, day=day)
