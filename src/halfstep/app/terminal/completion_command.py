"""``halfstep completion``: what a shell needs to complete what is typed.

All words come from the parsers of the commands and from the lists that their options choose
from, so that nothing can be forgotten. The script is printed, not installed.
"""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence

DESCRIPTION = "Print a script that lets a shell complete commands, options and their words."
EXAMPLES = (
    'bash:  eval "$(halfstep completion bash)"     in ~/.bashrc',
    'zsh:   eval "$(halfstep completion zsh)"      in ~/.zshrc, after compinit',
    "fish:  halfstep completion fish | source      in config.fish",
)


def epilog() -> str:
    """Nothing more."""
    return ""


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("shell", metavar="SHELL", help=", ".join(_SCRIPTS))


def run(arguments: argparse.Namespace, _parser: CommandParser) -> None:
    """Print the script of a shell."""
    from halfstep.services.request_fields import choice_of

    print(_SCRIPTS[choice_of("shell", arguments.shell, _SCRIPTS)](), end="")


def words_of(action: argparse.Action) -> tuple[str, ...]:
    """The words that an argument is chosen from; empty where it takes anything."""
    words = _WORDS.get(str(action.metavar)) or _WORDS.get(action.dest)
    return words() if words else ()


def _instruments() -> tuple[str, ...]:
    from halfstep.instruments import INSTRUMENTS

    return tuple(INSTRUMENTS)


def _readers() -> tuple[str, ...]:
    from halfstep.part.lead_sheet import READERS

    return (*_instruments(), *READERS)


def _levels() -> tuple[str, ...]:
    from halfstep.level import Level

    return tuple(map(str, Level))


def _feels() -> tuple[str, ...]:
    from halfstep.meter import Feel

    return tuple(map(str, Feel))


def _styles() -> tuple[str, ...]:
    from halfstep.backing import STYLES

    return (*(style.name for style in STYLES), "list")


def _queues() -> tuple[str, ...]:
    from halfstep.school.lanes import LANES

    return tuple(LANES)


def _sound_formats() -> tuple[str, ...]:
    from halfstep.render.sound_file import SOUND_FORMATS

    return tuple(SOUND_FORMATS)


def _band_parts() -> tuple[str, ...]:
    from halfstep.lesson.backing_brief import PARTS

    return PARTS


def _drones() -> tuple[str, ...]:
    from halfstep.lesson.backing_brief import DRONES

    return DRONES


def _film_sizes() -> tuple[str, ...]:
    from halfstep.render.film_sizes import FILM_SIZES

    return tuple(FILM_SIZES)


def _steps() -> tuple[str, ...]:
    from halfstep.etude.steps import STEP_NAMES, VOCABULARY_NAMES

    return (*STEP_NAMES, *VOCABULARY_NAMES)


def _course_actions() -> tuple[str, ...]:
    from halfstep.app.terminal.course_command import ACTIONS

    return tuple(ACTIONS)


def _units() -> tuple[str, ...]:
    from halfstep.course.course_folder import our_course

    return tuple(unit.name for unit in our_course().units)


def _papers() -> tuple[str, ...]:
    from halfstep.services.request_fields import PAPERS

    return PAPERS


def _notations() -> tuple[str, ...]:
    from halfstep.services.read_chart import NOTATIONS_WRITTEN

    return (*NOTATIONS_WRITTEN, "words")


def _keys() -> tuple[str, ...]:
    from halfstep.progression.key import key_of

    keys = (key_of(fifths, minor=minor) for minor in (False, True) for fifths in range(-6, 7))
    return tuple(key.ascii for key in keys)


def _print_words() -> tuple[str, ...]:
    from halfstep.render.print_setting import LARGE, TINTS

    return (LARGE, *TINTS)


def _purposes() -> tuple[str, ...]:
    from halfstep.school.consents import Purpose

    return tuple(map(str, Purpose))


def _student_actions() -> tuple[str, ...]:
    from halfstep.app.terminal.student_command import ACTIONS

    return tuple(ACTIONS)


def _school_actions() -> tuple[str, ...]:
    from halfstep.app.terminal.school_command import ACTIONS

    return tuple(ACTIONS)


def _account_roles() -> tuple[str, ...]:
    from halfstep.school.accounts import AccountRole

    return tuple(map(str, AccountRole))


def _verdicts() -> tuple[str, ...]:
    from halfstep.practice.evidence import Verdict

    return tuple(map(str, Verdict))


_WORDS: dict[str, Callable[[], tuple[str, ...]]] = {
    "instrument": _instruments, "instruments": lambda: (*_instruments(), "list"),
    "READER": _readers,
    "level": _levels, "feel": _feels, "style": _styles, "paper": _papers,
    "notation": _notations, "shown_as": lambda: ("words",),
    "print_setting": _print_words, "key": _keys,
    "keys": lambda: (*_keys(), "cycle"), "without": _band_parts, "drone": _drones,
    "size": _film_sizes,
    "student_action": _student_actions, "purpose": _purposes, "word": _verdicts,
    "school_action": _school_actions, "role": _account_roles,
    "sound_format": _sound_formats, "queue": _queues,
    "course_action": _course_actions, "unit": _units,
    "step": _steps, "steps": lambda: (*_steps(), "list"), "shell": lambda: tuple(_SCRIPTS),
}  # fmt: skip
"""Arguments that are chosen from a list, by field or by what the help calls them."""


def _parsers() -> dict[str, CommandParser]:
    from halfstep.app.terminal.command_line import COMMANDS, command_parser

    return {command: command_parser(command) for command in COMMANDS}


def _commands() -> dict[str, str]:
    from halfstep.app.terminal.command_line import COMMANDS

    return COMMANDS


def _options(parser: CommandParser) -> list[str]:
    return [word for action in parser.options for word in action.option_strings]


def _places(parser: CommandParser) -> tuple[str, ...]:
    """The words that the argument without an option is chosen from."""
    actions = (action for action in parser.options if not action.option_strings)
    return tuple(word for action in actions for word in words_of(action))


# bash, and zsh that reads what is written for bash; where no word is known, files are offered


def _bash() -> str:
    cases = "".join(_bash_cases(command, parser) for command, parser in _parsers().items())
    top = " ".join((*_commands(), "help"))
    return f"""\
_halfstep() {{
    local now="${{COMP_WORDS[COMP_CWORD]}}" words="" options=""
    if [ "$COMP_CWORD" -eq 1 ]; then
        words="{top}" options="--help --version"
    else
        case "${{COMP_WORDS[1]}} ${{COMP_WORDS[COMP_CWORD-1]}}" in
{cases}\
        esac
    fi
    case "$now" in
        -*) words="$options" ;;
    esac
    COMPREPLY=($(compgen -W "$words" -- "$now"))
}}
complete -o default -F _halfstep halfstep
"""


def _bash_cases(command: str, parser: CommandParser) -> str:
    """What follows each option, and what else may stand."""
    rows = [
        f'"{command} {option}") words="{" ".join(words_of(action))}" ;;'
        for action in parser.options
        if action.nargs != 0
        for option in action.option_strings
    ]
    words, options = " ".join(_places(parser)), " ".join(_options(parser))
    rows.append(f'"{command} "*) words="{words}" options="{options}" ;;')
    return "".join(f"            {row}\n" for row in rows)


def _zsh() -> str:
    return f"autoload -U +X bashcompinit && bashcompinit\n{_bash()}"


# fish


def _fish() -> str:
    lines = ["complete -c halfstep -n __fish_use_subcommand -l version -d 'the version'"]
    for command, does in {**_commands(), "help": "the list of the commands"}.items():
        lines.append(
            f"complete -c halfstep -n __fish_use_subcommand -f -a {command} -d {_quoted(does)}"
        )
    for command, parser in _parsers().items():
        lines += _fish_lines(f"-n '__fish_seen_subcommand_from {command}'", parser)
    return "\n".join(lines) + "\n"


def _fish_lines(seen: str, parser: CommandParser) -> list[str]:
    lines = [
        f"complete -c halfstep {seen} {_fish_names(action.option_strings)}"
        f"{_fish_value(action)} -d {_quoted(action.help or action.dest)}"
        for action in parser.options
        if action.option_strings
    ]
    if places := _places(parser):
        lines.append(f"complete -c halfstep {seen} -f -a {_quoted(' '.join(places))}")
    return lines


def _fish_names(options: Sequence[str]) -> str:
    return " ".join(f"-l {o[2:]}" if o.startswith("--") else f"-s {o[1:]}" for o in options)


def _fish_value(action: argparse.Action) -> str:
    """What follows an option: nothing, a word of a list, or a file."""
    if action.nargs == 0:
        return ""
    words = words_of(action)
    return f" -x -a {_quoted(' '.join(words))}" if words else " -r"


def _quoted(text: str) -> str:
    """Text in single quotes, as fish reads it."""
    escaped = text.replace("\\", "\\\\").replace("'", "\\'")
    return f"'{escaped}'"


_SCRIPTS: dict[str, Callable[[], str]] = {"bash": _bash, "zsh": _zsh, "fish": _fish}
"""The shells, and what writes the script of each."""
