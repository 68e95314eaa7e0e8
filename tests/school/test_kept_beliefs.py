"""Are kept beliefs a copy alone: found again, brought up to date, and never believed for others?"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from school_of_two import MONDAY, piece, school_of_two

from halfstep.level import Level
from halfstep.practice.belief_milestones import beliefs_from
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.syllabus import Syllabus, SyllabusRow
from halfstep.school.kept_beliefs import keep_milestones, milestones_of

ROWS = (SyllabusRow(piece(0).skill, 0, 0, 0, 60.0, 120.0, is_chorus=True),)
SYLLABUS = Syllabus(ROWS, ((),), (2,), Level.BEGINNER)
DAY = (MONDAY + timedelta(days=400)).date()


def believed(days: int) -> Beliefs:
    return beliefs_of(SYLLABUS, [piece(number) for number in range(days)], DAY)


def test_what_is_kept_is_found_again_and_leads_on(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school:
        with school.writing() as connection:
            keep_milestones(connection, "Odile", believed(200))
        with school.reading() as connection:
            kept = milestones_of(connection, "odile")
            assert milestones_of(connection, "Bram") == ()
    assert max(milestone.count for milestone in kept) == 200
    again = beliefs_from(kept, SYLLABUS, [piece(number) for number in range(203)], DAY)
    assert (again.means, again.tracks) == (believed(203).means, believed(203).tracks)


def test_two_students_may_have_played_the_same(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        for name in ("Odile", "Bram"):
            keep_milestones(connection, name, believed(3))
        assert milestones_of(connection, "Odile") == milestones_of(connection, "Bram") != ()


@pytest.mark.slow
def test_later_beliefs_take_the_place_of_what_no_longer_leads_to_them(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        for days in (100, 300, 301, 150):
            keep_milestones(connection, "Odile", believed(days))
            counts = sorted(kept.count for kept in milestones_of(connection, "Odile"))
            assert counts == [stand.count for stand in believed(days).way()]


def test_nothing_is_kept_of_nothing(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        keep_milestones(connection, "Odile", believed(0))
        assert milestones_of(connection, "Odile") == ()


@pytest.mark.parametrize("damage", ["'{}'", "''", "substr(state, 2)", "replace(state, '0', '1')"])
def test_what_is_damaged_is_kept_anew(tmp_path: Path, damage: str) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        keep_milestones(connection, "Odile", believed(90))
        whole = set(milestones_of(connection, "Odile"))
        connection.exec_driver_sql(f"UPDATE milestones SET state = {damage}")
        damaged = milestones_of(connection, "Odile")
        again = beliefs_from(damaged, SYLLABUS, [piece(number) for number in range(90)], DAY)
        assert again.means == believed(90).means
        keep_milestones(connection, "Odile", again)
        assert set(milestones_of(connection, "Odile")) == whole
