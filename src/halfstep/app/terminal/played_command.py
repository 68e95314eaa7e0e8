"""``halfstep played``: a player's own word of how an item of the day's plan went."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, wrapped_help
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

DESCRIPTION = "Say how something of the day's plan went: clean, nearly, or not yet."
EXAMPLES = (
    "halfstep played 2 clean --student Odile",
    "halfstep played 3 not-yet --student Odile --today 2026-03-02",
)


def epilog() -> str:
    """What the word does."""
    return wrapped_help(
        "ITEM is its number in the plan. WORD is clean, nearly or not-yet; a later word of the "
        "same day takes the place of the first. What is played is planned by it from then on."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("number", metavar="ITEM", help="its number in the plan")
    parser.add_argument("word", metavar="WORD", help="clean, nearly or not-yet")
    parser.add_argument("--student", dest="name", metavar="NAME", help="who played it")
    parser.add_argument("--today", dest="day", metavar="DATE", help="which day, such as 2026-03-02")
    add_data(parser)


def run(arguments: argparse.Namespace, _parser: CommandParser) -> None:
    """Keep the word."""
    from halfstep.app.tasks.practice_tasks import keep_word

    with school_of(arguments) as school:
        item, evidence = keep_word(
            school,
            arguments.name or "",
            arguments.number,
            arguments.word,
            day=arguments.day or "",
        )
    skill = item.skill
    word = str(evidence.verdict).replace("-", " ")
    print(f"kept: {skill.unit}, {skill.step}, at {item.tempo_bpm:g}: {word}")
