"""``halfstep student``: who studies; added, listed, shown, given away whole, erased."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_print_setting,
    request_from,
    typed_fields,
    wrapped_help,
)

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from halfstep.app.tasks.student_tasks import KeptOfStudent
    from halfstep.school.database import School
    from halfstep.school.students import Student

DESCRIPTION = "Keep who studies: a nickname, an instrument, a level, and what was played."
EXAMPLES = (
    "halfstep student add Odile --for alto-sax --level beginner",
    'halfstep student change Odile --print "large cream"',
    'halfstep student add Bram --for trombone --notes "Bb2 C3 D3 Eb3 F3" --keys "Bb F"',
    "halfstep student play Odile --for clarinet --level beginner",
    "halfstep student list",
    "halfstep student show Odile --page odile.pdf",
    "halfstep student under-age Odile",
    "halfstep student allow Odile --purpose recording",
    "halfstep student export Odile --out odile-export",
    "halfstep student erase Odile --yes",
)
_LATEST = 8


def epilog() -> str:
    """What is kept, and what to mind."""
    return wrapped_help(
        "ACTION is add, change, play, list, show, under-age, of-age, allow, take-back, export or "
        "erase. play takes up another instrument, one that is new to the student as well; plans "
        "and what is known are kept apart for each. "
        "A nickname is enough: no other fact of a person is kept, and nothing is sent anywhere. "
        "Recordings of minors need a guardian's word first: for who is marked under-age nothing is "
        "recorded until allow writes down what a guardian signed, for a --purpose each; take-back "
        "holds at once. Local rules come before this program. erase removes recordings, feedback, "
        "evidence and plans from the data folder; copies made elsewhere it cannot reach."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("student_action", metavar="ACTION", help=", ".join(ACTIONS))
    parser.add_argument("name", metavar="NAME", nargs="?", help="a nickname")
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="what is played")
    parser.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    parser.add_argument(
        "--notes", dest="known_notes", metavar="NOTES", help="the only written notes that are known"
    )
    parser.add_argument("--keys", metavar="KEYS", help="written keys that are known")
    add_print_setting(parser)
    parser.add_argument("--minutes", metavar="N", help="of a day's practice (default: 30)")
    parser.add_argument("--page", metavar="FILE", help="draw the way so far: .svg or .pdf")
    parser.add_argument("--today", dest="day", metavar="DATE", help="how it stood on that day")
    parser.add_argument("--out", dest="folder", metavar="DIR", help="where an export goes")
    parser.add_argument(
        "--purpose", metavar="PURPOSE", help="recording, hearing, sharing or keeping"
    )
    parser.add_argument("--yes", action="store_true", help="erase without asking")
    add_data(parser)


def add_data(parser: CommandParser) -> None:
    """Where what is kept lies."""
    parser.add_argument(
        "--data", metavar="DIR", help="the data folder (default: HALFSTEP_DATA, or your own)"
    )


def school_of(arguments: argparse.Namespace) -> School:
    """What is kept in the folder that is meant.

    Raises
    ------
    BriefError, StoreError
    """
    from halfstep.school.data_folder import data_folder
    from halfstep.school.database import School
    from halfstep.school.time_zone import live_in_zone

    school = School(data_folder(arguments.data))
    live_in_zone(school)
    return school


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Do what is asked."""
    from halfstep.services.request_fields import choice_of

    action = choice_of("student_action", arguments.student_action, ACTIONS)
    if action != "list" and not (arguments.name or "").strip():
        parser.error(f"halfstep student {action} needs the NAME of a student")
    with school_of(arguments) as school:
        for line in ACTIONS[action](school, arguments):
            print(line)


def _add(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.student_tasks import AddStudent, keep_student
    from halfstep.errors import BriefError

    if arguments.instrument is None:
        raise BriefError("`instrument`: say what is played, such as alto-sax")
    request = request_from(AddStudent, arguments)
    student = keep_student(school, request)
    yield f"added: {_student_line(student)}"


def _change(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.student_tasks import AddStudent, change_facts
    from halfstep.errors import BriefError

    changed = typed_fields(AddStudent, arguments)
    name = changed.pop("name")
    if not changed:
        raise BriefError("nothing to change: give `instrument`, `level` or another option")
    student = change_facts(school, name, changed)
    yield f"changed: {_student_line(student)}"


def _play(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    """Take up an instrument, one that is new to the student as well."""
    from halfstep.app.tasks.doubling_tasks import add_instrument, play_instrument
    from halfstep.app.tasks.student_tasks import AddStudent
    from halfstep.errors import BriefError
    from halfstep.school.doublings import instruments_of
    from halfstep.school.students import find_student

    if arguments.instrument is None:
        raise BriefError("`instrument`: say what is played, such as clarinet")
    with school.reading() as connection:
        student = find_student(connection, arguments.name)
        played = {one.instrument.key for one in instruments_of(connection, student)}
    number = student.number or 0
    if arguments.instrument not in played:
        add_instrument(school, number, request_from(AddStudent, arguments))
    yield f"plays: {_student_line(play_instrument(school, number, arguments.instrument))}"


def _list(school: School, _: argparse.Namespace) -> Iterator[str]:
    from itertools import groupby

    from halfstep.school.doublings import every_player
    from halfstep.school.students import every_student

    with school.reading() as connection:
        students = every_student(connection)
        players = every_player(connection, students)
    if not students:
        yield "nobody is kept here yet; add one: halfstep student add NAME --for INSTRUMENT"
    at_hand = {student.number: student for student in students}
    for number, of_one in groupby(players, key=lambda player: player.number):
        student = at_hand[number]
        others = (one for one in of_one if one.doubling != student.doubling)
        also = "".join(f"; also {one.instrument.label}, {one.level}" for one in others)
        yield f"{_student_line(student)}{also}"


def _student_line(student: Student) -> str:
    facts = (student.instrument.label, str(student.level), f"{student.minutes:g} minutes a day")
    notes = f"notes {student.known_notes}" if student.known_notes else ""
    keys = f"keys {student.keys}" if student.keys else ""
    print_words = f"print {student.print_setting}" if student.print_setting else ""
    return f"{student.name}: {', '.join(filter(None, (*facts, notes, keys, print_words)))}"


def _show(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.student_tasks import kept_of

    kept = kept_of(school, arguments.name)
    if arguments.page is not None:
        yield _page_written(school, arguments)
    yield _student_line(kept.student)
    yield f"  since {kept.student.added_at:%Y-%m-%d}"
    yield f"  takes kept: {kept.takes}, plans: {kept.plans}, played: {len(kept.evidence)}"
    yield from _allowed(school, kept.student)
    yield from _latest(kept)


def _allowed(school: School, student: Student) -> Iterator[str]:
    from halfstep.school.consents import Purpose, consent_state
    from halfstep.school.students import student_id

    with school.reading() as connection:
        state = consent_state(connection, student_id(connection, student.name))
    words = (f"{one} {'yes' if state.allows(one) else 'no'}" for one in Purpose)
    yield f"  {'under age' if state.is_under_age else 'decides alone'}; allowed: {', '.join(words)}"


def _mark(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.consent_tasks import say_age
    from halfstep.school.students import find_student

    with school.reading() as connection:
        student = find_student(connection, arguments.name)
    say_age(school, student.number or 0, is_under=arguments.student_action == "under-age")
    yield f"marked: {student.name}"
    yield from _allowed(school, student)


def _say(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    """Write down what a guardian signed, or what a player who decides alone says."""
    from halfstep.app.tasks.consent_tasks import SayConsent, say_consent
    from halfstep.school.consents import Giver, is_under_age
    from halfstep.school.students import find_student

    with school.reading() as connection:
        student = find_student(connection, arguments.name)
        is_under = is_under_age(connection, student.number or 0)
    is_given = arguments.student_action == "allow"
    giver = Giver.TEACHER if not is_given else Giver.PAPER if is_under else Giver.PLAYER
    say_consent(school, SayConsent(student.number or 0, arguments.purpose or "", is_given, giver))
    yield f"written down: {student.name}"
    yield from _allowed(school, student)


def _page_written(school: School, arguments: argparse.Namespace) -> str:
    """The page of a student's way, written into a file."""
    from halfstep.app.tasks.student_tasks import progress_of_student
    from halfstep.app.terminal.out_file import out_path
    from halfstep.files import write_whole
    from halfstep.services.show_progress import PROGRESS_SUFFIXES

    path = out_path(arguments.page, PROGRESS_SUFFIXES, field="page")
    _, reply = progress_of_student(school, arguments.name, day=arguments.day or "")
    write_whole(path, reply.file(path.suffix.lower()))
    return f"written to {path}"


def _latest(kept: KeptOfStudent) -> Iterator[str]:
    """What was played last, the newest first."""
    for piece in reversed(kept.evidence[-_LATEST:]):
        skill = piece.skill
        yield (
            f"  {piece.at:%Y-%m-%d}  {skill.unit}, {skill.step}, at {piece.tempo_bpm:g}: "
            f"{str(piece.verdict).replace('-', ' ')}"
        )


def _export(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.app.tasks.student_tasks import default_export_folder
    from halfstep.app.terminal.out_file import out_folder
    from halfstep.school.leaving import export_student
    from halfstep.school.students import find_student

    with school.reading() as connection:
        student = find_student(connection, arguments.name)
    folder = out_folder(arguments.folder) if arguments.folder else default_export_folder(student)
    for file in export_student(school, student.name, folder):
        yield f"written to {file}"


def _erase(school: School, arguments: argparse.Namespace) -> Iterator[str]:
    from halfstep.errors import BriefError
    from halfstep.school.leaving import erase_student
    from halfstep.school.students import find_student

    with school.reading() as connection:
        student = find_student(connection, arguments.name)
    if not arguments.yes and not _is_confirmed(student):
        raise BriefError(f"{student.name} was not erased; give `yes` to do it")
    erase_student(school, student.name)
    yield f"erased: {student.name}, with all recordings, feedback, evidence and plans"


def _is_confirmed(student: Student) -> bool:
    """True where the user types the name; nobody is asked where no one can answer."""
    import sys

    if not sys.stdin.isatty():
        return False
    typed = input(f"Erase all that is kept of {student.name}? Type the name to do it: ")
    return typed.strip().casefold() == student.name.casefold()


ACTIONS: dict[str, Callable[[School, argparse.Namespace], Iterator[str]]] = {
    "add": _add,
    "change": _change,
    "play": _play,
    "list": _list,
    "show": _show,
    "under-age": _mark,
    "of-age": _mark,
    "allow": _say,
    "take-back": _say,
    "export": _export,
    "erase": _erase,
}
"""What can be done, by the word for it."""
