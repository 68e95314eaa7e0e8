"""A school of an invented evening class, for tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from fresh_schools import fresh_school
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.school.database import School
from halfstep.school.students import add_student, new_student

MONDAY = datetime(2026, 3, 2, 18, 30, tzinfo=UTC)


def school_of_two(folder: Path, address: str = "") -> School:
    """Odile plays alto, Bram trombone."""
    school = School(folder, address) if address else fresh_school(folder)
    with school.writing() as connection:
        add_student(connection, new_student("Odile", INSTRUMENTS["alto-sax"], Level.BEGINNER))
        add_student(connection, new_student("Bram", INSTRUMENTS["trombone"], Level.INTERMEDIATE))
    return school


def piece(number: int, *, verdict: Verdict = Verdict.CLEAN, key: int = 0) -> Evidence:
    """Evidence of a day of its own."""
    return Evidence(
        source=f"word-{number}",
        at=MONDAY + timedelta(days=number),
        skill=Skill("one-chord", "arpeggio", key),
        tempo_bpm=80.0,
        verdict=verdict,
        weight=0.75,
        minutes=6.0,
        trouble="the change to F7 was late twice",
        trouble_bar=5,
        progression=1,
    )
