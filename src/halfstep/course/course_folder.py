"""A folder of units -> a course, or all that is wrong with it.

``course.toml`` gives the title and the order: ``title = "…"``, ``units = ["one-chord", …]``; a
name there without a file of its own is a unit of the program's own course. A folder without it
adds its units to the program's own course, each behind the last of those that it needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path

from halfstep.course.course_check import course_faults
from halfstep.course.course_fault import CourseFault
from halfstep.course.unit import Course, CourseUnit
from halfstep.course.unit_fields import Row, row_faults, text_rule, words_rule
from halfstep.course.unit_file import UNIT_SUFFIX, table_of, unit_faults, unit_of
from halfstep.errors import ReadError

COURSE_FILE = "course.toml"
COURSE_FIELDS = {
    "title": text_rule("a title of a few words"),
    "units": words_rule("names of units in order", None),
}
OUR_FOLDER = Path(__file__).parent / "units"


@cache
def our_course() -> Course:
    """The program's own course, of whose files nothing is wrong."""
    row = table_of(OUR_FOLDER / COURSE_FILE)
    units = (unit_of(table_of(OUR_FOLDER / f"{name}{UNIT_SUFFIX}"), name) for name in row["units"])
    return Course(row["title"], tuple(units))


def course_in(folder: Path | None) -> Course:
    """The course in a folder; the program's own where none is named.

    Raises
    ------
    ReadError
        As `read_course`.
    """
    return our_course() if folder is None else read_course(folder)


def read_course(folder: Path) -> Course:
    """The course in a folder.

    Raises
    ------
    ReadError
        When there is none, or with the first thing that is wrong.
    """
    course, faults = judged_course(folder)
    if faults or course is None:
        raise faults[0].error()
    return course


def judged_course(folder: Path) -> tuple[Course | None, tuple[CourseFault, ...]]:
    """The course in a folder, as far as its files can be read, and all that is wrong with it.

    None for a folder in which no order can be found.
    """
    paths = _unit_paths(folder)
    units, faults = _units(paths)
    order_file = folder / COURSE_FILE
    if not paths and not order_file.is_file():
        missing = f"no units are in {folder}; give a folder with files such as one-chord.toml"
        return None, (CourseFault("", missing),)
    if not order_file.is_file():
        course = _added_to_ours(units)
        return course, (*faults, *course_faults(course, own=units))
    try:
        row = table_of(order_file)
    except ReadError as error:
        return None, (*faults, CourseFault(error.source, error.message))
    if texts := list(row_faults(row, COURSE_FIELDS)):
        return None, (*faults, *(CourseFault(COURSE_FILE, text) for text in texts))
    course = _in_order(row, units)
    unreadable = {path.stem for path in paths} - units.keys()
    order_faults = _order_faults(row["units"], [path.stem for path in paths])
    return course, (*faults, *order_faults, *course_faults(course, unread=unreadable))


def _unit_paths(folder: Path) -> list[Path]:
    """The files of units in a folder.

    Raises
    ------
    ReadError
        When it is none.
    """
    if not folder.is_dir():
        raise ReadError(f"no such folder: {folder}; give a folder of units")
    return sorted(path for path in folder.glob(f"*{UNIT_SUFFIX}") if path.name != COURSE_FILE)


def _units(paths: Sequence[Path]) -> tuple[dict[str, CourseUnit], list[CourseFault]]:
    """The units that can be read, and what is wrong with the others."""
    units: dict[str, CourseUnit] = {}
    faults: list[CourseFault] = []
    for path in paths:
        try:
            data = table_of(path)
        except ReadError as error:
            faults.append(CourseFault(error.source, error.message))
            continue
        of_unit = list(unit_faults(data, path))
        faults += of_unit
        if not of_unit:
            units[path.stem] = unit_of(data, path.stem)
    return units, faults


def _in_order(row: Row, units: Mapping[str, CourseUnit]) -> Course:
    """The units that are named, those of the folder before our own of the same name."""
    named = (units.get(name) or our_course().unit(name) for name in row["units"])
    return Course(row["title"], tuple(unit for unit in named if unit))


def _order_faults(names: Sequence[str], stems: Sequence[str]) -> Iterator[CourseFault]:
    for name in names:
        if name not in stems and our_course().unit(name) is None:
            text = f"`units` {name!r}: there is no file {name}{UNIT_SUFFIX}"
            yield CourseFault(COURSE_FILE, text)
    for stem in stems:
        if stem not in names:
            yield CourseFault(COURSE_FILE, f"`units` does not name {stem!r}, which has a file")


def _added_to_ours(units: Mapping[str, CourseUnit]) -> Course:
    """Our course with these units, each behind the last of those that it needs."""
    ours = our_course()
    rest = [unit for unit in ours.units if unit.name not in units]
    for unit in _needed_first(units):
        places = [place for place, other in enumerate(rest) if other.name in unit.needs]
        rest.insert(max(places, default=len(rest) - 1) + 1, unit)
    return Course(ours.title, tuple(rest))


def _needed_first(units: Mapping[str, CourseUnit]) -> Iterator[CourseUnit]:
    """The units, those that others need before these; in a circle by name."""
    waiting = dict(units)
    while waiting:
        ready = [unit for unit in waiting.values() if not waiting.keys() & set(unit.needs)]
        for unit in ready or list(waiting.values()):
            yield waiting.pop(unit.name)
