"""What do requests about a student's way have in common? Who plays, and all that was played so far.

Nothing is known here of where that is kept; it comes as values.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

from halfstep.course.course_folder import course_in
from halfstep.course.unit import Course
from halfstep.errors import BriefError
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.practice.evidence import Evidence
from halfstep.practice.syllabus import Syllabus, syllabus_of
from halfstep.services.known_keys import player_in_keys
from halfstep.services.request_fields import level_of, player_of

FIRST_YEAR, LAST_DAYS = 1900, 366 * 200
"""Days that memories can be reckoned to lie between."""


@dataclass(frozen=True, slots=True)
class StudentRequest:
    """A request about a student's way through a course.

    Attributes
    ----------
    instrument : str
    level : str
    evidence : tuple of Evidence
        All that was played, in any order.
    day : str
        Such as ``2026-03-02``; empty for today.
    name : str
        As printed; empty prints the instrument alone.
    keys : str
        The only written keys to use, ``C G F``; empty for those of the course.
    course : Path or None
        A folder of another course.
    """

    instrument: str
    level: str = "beginner"
    evidence: tuple[Evidence, ...] = ()
    day: str = ""
    name: str = ""
    keys: str = ""
    course: Path | None = None


class StudentCourse(NamedTuple):
    """A course as one student meets it.

    Attributes
    ----------
    course : Course
    syllabus : Syllabus
    instrument : Instrument
    level : Level
    day : date
        That is asked about.
    """

    course: Course
    syllabus: Syllabus
    instrument: Instrument
    level: Level
    day: date


def student_course(request: StudentRequest) -> StudentCourse:
    """The course that a request is about, as its student meets it.

    Raises
    ------
    BriefError
        When a field makes no sense.
    ReadError
        When the course cannot be read.
    """
    instrument, level = player_of(request.instrument), level_of(request.level)
    course, day = course_in(request.course), day_of(request.day)
    player = player_in_keys(instrument, level, request.keys)
    syllabus = syllabus_of(course, instrument, level, player.signatures)
    return StudentCourse(course, syllabus, instrument, level, day)


def reader_words(name: str, instrument: Instrument) -> str:
    """Who it is for, as printed."""
    return " · ".join(filter(None, (name, instrument.label)))


def day_of(text: str) -> date:
    """The day that is meant.

    Raises
    ------
    BriefError
    """
    if not text.strip():
        return date.today()
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise BriefError(f"`day` {text!r}: write a day like 2026-03-02") from None
    if day.year < FIRST_YEAR or day > date.max - timedelta(days=LAST_DAYS):
        raise BriefError(f"`day` {text!r}: give a day from {FIRST_YEAR} on")
    return day
