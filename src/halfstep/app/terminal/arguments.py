"""How do arguments become a request? By the names of its fields, which each option knows.

Every option is stored under the name of the field that it fills, so that an error about
that field can be told in the option's own name.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable

from halfstep.app.terminal.columns import screen_columns
from halfstep.errors import BriefError, did_you_mean, worded

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any, ClassVar, NoReturn, Protocol, TypeVar

    class AnyRequest(Protocol):
        """A frozen request of `halfstep.services`."""

        __dataclass_fields__: ClassVar[dict[str, Any]]

    Request = TypeVar("Request", bound=AnyRequest)


def chart_help() -> str:
    """What a chart may be, from the table of notations."""
    from halfstep.progression.notations import NOTATIONS, notation_words

    files = notation_words(notation for notation in NOTATIONS if notation.read)
    example = '"| Am7 D7 | Gmaj7 | N.C. |"'
    return wrapped_help(
        f"CHART is a line of chords in bars, such as {example}, or a file: {files}; a chart that "
        "was stored as data (.json) is read too."
    )


def wrapped_help(text: str) -> str:
    """A paragraph of help in lines of a page."""
    from textwrap import wrap

    lines = wrap(text, 90, break_on_hyphens=False)
    return "".join(f"{line}\n" for line in lines)


class _ScreenHelp(argparse.RawDescriptionHelpFormatter):
    """Help as wide as the screen."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=screen_columns() - 2)


class CommandParser(argparse.ArgumentParser):
    """A parser whose errors are one line, and that knows which option fills which field.

    Parameters
    ----------
    below : callable
        What stands below the options in the help, made when that is shown.
    """

    def __init__(self, *, below: Callable[[], str] = str, **options: Any) -> None:
        self._words: dict[str, str] = {}
        self._below = below
        super().__init__(**options, formatter_class=_ScreenHelp)

    def format_help(self) -> str:
        """The help, with what stands below it."""
        self.epilog = self._below()
        return super().format_help()

    def add_argument(self, *arguments: Any, **options: Any) -> argparse.Action:
        """An argument, remembered with the field that it fills."""
        action = super().add_argument(*arguments, **options)
        self._words[action.dest] = (*action.option_strings, str(action.metavar))[0]
        return action

    def word(self, field: str) -> str:
        """What a user types for a field of the request."""
        return self._words.get(field, f"`{field}`")

    @property
    def options(self) -> tuple[argparse.Action, ...]:
        """The arguments in the order of the help; those without option strings have a place."""
        return tuple(self._actions)

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """The arguments, or an error that names the option that may have been meant."""
        arguments, unknown = self.parse_known_args(args, namespace)
        if unknown:
            known = (word for action in self._actions for word in action.option_strings)
            option = next((word for word in unknown if word.startswith("--")), "")
            meant = did_you_mean(option.partition("=")[0], known) if option else ""
            self.error(f"unrecognized arguments: {' '.join(unknown)}{meant}")
        return arguments

    def in_words(self, text: str) -> str:
        """A message whose fields are called by their options."""
        return worded(text, self.word)

    def print_notes(self, notices: Iterable[str], *, to_screen: bool = False) -> None:
        """Notices on standard error, or beneath what is on the screen."""
        for notice in notices:
            text = f"note: {self.in_words(notice)}"
            print(text, file=sys.stdout if to_screen else sys.stderr)

    def error(self, message: str) -> NoReturn:
        """Raise an error of usage, as all others in one line."""
        unknown = "unrecognized" in message and "did you mean" not in message
        quotes = "put a line of chords in quotes, or " if unknown else ""
        raise BriefError(f"{message}; {quotes}see {self.prog} --help")


def add_reading(parser: CommandParser) -> None:
    """The arguments that say how a chart is to be read."""
    parser.add_argument("--tune", metavar="N", help="which tune of an ABC file of several")
    parser.add_argument(
        "--reading",
        metavar="SIGN=CHORD[,…]",
        help="what doubtful signs mean: 'C2=Csus2, C7+=Cmaj7, B=Bb, e=Em'",
    )


def add_ending(parser: CommandParser) -> None:
    """Whether a line ends at home."""
    parser.add_argument(
        "--ending",
        action=argparse.BooleanOptionalAction,
        help="where the form leads back to the top, a bar at home to end on, played the last time "
        "only (default: for a chorus)",
    )


def add_print_setting(parser: CommandParser) -> None:
    """How large the pages are, and on which tint."""
    parser.add_argument(
        "--print",
        dest="print_setting",
        metavar="SETTING",
        help="large print, a staff's height, bars on a line, a tint: large, 'large cream', "
        "'9mm 3 bars'",
    )


def add_band(parser: CommandParser) -> None:
    """The arguments that say who of the band plays, and how long."""
    parser.add_argument(
        "--rising", action="store_true", help="one file in which each chorus takes the next tempo"
    )
    parser.add_argument("--choruses", metavar="N", help="how many (default: a minute of them)")
    parser.add_argument(
        "--without", metavar="PART[,…]", help="who is left out: drums, bass, chords"
    )
    parser.add_argument(
        "--count-in", dest="count_in_bars", metavar="BARS", help="1 or 2 (default: by the tempo)"
    )
    parser.add_argument(
        "--intro",
        dest="intro_bars",
        metavar="BARS",
        help="2 or 4 bars of the band before the first chorus",
    )
    parser.add_argument(
        "--exact", dest="exact_time", action="store_true", help="all on one clock, for beginners"
    )
    parser.add_argument(
        "--bank", metavar="FILE", help="a sound bank to play, .sf2 or .sf3; see halfstep sounds"
    )


def request_from(kind: type[Request], arguments: argparse.Namespace, **values: object) -> Request:
    """A request with the fields that were typed, and with those given as values.

    Raises
    ------
    BriefError
        When a number is none.
    """
    return kind(**(typed_fields(kind, arguments) | values))


def typed_fields(kind: type[AnyRequest], arguments: argparse.Namespace) -> dict[str, Any]:
    """The fields of a request that were typed, by name.

    Raises
    ------
    BriefError
        When a number is none.
    """
    from dataclasses import fields

    return {
        field.name: _value(field.name, getattr(arguments, field.name))
        for field in fields(kind)
        if getattr(arguments, field.name, None) is not None
    }


def _value(field: str, text: Any) -> object:
    convert = _CONVERTED.get(field)
    return convert(text) if convert else text


def _chart(argument: str) -> str | Path:
    """The chart that is asked for; ``-`` reads it from standard input."""
    from halfstep.progression.load import chart_source
    from halfstep.progression.notations import MOST_TEXT_BYTES

    return chart_source(sys.stdin.read(MOST_TEXT_BYTES + 1) if argument == "-" else argument)


def _tempo(text: str) -> float:
    from halfstep.services.request_fields import tempo_typed

    return tempo_typed(text)


def _seconds(field: str, text: str) -> float:
    from halfstep.services.request_fields import seconds_typed

    return seconds_typed(text, field)


def _talk(text: str) -> float:
    from halfstep.services.request_fields import talk_typed

    return talk_typed(text)


def _seed(text: str) -> int:
    from halfstep.services.request_fields import seed_typed

    return seed_typed(text)


def _tune(text: str) -> int:
    from halfstep.services.request_fields import tune_typed

    return tune_typed(text)


def _choruses(text: str) -> int:
    from halfstep.services.band_fields import choruses_typed

    return choruses_typed(text)


def _bars(field: str, text: str) -> int:
    from halfstep.services.band_fields import bars_typed

    return bars_typed(field, text)


def _minutes(text: str) -> float:
    from halfstep.services.request_fields import minutes_typed

    return minutes_typed(text)


def _path(text: str) -> Path:
    from pathlib import Path

    return Path(text)


_CONVERTED: dict[str, Callable[[str], object]] = {
    "chart": _chart,
    "tempo_bpm": _tempo,
    "seed": _seed,
    "start_s": lambda text: _seconds("start_s", text),
    "line_start_s": lambda text: _seconds("line_start_s", text),
    "talk_s": _talk,
    "tune": _tune,
    "minutes": _minutes,
    "choruses": _choruses,
    "count_in_bars": lambda text: _bars("count_in_bars", text),
    "intro_bars": lambda text: _bars("intro_bars", text),
    "instruments": lambda text: tuple(text.split(",")),
    **dict.fromkeys(
        ("folder", "take", "backing", "line", "kept_from", "lesson", "etude", "words", "course"),
        _path,
    ),
}
"""Fields that are no text."""
