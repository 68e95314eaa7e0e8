"""``halfstep course``: a course as a table, as data, or drawn; another course checked."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, request_from, wrapped_help
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from halfstep.services.show_course import CourseReply, ShowCourse

DESCRIPTION = "Show what there is to learn and in which order, or check a course of your own."
EXAMPLES = (
    "halfstep course show",
    "halfstep course show --for alto-sax --out map.pdf",
    "halfstep course show --unit major-blues --for trumpet",
    'halfstep course show --chart "| Am7 D7 | Gmaj7 |"',
    "halfstep course show --student Odile --out map.pdf",
    "halfstep course check my-course",
)


def epilog() -> str:
    """What a folder may hold."""
    return wrapped_help(
        "FOLDER holds a file for each unit, such as two-doors.toml. With a file course.toml, which "
        "gives a title and the order, it is a course of its own; without one its units are added "
        "to the program's course."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("course_action", metavar="ACTION", help=", ".join(ACTIONS))
    parser.add_argument("folder", metavar="FOLDER", nargs="?", help="a course of your own")
    parser.add_argument("--unit", metavar="NAME", help="show this unit in full")
    parser.add_argument(
        "--chart", metavar="CHART", help="show the unit that these chords belong to"
    )
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who meets its keys")
    parser.add_argument(
        "--level", metavar="LEVEL", help="beginner, intermediate or advanced (default: each unit's)"
    )
    parser.add_argument("--keys", metavar="KEYS", help='only these written keys, such as "C G F"')
    parser.add_argument("--student", dest="name", metavar="NAME", help="show where one stands")
    parser.add_argument("--json", action="store_true", help="as data")
    parser.add_argument("--out", metavar="FILE", help="draw its map on a page: .pdf or .svg")
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Do what is asked."""
    from halfstep.services.request_fields import choice_of

    ACTIONS[choice_of("course_action", arguments.course_action, ACTIONS)](arguments, parser)


def _show(arguments: argparse.Namespace, parser: CommandParser) -> None:
    from halfstep.app.terminal.out_file import out_path, print_document, write_content
    from halfstep.services.show_course import COURSE_MAP_SUFFIXES, ShowCourse, show_course

    out = None if arguments.out is None else out_path(arguments.out, COURSE_MAP_SUFFIXES)
    request = request_from(ShowCourse, arguments)
    reply = show_course(request) if arguments.name is None else _of_student(request, arguments)
    lines = _lines(reply, arguments)
    notices: tuple[str, ...] = ()
    if out:
        notices = write_content(reply.map_file(out.suffix.lower()), out, beside_data=arguments.json)
    if arguments.json:
        from halfstep.data.documents import json_text

        print_document(json_text(reply.data()))
    elif not out:
        print("\n".join(lines))
    parser.print_notes(notices)


def _lines(reply: CourseReply, arguments: argparse.Namespace) -> Iterator[str]:
    """The course, or the one unit that is meant.

    Raises
    ------
    BriefError
        When there is none.
    """
    from halfstep.app.terminal.course_table import table_lines, unit_lines
    from halfstep.errors import BriefError

    if arguments.unit is not None:
        return unit_lines(reply, arguments.unit)
    if arguments.chart is None:
        return table_lines(reply)
    if reply.kind is None:
        raise BriefError("`chart`: no unit of the course has chords like these")
    return unit_lines(reply, reply.kind.unit.name)


def _of_student(request: ShowCourse, arguments: argparse.Namespace) -> CourseReply:
    """The course as a student meets it, with where the student stands."""
    from dataclasses import replace

    from halfstep.app.tasks.student_tasks import standings_of_student
    from halfstep.services.show_course import show_course

    with school_of(arguments) as school:
        student, standings = standings_of_student(school, arguments.name, course=request.folder)
    own = replace(
        request,
        instrument=student.instrument.key,
        level=str(student.level),
        keys=request.keys or student.keys,
    )
    return show_course(own, standings=standings, student=student.name)


def _check(arguments: argparse.Namespace, _parser: CommandParser) -> None:
    """Say all that is wrong with a course.

    Raises
    ------
    BriefError
        When something is.
    """
    from halfstep.errors import BriefError
    from halfstep.services.check_course import CheckCourse, check_course

    if arguments.folder is None:
        raise BriefError("`folder` is missing; give the folder of a course to check")
    verdict = check_course(request_from(CheckCourse, arguments))
    for fault in verdict.faults:
        print(fault)
    if verdict.faults:
        count = len(verdict.faults)
        things = "1 thing is" if count == 1 else f"{count} things are"
        raise BriefError(f"{things} wrong with the course in {arguments.folder}")
    assert verdict.course
    print(f"{verdict.course.title}: {len(verdict.course.units)} units, nothing is wrong")


ACTIONS: dict[str, Callable[[argparse.Namespace, CommandParser], None]] = {
    "show": _show,
    "check": _check,
}
"""What can be done, by the word for it."""
