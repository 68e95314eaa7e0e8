"""``halfstep school``: who signs in where several teach."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, wrapped_help
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from halfstep.school.database import School

DESCRIPTION = "Let people in where several teach: each signs in with a name and a password."
EXAMPLES = (
    "halfstep school invite Wilma --as owner",
    "halfstep school invite Otis --as teacher",
    "halfstep school invite Greta --as guardian --player Odile",
    "halfstep school people",
    "halfstep school link Otis",
    "halfstep school end Otis",
)


def epilog() -> str:
    """What changes with the first owner."""
    return wrapped_help(
        "ACTION is invite, people, link or end. With its first owner a desk becomes a school: "
        "people sign in, and the address that halfstep serve prints opens the desk no more. invite "
        "and link print the path of a page on which a password is chosen; it works once, within "
        "seven days, and no mail is sent."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("school_action", metavar="ACTION", help=", ".join(ACTIONS))
    parser.add_argument("name", metavar="NAME", nargs="?", help="who signs in by it")
    parser.add_argument(
        "--as", dest="role", metavar="ROLE", help="owner, teacher, guardian or student"
    )
    parser.add_argument("--player", metavar="NAME", help="the student who it is, or whose guardian")
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Do what is asked."""
    from halfstep.services.request_fields import choice_of

    action = choice_of("school_action", arguments.school_action, ACTIONS)
    if action != "people" and not (arguments.name or "").strip():
        parser.error(f"halfstep school {action} needs the NAME of somebody")
    with school_of(arguments) as school:
        for line in ACTIONS[action](school, arguments):
            print(line)


def _invite(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.account_tasks import THE_MACHINE, invite
    from halfstep.school.accounts import AccountRole
    from halfstep.school.students import student_id
    from halfstep.services.request_fields import choice_of

    roles = {str(role): role for role in AccountRole}
    role = roles[choice_of("role", arguments.role or "", roles)]
    player = None
    if arguments.player is not None:
        with school.reading() as connection:
            player = student_id(connection, arguments.player)
    yield _link(invite(school, arguments.name, role, player=player, by=THE_MACHINE))


def _link(word: str) -> str:
    return f"once, within seven days: /join/{word}"


def _people(school: School, _: argparse.Namespace) -> Iterator[str]:
    from halfstep.school.accounts import every_account

    with school.reading() as connection:
        accounts = every_account(connection)
    if not accounts:
        yield "this is one teacher's desk; make it a school: halfstep school invite NAME --as owner"
    for account in accounts:
        yield f"{account.name}: {account.role}{'' if account.password else ', has not come yet'}"


def _new_link(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.account_tasks import THE_MACHINE, new_link

    yield _link(new_link(school, _number(school, arguments.name), by=THE_MACHINE))


def _end(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.account_tasks import THE_MACHINE, let_out

    let_out(school, _number(school, arguments.name), by=THE_MACHINE)
    yield f"{arguments.name} signs in no more"


def _number(school: School, name: str) -> int:
    from halfstep.errors import BriefError
    from halfstep.school.accounts import account_named, every_account

    with school.reading() as connection:
        account = account_named(connection, name)
        names = [one.name for one in every_account(connection)]
    if account is None:
        raise BriefError(f"`name`: {name} does not sign in here; there are {', '.join(names)}")
    return account.number


ACTIONS: dict[str, Callable[[School, argparse.Namespace], Iterator[str]]] = {
    "invite": _invite,
    "people": _people,
    "link": _new_link,
    "end": _end,
}
