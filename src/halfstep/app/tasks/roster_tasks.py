"""The players of a class as a table that spreadsheets read and write (CSV).

Columns have names in the first row; any order will do, and what is not known is refused. A cell
that a spreadsheet would take for a formula is written behind an apostrophe, and read without it. A
table is taken whole or not at all: who is in the class has the facts of the row from now on, who is
new is added, and who is not in the table stays as kept.

Sources: RFC 4180 (CSV); OWASP, "CSV Injection" (which signs begin a formula), from memory.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import groupby

from halfstep.app.tasks.class_tasks import MOST_LINES, instrument_named
from halfstep.app.tasks.student_tasks import AddStudent, asked_for, student_asked_for
from halfstep.errors import BriefError, HalfstepError
from halfstep.level import Level
from halfstep.school.classes import join_class, students_of
from halfstep.school.database import School, SchoolConnection
from halfstep.school.doublings import add_doubling, instruments_of, take_up
from halfstep.school.students import (
    Student,
    add_student,
    change_student,
    every_student,
    find_student,
)

COLUMNS = {
    "nickname": "name",
    "instrument": "instrument",
    "level": "level",
    "known notes": "known_notes",
    "keys": "keys",
    "print": "print_setting",
    "minutes": "minutes",
    "also plays": "others",
}
"""What a table calls each field of a student; the last has other instruments with their levels,
``clarinet beginner; flute advanced``."""
_NEEDED = ("nickname", "instrument")
_FORMULA = tuple("=+-@\t\r＝＋－＠")
_DIVIDERS = ",;\t"
LONGEST_ROSTER = 200_000
"""Bytes."""


def roster_text(players: Sequence[Student]) -> str:
    """Players as a table.

    Parameters
    ----------
    players : sequence of Student
        Each once for every instrument, the one at hand among them.
    """
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(COLUMNS)
    for _, of_one in groupby(players, key=lambda player: player.number):
        first, *others = of_one
        words = "; ".join(f"{one.instrument.key} {one.level}" for one in others)
        cells = {**asdict(asked_for(first)), "others": words, "minutes": f"{first.minutes:g}"}
        table.writerow(_plain(cells[field]) for field in COLUMNS.values())
    return text.getvalue()


def _plain(cell: str) -> str:
    """A cell that is text to a spreadsheet, too."""
    return f"'{cell}" if cell.startswith((*_FORMULA, "'")) else cell


def _read_cell(cell: str) -> str:
    line = cell.strip()
    is_marked = line.startswith("'") and line[1:].startswith((*_FORMULA, "'"))
    return line[1:] if is_marked else line


@dataclass(frozen=True, slots=True)
class RosterRow:
    """One row of a table.

    Attributes
    ----------
    line : int
        From 1; that of the names of columns is the first.
    student : Student
        As the row has it.
    others : tuple of Student
        The same as the player of each other instrument.
    """

    line: int
    student: Student
    others: tuple[Student, ...] = ()


@dataclass(frozen=True, slots=True)
class Roster:
    """A table that was read.

    Attributes
    ----------
    rows : tuple of RosterRow
    faults : tuple of str
        A line for each row that cannot be taken.
    """

    rows: tuple[RosterRow, ...]
    faults: tuple[str, ...]


def read_roster(data: bytes) -> Roster:
    """A table as it was sent.

    Raises
    ------
    BriefError
        When it is no table, or its columns are not known.
    """
    lines = list(_lines(data))
    if not lines:
        raise BriefError("`roster`: it is empty; begin with a row of the names of its columns")
    (_, head), *body = lines
    fields = _fields(head)
    if len(body) > MOST_LINES:
        raise BriefError(f"`roster`: {len(body)} rows; give {MOST_LINES} or less at once")
    rows, faults = [], []
    first: dict[str, int] = {}
    for number, cells in body:
        try:
            student, *others = _players(fields, cells)
            line = first.setdefault(student.name.casefold(), number)
            if line != number:
                raise BriefError(f"`name`: {student.name} stands in line {line} already")
            rows.append(RosterRow(number, student, tuple(others)))
        except HalfstepError as error:
            faults.append(_at_line(number, error))
    return Roster(tuple(rows), tuple(faults))


def _lines(data: bytes) -> Iterator[tuple[int, list[str]]]:
    """The rows in which something stands, with their numbers."""
    if len(data) > LONGEST_ROSTER:
        raise BriefError(f"`roster`: {len(data)} bytes; give {LONGEST_ROSTER} or less")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BriefError("`roster`: its letters are not UTF-8; save it as CSV in UTF-8") from None
    head = text.partition("\n")[0]
    table = csv.reader(io.StringIO(text, newline=""), delimiter=max(_DIVIDERS, key=head.count))
    try:
        for cells in table:
            if any(cell.strip() for cell in cells):
                yield table.line_num, [_read_cell(cell) for cell in cells]
    except csv.Error as error:
        raise BriefError(f"`roster` line {table.line_num}: this is no table: {error}") from None


def _fields(head: Sequence[str]) -> tuple[str, ...]:
    """The field of each column."""
    names = [" ".join(name.lower().split()) for name in head]
    unknown = [name for name in names if name not in COLUMNS]
    missing = [name for name in _NEEDED if name not in names]
    if unknown or missing or len(set(names)) < len(names):
        wrong = (
            f"{unknown[0]!r} is none"
            if unknown
            else f"{' and '.join(missing) or 'one'} "
            + ("is missing" if missing else "stands twice")
        )
        raise BriefError(
            f"`roster` line 1: the first row has the names of columns, once each: "
            f"{', '.join(COLUMNS)}; {wrong}"
        )
    return tuple(COLUMNS[name] for name in names)


def _players(fields: Sequence[str], cells: Sequence[str]) -> Iterator[Student]:
    """The student of a row, and then the same as the player of each other instrument."""
    if len(cells) > len(fields):
        raise BriefError(f"it has {len(cells)} cells; the first row has {len(fields)}")
    known = {field: cell for field, cell in zip(fields, cells, strict=False) if cell}
    asked = AddStudent(
        known.get("name", ""),
        instrument_named(known.get("instrument", "")),
        known.get("level", str(Level.BEGINNER)).lower(),
        known.get("known_notes", ""),
        known.get("keys", ""),
        known.get("print_setting", ""),
        **_minutes(known),
    )
    yield student_asked_for(asked)
    for words in filter(str.strip, known.get("others", "").split(";")):
        yield student_asked_for(_other(asked, words))


def _other(asked: AddStudent, words: str) -> AddStudent:
    """The same with another instrument: its name, and its level behind it."""
    *name, last = words.split()
    is_level = last.lower() in set(Level) and bool(name)
    instrument = " ".join(name) if is_level else words.strip()
    level = last.lower() if is_level else str(Level.BEGINNER)
    named = instrument_named(instrument)
    return replace(asked, instrument=named, level=level, known_notes="", keys="")


def _minutes(known: Mapping[str, str]) -> dict[str, float]:
    text = known.get("minutes")
    try:
        return {} if text is None else {"minutes": float(text.replace(",", "."))}
    except ValueError:
        raise BriefError(f"`minutes` {text!r}: give a number") from None


def _at_line(number: int, error: HalfstepError) -> str:
    names = {field: name for name, field in COLUMNS.items()}
    return f"line {number}: {error.worded(lambda field: names.get(field, field))}"


def keep_roster(school: School, class_number: int, roster: Roster) -> tuple[str, ...]:
    """Keep a table as the players of a class; where a row cannot be taken nothing is changed.

    Returns
    -------
    tuple of str
        A line for each row that cannot be taken.

    Raises
    ------
    NoSuchThing, StoreError
    """
    with school.writing() as connection:
        inside = {one.name.casefold(): one for one in students_of(connection, class_number)}
        faults = (*roster.faults, *_taken_names(connection, roster, inside))
        if faults:
            return tuple(sorted(faults, key=lambda line: int(line.split(":")[0].split()[1])))
        for row in roster.rows:
            kept = inside.get(row.student.name.casefold())
            if kept is None:
                add_student(connection, row.student)
                join_class(connection, class_number, row.student.name)
            else:
                _change(connection, kept, row.student)
            _keep_others(connection, row)
    return ()


def _change(connection: SchoolConnection, kept: Student, student: Student) -> None:
    """Keep the facts of a row; an instrument of the student's that it names is taken up."""
    number = kept.number or 0
    if student.instrument in {one.instrument for one in instruments_of(connection, kept)}:
        take_up(connection, number, student.instrument.key)
    change_student(connection, number, student)


def _keep_others(connection: SchoolConnection, row: RosterRow) -> None:
    """Keep the instruments beside the first of a row; what a student plays already stays."""
    for other in row.others:
        student = find_student(connection, row.student.name)
        played = {one.instrument for one in instruments_of(connection, student)}
        if other.instrument not in played:
            add_doubling(connection, student, other)


def _taken_names(
    connection: SchoolConnection, roster: Roster, inside: Mapping[str, Student]
) -> Iterator[str]:
    others = {one.name.casefold() for one in every_student(connection)} - set(inside)
    for row in roster.rows:
        if row.student.name.casefold() in others:
            name = row.student.name
            yield (
                f"line {row.line}: there is a {name} already who is not in this class; give "
                "another nickname, or put the player into this class on the player's own page"
            )
