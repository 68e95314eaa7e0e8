"""What leads to what: rows in which every need is above, and lanes past what lies between."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.skill_map import (
    Lane,
    Place,
    Standing,
    leads_above,
    place_middles,
    unit_rows,
    unit_standings,
)
from halfstep.course.unit import Course
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level

UNIT = our_course().units[0]


@st.composite
def courses(draw: st.DrawFn) -> Course:
    """Units that need any of those before them."""
    units = []
    for number in range(draw(st.integers(1, 12))):
        needs = draw(st.sets(st.integers(0, number - 1), max_size=3)) if number else ()
        names = tuple(f"u{need}" for need in sorted(needs))
        units.append(replace(UNIT, name=f"u{number}", title=f"Unit {number}", needs=names))
    return Course("Made up", tuple(units))


def units_of(rows: tuple[tuple[Place, ...], ...]) -> list[str]:
    return [place for row in rows for place in row if isinstance(place, str)]


@given(courses())
def test_every_unit_stands_once_below_all_that_it_needs(course: Course) -> None:
    rows = unit_rows(course)
    assert sorted(units_of(rows)) == sorted(unit.name for unit in course.units)
    row_of = {name: number for number, row in enumerate(rows) for name in row}
    for unit in course.units:
        assert all(row_of[need] < row_of[unit.name] for need in unit.needs)
        below = max((row_of[need] for need in unit.needs), default=-1)
        assert row_of[unit.name] == below + 1


@given(courses())
def test_every_need_leads_down_row_by_row(course: Course) -> None:
    """From unit to unit, or through a lane in each row between, and no lane leads nowhere."""
    rows = unit_rows(course)
    assert not any(isinstance(place, Lane) for place in (*rows[0], *rows[-1]))
    led = set()
    for number, row in enumerate(rows):
        above = rows[number - 1] if number else ()
        for place in row:
            leads = leads_above(place, course, above)
            unit = None if isinstance(place, Lane) else course.unit(place)
            assert len(leads) == (len(unit.needs) if unit else 1)
            led |= {(number - 1, lead) for lead in leads}
    lanes = {(n, p) for n, row in enumerate(rows) for p in row if isinstance(p, Lane)}
    assert lanes <= led


@given(courses())
def test_places_of_a_row_follow_each_other_from_edge_to_edge(course: Course) -> None:
    for row in unit_rows(course):
        middles = [place_middles(row)[place] for place in row]
        assert middles == sorted(middles)
        assert 0 < middles[0] <= middles[-1] < 1


def test_a_course_without_units_has_no_rows() -> None:
    assert unit_rows(Course("Empty", ())) == ()


def test_a_level_of_the_student_moves_the_keys_that_count() -> None:
    course = our_course()
    for level in (None, *Level):
        standings = unit_standings(course, {}, CoursePlayer(INSTRUMENTS["clarinet"], level))
        assert [unit.skills for unit in standings] == [u.keys * len(u.steps) for u in course.units]
        assert {unit.standing for unit in standings} == {Standing.NOT_MET}


def test_only_keys_that_a_student_knows_count() -> None:
    """Known are no flats and one flat: C and F major, A and D minor."""
    course, player = our_course(), CoursePlayer(INSTRUMENTS["flute"], None, frozenset({0, 11}))
    standings = unit_standings(course, {}, player)
    counts = [min(2, unit.keys) * len(unit.steps) for unit in course.units]
    assert [unit.skills for unit in standings] == counts
    minor = next(unit for unit in course.units if unit.is_minor and unit.keys > 1)
    assert set(unit_keys(minor, player)) == {3, 2}  # A and D, on the cycle of fifths from C
