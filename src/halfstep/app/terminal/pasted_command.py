"""What would work, as a command to paste: the one that was typed, with the offer put in.

The whole command is given, because half of one is what a hurried teacher mistypes. A chart
that came from standard input, or that holds a line break, has its place kept by ``CHART``.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from halfstep.app.terminal.arguments import CommandParser
    from halfstep.services.write_etude import WriteEtude

_FIELDS = (
    "step", "instrument", "level", "tempo_bpm", "known_notes", "low", "high", "seed",
    "kept_bars", "kept_from", "tune", "reading", "print_setting", "out",
)  # fmt: skip
"""What takes a value, in the order of the command."""

_BARE = r"[\w.,:/+=#-]+"
_OPEN_IN_QUOTES = r'["$`\\!]'


def pasted_command(
    arguments: argparse.Namespace, request: WriteEtude, offer: WriteEtude, parser: CommandParser
) -> str:
    """The command that writes what is offered.

    Parameters
    ----------
    arguments : Namespace
        As they were typed.
    request, offer : WriteEtude
        What they ask for, and what works.
    parser : CommandParser
    """
    words = ["halfstep", "etude", _chart(arguments.chart)]
    for field in _FIELDS:
        value = getattr(arguments, field)
        if getattr(offer, field, None) != getattr(request, field, None):
            value = _typed(getattr(offer, field))
        if value is not None:
            words += [parser.word(field), quoted(value)]
    switches = [parser.word(name) for name in _SWITCHES if getattr(arguments, name)]
    return " ".join([*words, *_ending(arguments, parser), *switches])


_SWITCHES = ("degrees", "plain", "midi_band")


def _ending(arguments: argparse.Namespace, parser: CommandParser) -> list[str]:
    word = parser.word("ending")
    return {None: [], True: [word], False: [word.replace("--", "--no-")]}[arguments.ending]


def _typed(value: object) -> str | None:
    """A field as it is typed."""
    return f"{value:g}" if isinstance(value, float) else value if value is None else str(value)


def _chart(typed: str) -> str:
    return quoted(typed) if typed.isprintable() and typed != "-" else "CHART"


def quoted(text: str) -> str:
    """A word as every shell reads it; in double quotes where they are enough."""
    if re.fullmatch(_BARE, text, re.ASCII):
        return text
    if not re.search(_OPEN_IN_QUOTES, text):
        return f'"{text}"'
    import shlex

    return shlex.quote(text)
