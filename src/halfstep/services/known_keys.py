"""A course in the keys that a student knows: what others there are is not asked for.

Known is a signature: who reads F major reads D minor.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from halfstep.course.unit import Course, CourseUnit
from halfstep.course.written_keys import key_order, written_key
from halfstep.errors import BriefError, ReadError
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.practice.syllabus import Syllabus, SyllabusRow, syllabus_of
from halfstep.progression.key import Key, parse_key


def syllabus_in_keys(course: Course, player: Instrument, level: Level, keys: str) -> Syllabus:
    """The course as a player meets it who knows some written keys; all where none are named.

    A unit has as many keys as it has in the course, or as are known, the easiest first.

    Raises
    ------
    BriefError
        When a key is none.
    """
    syllabus = syllabus_of(course, player, level)
    signatures = frozenset(map(_place, keys_named(keys)))
    if not signatures:
        return syllabus
    known = {
        unit.name: _known_keys(unit, key_order(player, level, is_minor=unit.is_minor), signatures)
        for unit in course.units
    }
    return replace(syllabus, rows=tuple(_moved(syllabus.rows, known)))


def _moved(rows: Sequence[SyllabusRow], known: dict[str, tuple[int, ...]]) -> Iterator[SyllabusRow]:
    """The rows of a course in other keys, in the same places."""
    for row in rows:
        keys = known[row.skill.unit]
        if row.key_order < len(keys):
            yield row._replace(skill=row.skill._replace(key=keys[row.key_order]))


def _known_keys(
    unit: CourseUnit, order: Sequence[int], signatures: frozenset[int]
) -> tuple[int, ...]:
    """The first keys of an order that are known."""
    keys = (key for key in order if _place(written_key(key, is_minor=unit.is_minor)) in signatures)
    return tuple(keys)[: unit.keys]


def keys_named(text: str) -> tuple[Key, ...]:
    """The keys that a text names: ``C G F``.

    Raises
    ------
    BriefError
    """
    try:
        return tuple(parse_key(word) for word in text.replace(",", " ").split())
    except ReadError as error:
        raise BriefError(f"`keys`: {error.message}") from None


def _place(key: Key) -> int:
    """Where a signature stands among the twelve that sound differently."""
    return key.fifths % 12
