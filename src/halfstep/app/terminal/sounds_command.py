"""``halfstep sounds``: which instruments play, and which other banks there are."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, request_from

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from halfstep.render.known_banks import KnownBank
    from halfstep.services.list_sounds import SoundsReply

DESCRIPTION = "Show the instruments that play, and other sound banks with their licences."
EXAMPLES = (
    "halfstep sounds",
    "halfstep sounds --bank better.sf3",
)
_SHOWN = 24
_WIDTH = 92


def epilog() -> str:
    """Nothing more."""
    return ""


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("--bank", metavar="FILE", help="what this one has, .sf2 or .sf3")


def run(arguments: argparse.Namespace, _parser: CommandParser) -> None:
    """Show the banks."""
    from halfstep.services.list_sounds import ListSounds, list_sounds

    print("\n".join(sound_lines(list_sounds(request_from(ListSounds, arguments)))))


def sound_lines(reply: SoundsReply) -> Iterator[str]:
    """The reply as lines."""
    from textwrap import fill

    yield f"plays: {_headline(reply.used)}"
    yield from _names("instruments", reply.used.instruments)
    yield from _names("kits", reply.used.kits)
    if reply.others:
        yield ""
        yield "also on this machine:"
    for bank in reply.others:
        yield f"  {_headline(bank)}"
    yield ""
    for advice in reply.advice:
        yield fill(advice, _WIDTH)


def _headline(bank: KnownBank) -> str:
    if bank.fault:
        return bank.fault
    counted = f"{len(bank.instruments)} instruments, {len(bank.kits)} drum kits"
    name = "the program's own bank" if bank.is_shipped else str(bank.path)
    return f"{name} ({counted}; licence: {bank.licence})"


def _names(word: str, names: tuple[str, ...]) -> Iterator[str]:
    """A list of names on lines of its own."""
    from textwrap import fill

    more = f", and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
    text = f"{word}: {', '.join(names[:_SHOWN]) or 'none'}{more}"
    yield fill(text, _WIDTH, initial_indent="  ", subsequent_indent="    ")
