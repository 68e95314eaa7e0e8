"""Is an item of a plan counted once, whether it was heard, spoken of, or both?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from fresh_schools import fresh_school
from halfstep.app.tasks.practice_tasks import PlanDay, keep_word, plan_day
from halfstep.app.tasks.practised_tasks import item_heard
from halfstep.app.tasks.room_places import PlanPlace
from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.practice_plan import PlanItem
from halfstep.school.database import School
from halfstep.school.kept_evidence import evidence_of, keep_evidence
from halfstep.school.kept_plans import keep_plan
from halfstep.school.practised import practised_on
from halfstep.school.students import Student, find_student

TODAY = date.today()


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    with fresh_school(tmp_path) as school:
        yield school


@pytest.fixture
def odile(school: School) -> Student:
    keep_student(school, AddStudent("Odile", "flute"))
    with school.reading() as connection:
        return find_student(connection, "Odile")


@pytest.fixture
def item(school: School, odile: Student) -> PlanItem:
    """The first item of today."""
    return plan_day(school, PlanDay(odile.name)).plan.items[0]


def hear(
    school: School, student: Student, item: PlanItem, source: str, verdict: Verdict
) -> Evidence:
    """A take of the first item of today that was judged, kept as a job's end keeps it."""
    shown = Evidence(source, datetime.now(UTC), item.skill, item.tempo_bpm, verdict, minutes=1.5)
    with school.writing() as connection:
        counted = item_heard(connection, student, PlanPlace(TODAY, 1), shown)
        keep_evidence(connection, student.name, [counted])
    return counted


def counted(school: School) -> list[tuple[str, float]]:
    """How each piece of evidence went, and its minutes."""
    with school.reading() as connection:
        return [(str(one.verdict), one.minutes) for one in evidence_of(connection, "Odile")]


def test_a_take_takes_the_place_of_the_word(school: School, odile: Student, item: PlanItem) -> None:
    keep_word(school, "Odile", "1", "clean")
    assert counted(school) == [("clean", item.minutes)]
    hear(school, odile, item, "take-1", Verdict.NEARLY)
    assert counted(school) == [("nearly", item.minutes)]


def test_a_word_after_a_take_is_kept_and_not_counted(
    school: School, odile: Student, item: PlanItem
) -> None:
    hear(school, odile, item, "take-1", Verdict.NEARLY)
    keep_word(school, "Odile", "1", "clean")
    assert counted(school) == [("nearly", item.minutes)]
    with school.reading() as connection:
        (kept,) = practised_on(connection, odile.number or 0, TODAY)
    assert (kept.word, kept.heard, kept.is_done) == (Verdict.CLEAN, Verdict.NEARLY, True)


def test_further_takes_count_their_own_minutes(
    school: School, odile: Student, item: PlanItem
) -> None:
    for source in ("take-1", "take-2", "take-1"):
        hear(school, odile, item, source, Verdict.NEARLY)
    assert sorted(counted(school)) == [("nearly", 1.5), ("nearly", item.minutes)]


def test_what_shows_another_skill_stands_beside_the_word(
    school: School, odile: Student, item: PlanItem
) -> None:
    keep_word(school, "Odile", "1", "nearly")
    other = replace(item, skill=item.skill._replace(key=item.skill.key + 1))
    hear(school, odile, other, "take-1", Verdict.CLEAN)
    assert sorted(counted(school)) == [("clean", 1.5), ("nearly", item.minutes)]


@pytest.mark.parametrize(("verdict", "done"), [(Verdict.CLEAN, True), (Verdict.NOT_YET, False)])
def test_an_item_that_was_heard_clean_is_done(
    school: School, odile: Student, item: PlanItem, verdict: Verdict, done: bool
) -> None:
    hear(school, odile, item, "take-1", verdict)
    with school.reading() as connection:
        (kept,) = practised_on(connection, odile.number or 0, TODAY)
    assert kept.is_of(item)
    assert kept.is_done is done


def plan_part(school: School, student: Student, item: PlanItem, part: float) -> None:
    """Let today's plan be one item, of so much of its bars."""
    plan = plan_day(school, PlanDay(student.name)).plan
    with school.writing() as connection:
        keep_plan(connection, student.name, replace(plan, items=(replace(item, part=part),)))


def test_few_bars_of_an_item_are_counted_and_leave_it_to_be_done(
    school: School, odile: Student, item: PlanItem
) -> None:
    plan_part(school, odile, item, 1.0)
    few = Evidence("take-1", datetime.now(UTC), item.skill, 60.0, Verdict.CLEAN, part=0.25)
    with school.writing() as connection:
        assert item_heard(connection, odile, PlanPlace(TODAY, 1), few) == few
    with school.reading() as connection:
        assert practised_on(connection, odile.number or 0, TODAY) == ()


def test_a_word_of_half_an_item_tells_of_half_of_its_bars(
    school: School, odile: Student, item: PlanItem
) -> None:
    plan_part(school, odile, item, 0.5)
    keep_word(school, "Odile", "1", "clean")
    with school.reading() as connection:
        (word,) = evidence_of(connection, "Odile")
    assert word.part == 0.5


def test_a_plan_that_is_gone_leaves_the_take_as_it_is(
    school: School, odile: Student, item: PlanItem
) -> None:
    shown = Evidence("take-1", datetime.now(UTC), item.skill, item.tempo_bpm, Verdict.CLEAN)
    with school.writing() as connection:
        for place in (PlanPlace(date(2020, 1, 1), 1), PlanPlace(TODAY, 9)):
            assert item_heard(connection, odile, place, shown) == shown


def test_two_things_of_one_unit_are_two(school: School, odile: Student, item: PlanItem) -> None:
    plan = plan_day(school, PlanDay(odile.name)).plan
    other = replace(item, skill=item.skill._replace(step="another"))
    with school.writing() as connection:
        keep_plan(connection, odile.name, replace(plan, items=(item, other)))
    hear(school, odile, item, "take-1", Verdict.CLEAN)
    with school.reading() as connection:
        kept = practised_on(connection, odile.number or 0, TODAY)
    assert [[one.is_of(each) for each in (item, other)] for one in kept] == [[True, False]]
    keep_word(school, "Odile", "2", "nearly")
    assert sorted(counted(school)) == [("clean", item.minutes), ("nearly", item.minutes)]
