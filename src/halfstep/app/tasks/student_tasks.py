"""A student is added, shown, given away whole, or erased."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from halfstep.course.skill_map import Standings
from halfstep.errors import BriefError, ReadError
from halfstep.instruments import find_instrument
from halfstep.pitch import parse_pitch
from halfstep.practice.evidence import Evidence
from halfstep.render.print_setting import print_setting
from halfstep.school.database import School
from halfstep.school.kept_beliefs import keep_milestones, milestones_of
from halfstep.school.kept_evidence import evidence_of
from halfstep.school.students import (
    MINUTES,
    Student,
    add_student,
    change_student,
    count_rows,
    find_student,
    new_student,
    student_of_number,
)
from halfstep.school.tables import plans, takes
from halfstep.services.known_keys import keys_named
from halfstep.services.request_fields import demand_minutes, level_of
from halfstep.services.show_progress import (
    ProgressReply,
    ShowProgress,
    show_progress,
    show_standings,
)

FEW_PIECES = 20
"""Pieces of evidence that are soon believed again."""


@dataclass(frozen=True, slots=True)
class AddStudent:
    """A request to keep a student.

    Attributes
    ----------
    name : str
        A nickname.
    instrument : str
    level : str
    known_notes : str
        The only written notes that are played: ``G4 A4 Bb4``; empty for all of the level.
    keys : str
        Written keys that are played: ``C G F``; empty for all.
    print_setting : str
        How large the student's pages are, how many bars are on a line, on which tint: ``large``,
        ``9mm 3 bars cream``; empty for the usual.
    minutes : float
        Of a day's practice.
    """

    name: str
    instrument: str
    level: str = "beginner"
    known_notes: str = ""
    keys: str = ""
    print_setting: str = ""
    minutes: float = MINUTES


def keep_student(school: School, request: AddStudent) -> Student:
    """Keep a student.

    Raises
    ------
    BriefError
        When a field is none, or there is one of that name.
    """
    student = student_asked_for(request)
    with school.writing() as connection:
        add_student(connection, student)
    return student


def student_asked_for(request: AddStudent) -> Student:
    """The student of a request, who is not kept yet.

    Raises
    ------
    BriefError
        When a field is none.
    """
    demand_minutes(request.minutes)
    return new_student(
        request.name,
        find_instrument(request.instrument),
        level_of(request.level),
        known_notes=" ".join(_note_names(request.known_notes)),
        keys=" ".join(key.ascii for key in keys_named(request.keys)),
        print_setting=str(print_setting(request.print_setting)),
        minutes=request.minutes,
    )


def _note_names(text: str) -> Iterator[str]:
    try:
        yield from (parse_pitch(word).ascii for word in text.replace(",", " ").split())
    except ReadError as error:
        raise BriefError(f"`known_notes`: {error.message}") from None


def change_facts(school: School, name: str, changed: Mapping[str, Any]) -> Student:
    """Keep other facts of a student.

    Parameters
    ----------
    school : School
    name : str
        As the student is called until now.
    changed : mapping
        New values by the names of fields of `AddStudent`.

    Raises
    ------
    BriefError
        When a field is none, or there is no such student.
    """
    with school.writing() as connection:
        student = find_student(connection, name)
        request = replace(asked_for(student), **changed)
        asked = student_asked_for(request)
        assert student.number is not None
        change_student(connection, student.number, asked)
        return student_of_number(connection, student.number)


def asked_for(student: Student) -> AddStudent:
    """The request that keeps a student as the student is."""
    return AddStudent(
        student.name,
        student.instrument.key,
        str(student.level),
        student.known_notes,
        student.keys,
        student.print_setting,
        student.minutes,
    )


@dataclass(frozen=True, slots=True)
class KeptOfStudent:
    """All that is kept of a student, counted.

    Attributes
    ----------
    student : Student
    takes, plans : int
    evidence : tuple of Evidence
        In order of time.
    """

    student: Student
    takes: int
    plans: int
    evidence: tuple[Evidence, ...]


def kept_of(school: School, name: str) -> KeptOfStudent:
    """What is kept of a student.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    with school.reading() as connection:
        return KeptOfStudent(
            find_student(connection, name),
            count_rows(connection, name, takes),
            count_rows(connection, name, plans),
            evidence_of(connection, name),
        )


def default_export_folder(student: Student) -> Path:
    """Where a student's things go when no folder is said."""
    return Path(f"{student.name.casefold().replace(' ', '-').replace('/', '-')}-export")


def progress_of_student(
    school: School, name: str, *, day: str = "", course: Path | None = None
) -> tuple[Student, ProgressReply]:
    """How far a student has come by a day.

    Raises
    ------
    BriefError
        When there is no such student.
    ReadError
        When the course cannot be read.
    """
    student, request = _about(school, name, day, course)
    return student, show_progress(request)


def standings_of_student(
    school: School, name: str, *, course: Path | None = None
) -> tuple[Student, Standings]:
    """Where a student stands today; beliefs that took long are kept for the next time.

    Raises
    ------
    BriefError
        When there is no such student.
    ReadError
        When the course cannot be read.
    """
    student, request = _about(school, name, "", course)
    with school.reading() as connection:
        kept = milestones_of(connection, name)  # a copy that is out of date is passed over
    standings, beliefs = show_standings(request, kept)
    if len(beliefs.evidence) > max((known.count for known in kept), default=0) + FEW_PIECES:
        with school.writing() as connection:
            keep_milestones(connection, name, beliefs)
    return student, standings


def _about(
    school: School, name: str, day: str, course: Path | None
) -> tuple[Student, ShowProgress]:
    """Who it is, and what is asked about the way so far."""
    with school.reading() as connection:
        student = find_student(connection, name)
        evidence = evidence_of(connection, name)
    fields = student_fields(student)
    return student, ShowProgress(**fields, evidence=evidence, day=day, course=course)


def student_fields(student: Student) -> dict[str, Any]:
    """What any `StudentRequest` says of a student."""
    return {
        "instrument": student.instrument.key,
        "level": str(student.level),
        "name": student.name,
        "keys": student.keys,
    }
