"""Players come into a class: one, or a list of them as it was pasted; they move, and change."""

from __future__ import annotations

import re
from collections.abc import Collection, Container, Iterator
from dataclasses import replace

from halfstep.app.tasks.student_tasks import AddStudent, student_asked_for
from halfstep.errors import BriefError, HalfstepError
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.school.classes import every_class, join_class, leave_class, students_of
from halfstep.school.database import School
from halfstep.school.students import Student, add_student, change_student, student_of_number

MOST_LINES = 200
"""Of a list that is pasted at once."""
EXAMPLE_LINE = "Ansel alto-sax beginner"
_PARTS = re.compile(r"[\t,;]")
_LONGEST_INSTRUMENT = 3
"""Words."""


def add_player(school: School, class_number: int, request: AddStudent) -> Student:
    """Keep a student, who is in a class from now on.

    Raises
    ------
    BriefError
        When a field is none, or there is one of that name.
    NoSuchThing
    """
    student = student_asked_for(request)
    with school.writing() as connection:
        add_student(connection, student)
        join_class(connection, class_number, student.name)
    return student


def add_players(school: School, class_number: int, text: str) -> tuple[Student, ...]:
    """Keep the students of a list, all or none; who is in the class already stays as kept.

    Parameters
    ----------
    school : School
    class_number : int
    text : str
        A line each, as `players_listed` reads it.

    Returns
    -------
    tuple of Student
        Those who are new.

    Raises
    ------
    BriefError
        With the number of the line.
    """
    requests = players_listed(text)
    with school.writing() as connection:
        inside = {student.name.casefold() for student in students_of(connection, class_number)}
        new = [(line, request) for line, request in requests if _folded(request) not in inside]
        students = [_of_line(line, request) for line, request in new]
        for (line, _), student in zip(new, students, strict=True):
            try:
                add_student(connection, student)
            except BriefError as error:
                raise _at_line(line, error) from None
            join_class(connection, class_number, student.name)
    return tuple(students)


def _folded(request: AddStudent) -> str:
    return " ".join(request.name.split()).casefold()


def _of_line(line: int, request: AddStudent) -> Student:
    try:
        return student_asked_for(request)
    except HalfstepError as error:
        raise _at_line(line, error) from None


def _at_line(line: int, error: HalfstepError) -> BriefError:
    words = error.worded(lambda field: field.replace("_", " "))
    return BriefError(f"`players` line {line}: {words}")


def players_listed(text: str) -> tuple[tuple[int, AddStudent], ...]:
    """The students of a list, each with the number of its line.

    A line has a nickname, an instrument and a level, between blanks, commas or tabs; without a
    level it is a beginner's. Empty lines are left out.

    Raises
    ------
    BriefError
        When a line has no instrument, or a name stands twice.

    >>> [request.name for _, request in players_listed("Ada Lind, flute, advanced")]
    ['Ada Lind']
    """
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise BriefError(f"`players` is empty; write a line each: {EXAMPLE_LINE}")
    if len(lines) > MOST_LINES:
        raise BriefError(f"`players`: {len(lines)} lines; give {MOST_LINES} or less at once")
    requests = tuple((number, _player_of(number, line)) for number, line in lines)
    _demand_different(requests)
    return requests


def _demand_different(requests: Collection[tuple[int, AddStudent]]) -> None:
    names: dict[str, int] = {}
    for number, request in requests:
        first = names.setdefault(_folded(request), number)
        if first != number:
            raise BriefError(
                f"`players` line {number}: {request.name} stands in line {first} already; give "
                "another nickname"
            )


def _player_of(number: int, line: str) -> AddStudent:
    words = _PARTS.sub(" ", line).split()
    level = str(Level.BEGINNER)
    if words[-1].lower() in set(map(str, Level)):
        level = words.pop().lower()
    for count in range(_LONGEST_INSTRUMENT, 0, -1):
        key = _INSTRUMENT_WORDS.get("-".join(words[-count:]).lower())
        if key and len(words) > count:
            return AddStudent(" ".join(words[:-count]), key, level)
    raise BriefError(
        f"`players` line {number}: {line.strip()[:60]!r} has no name with an instrument behind "
        f"it; write it like {EXAMPLE_LINE}; instruments are {', '.join(INSTRUMENTS)}"
    )


def instrument_named(text: str) -> str:
    """The word of the table for an instrument that is called by it or by its label."""
    return _INSTRUMENT_WORDS.get("-".join(text.split()).lower(), text)


def _instrument_words() -> Iterator[tuple[str, str]]:
    """What a list may call an instrument: the word of the table, or its label."""
    for key, instrument in INSTRUMENTS.items():
        yield key, key
        yield "-".join(instrument.label.lower().split()), key


_INSTRUMENT_WORDS = dict(_instrument_words())


def change_player(
    school: School,
    number: int,
    request: AddStudent,
    classes: Collection[int],
    *,
    within: Container[int | None],
) -> Student:
    """Keep a student with other facts, and of some classes in these alone.

    Parameters
    ----------
    classes : collection of int
        The numbers of those in which the student is.
    within : container of int
        Those that are spoken of; in others the student is as before.

    Raises
    ------
    BriefError
    NoSuchThing
    """
    with school.writing() as connection:
        kept = student_of_number(connection, number)
        asked = student_asked_for(replace(request, minutes=kept.minutes))
        change_student(connection, number, asked)
        for school_class in every_class(connection):
            if school_class.number not in within:
                continue
            put = join_class if school_class.number in classes else leave_class
            put(connection, school_class.number, asked.name)
        return student_of_number(connection, number)
