"""``halfstep school``: who signs in where several teach, and copies of all that is kept."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, wrapped_help
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from halfstep.school.database import School

DESCRIPTION = "Let people in where several teach, and copy all that is kept."
EXAMPLES = (
    "halfstep school invite Wilma --as owner",
    "halfstep school invite Otis --as teacher",
    "halfstep school invite Greta --as guardian --player Odile",
    "halfstep school people",
    "halfstep school link Otis",
    "halfstep school end Otis",
    "halfstep school settings",
    "halfstep school choose recording-days --to 90",
    "halfstep school backup /mnt/copies",
    "halfstep school verify /mnt/copies/2026-11-29T18-00-00Z",
    "halfstep school restore /mnt/copies/2026-11-29T18-00-00Z --data new-folder",
)


def epilog() -> str:
    """What changes with the first owner."""
    return wrapped_help(
        "ACTION is invite, people, link, end, settings, choose, tidy, backup, verify or restore. "
        "With its first owner a desk becomes a school: people sign in, and the address that "
        "halfstep serve prints opens the desk no more. invite and link print the path of a page on "
        "which a password is chosen; it works once, within seven days, and no mail is sent. "
        "settings says from which age a player decides alone and how long things are kept, choose "
        "NAME --to VALUE changes one of them, and tidy lets go at once what is past its time, as "
        "serve and work do by themselves. backup copies all into a new folder of NAME while "
        "people work on; verify compares a copy with its lists, and with a --data folder where "
        "one is said; restore gives it back into an empty one. A copy is as private as the data "
        "folder."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("school_action", metavar="ACTION", help=", ".join(ACTIONS))
    parser.add_argument(
        "name",
        metavar="NAME",
        nargs="?",
        help="who signs in by it; a setting; a copy's folder",
    )
    parser.add_argument(
        "--as", dest="role", metavar="ROLE", help="owner, teacher, guardian or student"
    )
    parser.add_argument("--player", metavar="NAME", help="the student who it is, or whose guardian")
    parser.add_argument("--to", metavar="VALUE", help="what a setting is to be")
    parser.add_argument("--keep", metavar="N", help="how many copies stand then (default: 7)")
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Do what is asked."""
    from halfstep.services.request_fields import choice_of

    action = choice_of("school_action", arguments.school_action, ACTIONS)
    if arguments.school_action not in _NAMELESS and not (arguments.name or "").strip():
        parser.error(f"halfstep school {arguments.school_action} needs a NAME")
    for line in ACTIONS[action](arguments):
        print(line)


# People


def _invite(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.account_tasks import THE_MACHINE, invite
    from halfstep.school.accounts import AccountRole
    from halfstep.school.students import student_id
    from halfstep.services.request_fields import choice_of

    roles = {str(role): role for role in AccountRole}
    role = roles[choice_of("role", arguments.role or "", roles)]
    player = None
    with school_of(arguments) as school:
        if arguments.player is not None:
            with school.reading() as connection:
                player = student_id(connection, arguments.player)
        yield _link(invite(school, arguments.name, role, player=player, by=THE_MACHINE))


def _link(word: str) -> str:
    return f"once, within seven days: /join/{word}"


def _people(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.school.accounts import every_account

    with school_of(arguments) as school, school.reading() as connection:
        accounts = every_account(connection)
    if not accounts:
        yield "this is one teacher's desk; make it a school: halfstep school invite NAME --as owner"
    for account in accounts:
        yield f"{account.name}: {account.role}{'' if account.password else ', has not come yet'}"


def _new_link(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.account_tasks import THE_MACHINE, new_link

    with school_of(arguments) as school:
        yield _link(new_link(school, _number(school, arguments.name), by=THE_MACHINE))


def _end(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.account_tasks import THE_MACHINE, let_out

    with school_of(arguments) as school:
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


# How long things are kept


def _settings(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.school.chosen_language import LANGUAGE, chosen_language
    from halfstep.school.settings import SETTINGS, value_of
    from halfstep.school.time_zone import TIME_ZONE, chosen_zone

    with school_of(arguments) as school, school.reading() as connection:
        for name, one in SETTINGS.items():
            value = value_of(connection, one)
            bounds = f"{one.least} to {one.most}"
            yield f"{name}: {value} {one.unit} ({bounds}); {one.title.lower()}: {one.words}"
        yield f"{TIME_ZONE}: {chosen_zone(connection) or 'that of the machine'}"
        yield f"{LANGUAGE}: {chosen_language(connection) or 'of the pages, that of each browser'}"


def _choose(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.setting_tasks import choose_settings
    from halfstep.errors import BriefError
    from halfstep.school.settings import kept_text

    with school_of(arguments) as school:
        try:
            choose_settings(school, {arguments.name: arguments.to or ""})
        except BriefError as error:
            raise BriefError(error.worded(lambda _: arguments.name)) from None
        with school.reading() as connection:
            yield f"{arguments.name}: {kept_text(connection, arguments.name)}"


def _tidy(arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.school.retention import let_go

    with school_of(arguments) as school:
        yield f"gone: {let_go(school).words}"


# Copies


def _backup(arguments: argparse.Namespace) -> Iterator[str]:
    from pathlib import Path

    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.school.backup import KEPT, back_up

    keep = KEPT if arguments.keep is None else _whole_number(arguments.keep)
    with school_of(arguments) as school, progress_bar("copying") as told:
        copy = back_up(school, Path(arguments.name), told, keep=keep)
    yield f"copied: {copy.rows} rows and {copy.files} files to {copy.folder}"
    yield from (f"removed: {path}" for path in copy.removed)


def _whole_number(text: str) -> int:
    from halfstep.errors import BriefError

    if not (text.isascii() and text.isdecimal()):
        raise BriefError(f"`keep` {text!r}: give a whole number")
    return int(text)


def _verify(arguments: argparse.Namespace) -> Iterator[str]:
    from pathlib import Path

    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.errors import ReadError
    from halfstep.school.backup import differences, faults_of_backup

    folder, is_compared = Path(arguments.name), arguments.data is not None
    with progress_bar("comparing") as told:
        faults = faults_of_backup(folder, told)
        if is_compared and not faults:
            with school_of(arguments) as school:
                faults = differences(folder, school, told)
    if faults:
        raise ReadError(f"{folder}: {'; '.join(faults[:_SHOWN])}{_more(len(faults))}")
    yield f"{folder} is whole{f' and the same as {arguments.data}' if is_compared else ''}"


def _more(count: int) -> str:
    return f"; and {count - _SHOWN} more" if count > _SHOWN else ""


def _restore(arguments: argparse.Namespace) -> Iterator[str]:
    from pathlib import Path

    from halfstep.app.terminal.progress_bar import progress_bar
    from halfstep.errors import StoreError
    from halfstep.school.backup import restore
    from halfstep.school.data_folder import data_folder

    data = data_folder(arguments.data)
    with progress_bar("giving back") as told:
        faults = restore(Path(arguments.name), data, told)
    if faults:
        raise StoreError(f"{data}: {'; '.join(faults[:_SHOWN])}{_more(len(faults))}")
    yield f"given back to {data}, compared row by row and file by file"
    yield "whoever is known to have been erased since the copy was made is erased here as well"


_SHOWN = 5
_NAMELESS = frozenset({"people", "settings", "tidy"})
"""What needs no NAME."""
ACTIONS: dict[str, Callable[[argparse.Namespace], Iterator[str]]] = {
    "invite": _invite,
    "people": _people,
    "link": _new_link,
    "end": _end,
    "settings": _settings,
    "choose": _choose,
    "tidy": _tidy,
    "backup": _backup,
    "verify": _verify,
    "restore": _restore,
}
