"""Is a day's practice what a good teacher would set?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise

import pytest
from made_syllabus import FIRST, MONDAY, SYLLABUS, lived_days, made_syllabus, played

from halfstep.level import Level
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.evidence import Verdict
from halfstep.practice.plan_choice import LONGEST_ITEM, one_more, practice_plan
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan
from halfstep.practice.skill_worth import SAFE, SETBACK
from halfstep.practice.syllabus import Syllabus

DAYS = [*((level, seed) for level in Level for seed in (1, 2))]


@cache
def lived(level: Level, seed: int) -> tuple[tuple[PracticePlan, Beliefs], ...]:
    """Forty days of a student."""
    return tuple(lived_days(made_syllabus(level=level), seed))


def rows_of(plan: PracticePlan) -> list[bool]:
    places = SYLLABUS.places
    return [SYLLABUS.rows[places[item.skill]].is_chorus for item in plan.items]


@pytest.mark.parametrize(("level", "seed"), DAYS)
def test_every_day_keeps_the_rules(level: Level, seed: int) -> None:
    for plan, beliefs in lived(level, seed):
        items, skills = plan.items, {item.skill for item in plan.items}
        assert 2 <= len(items) <= 5
        assert len(skills) == len(items)
        assert rows_of(plan)[-1]
        assert items[-1].role is ItemRole.CHORUS
        assert [item.role for item in items] == sorted_roles(items)
        unplayed = [item for item in items if item.last is None]
        new = [item for item in unplayed if item.role is not ItemRole.NEXT_KEY]
        assert len(new) <= (1 if beliefs.evidence else 2)
        assert len(unplayed) <= 2
        assert sum(item.minutes for item in items) <= plan.minutes


def sorted_roles(items: tuple[PlanItem, ...]) -> list[ItemRole]:
    return sorted((item.role for item in items), key=list(ItemRole).index)


@pytest.mark.parametrize(("level", "seed"), DAYS)
def test_nothing_alike_follows_the_new_thing(level: Level, seed: int) -> None:
    pairs = [pair for plan, _ in lived(level, seed) for pair in pairwise(plan.items)]
    after_new = [(item, after) for item, after in pairs if item.role is ItemRole.NEW]
    assert after_new
    assert [after for item, after in after_new if after.skill.step == item.skill.step] == []


@pytest.mark.parametrize(("level", "seed"), DAYS)
def test_items_are_neither_frustrating_nor_boring(level: Level, seed: int) -> None:
    """The chorus is there whatever its chance; on the first day nothing is known of any."""
    _, *plans = (plan for plan, _ in lived(level, seed))
    chances = [item.chance for plan in plans for item in plan.items[:-1]]
    assert len(chances) > 60
    assert [chance for chance in chances if not 0.5 <= chance <= 0.97] == []


@pytest.mark.parametrize("level", Level)
def test_what_was_clean_on_the_first_day_ends_the_second_no_slower(level: Level) -> None:
    """Little is known of a beginner then, but that much is."""
    syllabus, tuesday = made_syllabus(level=level), MONDAY + timedelta(days=1)
    before = beliefs_of(syllabus, (), MONDAY)
    chorus = practice_plan(before, MONDAY).items[-1]
    beliefs = before.after([played(chorus.skill, tempo_bpm=chorus.tempo_bpm)], MONDAY)
    again = practice_plan(beliefs, tuesday).items[-1]
    assert again.skill == chorus.skill
    assert again.tempo_bpm >= chorus.tempo_bpm


def test_what_went_wrong_in_the_end_is_played_slower() -> None:
    tuesday = MONDAY + timedelta(days=1)
    takes = [
        played(verdict=Verdict.NOT_YET, tempo_bpm=100, source=f"take-{place}") for place in range(2)
    ]
    plan = practice_plan(beliefs_of(SYLLABUS, takes, tuesday), tuesday)
    (again,) = (item for item in plan.items if item.skill == FIRST)
    assert again.tempo_bpm <= 100 / SETBACK
    assert again.chance >= 0.5


@pytest.mark.parametrize("level", Level)
def test_the_first_day_begins_at_the_tempo_of_its_unit(level: Level) -> None:
    syllabus = made_syllabus(level=level)
    plan = practice_plan(beliefs_of(syllabus, (), MONDAY), MONDAY)
    assert {item.tempo_bpm for item in plan.items} == {60.0}


@pytest.mark.parametrize(("level", "seed"), DAYS)
def test_what_is_hard_begins_with_half_of_its_bars_and_a_chorus_is_whole(
    level: Level, seed: int
) -> None:
    items = [item for plan, _ in lived(level, seed) for item in plan.items]
    assert {item.part for item in items} <= {0.25, 0.5, 1.0}
    assert {item.part for item in items if item.role is ItemRole.CHORUS} == {1.0}


def test_who_finds_the_whole_hard_plays_half_of_it_next() -> None:
    takes = [
        played(verdict=Verdict.NOT_YET, tempo_bpm=60, source=f"take-{day}") for day in range(3)
    ]
    tuesday = MONDAY + timedelta(days=1)
    plan = practice_plan(beliefs_of(SYLLABUS, takes, tuesday), tuesday)
    (again,) = (item for item in plan.items if item.skill == FIRST)
    assert again.part < 1
    assert again.is_easier


@cache
def failed_days(fails: int) -> tuple[PlanItem, ...]:
    """What one is given in sixty days who fails a step over a unit so often, and then no more."""
    beliefs, times, items = beliefs_of(SYLLABUS, (), MONDAY), Counter[tuple[str, str]](), []
    for day in (MONDAY + timedelta(days=away) for away in range(60)):
        for item in practice_plan(beliefs, day).items:
            unit, step, _ = skill = item.skill
            verdict = Verdict.CLEAN if times[unit, step] >= fails else Verdict.NOT_YET
            take = played(skill, verdict, day, item.tempo_bpm, f"{day} {skill}")
            beliefs = beliefs.after([replace(take, part=item.part)], day)
            times[unit, step] += 1
            items.append(item)
    return tuple(items)


@pytest.mark.slow
@pytest.mark.parametrize("fails", [4, 8])
def test_who_fails_what_is_new_gets_on(fails: int) -> None:
    """Nothing is likely then; but what is never begun is never learnt."""
    assert len({item.skill for item in failed_days(fails)}) > 10


@pytest.mark.slow
def test_a_chorus_too_hard_in_one_go_is_begun_with_fewer_bars() -> None:
    """Or its unit would never be passed."""
    begun = [item for item in failed_days(2) if item.last is None and item.skill.step == "chorus"]
    assert any(item.part < 1 and item.role is ItemRole.NEW for item in begun)


@pytest.mark.parametrize(("part", "chords"), [(0.5, 2), (1.0, 1)])
def test_the_chords_whose_few_bars_were_clean_come_again(part: float, chords: int) -> None:
    clean = replace(played(), part=part, progression=2)
    tuesday = MONDAY + timedelta(days=1)
    plan = practice_plan(beliefs_of(SYLLABUS, [clean], tuesday), tuesday)
    assert {item.progression for item in plan.items if item.skill == FIRST} == {chords}


def test_what_warms_up_is_known() -> None:
    plans = [plan for plan, _ in lived(Level.BEGINNER, 1)]
    warm_ups = [item for plan in plans for item in plan.items if item.role is ItemRole.WARM_UP]
    assert len(warm_ups) > 20
    assert all(item.chance > 0.7 and item.last for item in warm_ups)


@pytest.mark.parametrize("minutes", [5, 10, 15, 20, 30, 45, 60, 90])
def test_rests_stand_in_the_time_that_is_asked_for(minutes: float) -> None:
    *_, (plan, _) = lived_days(minutes=minutes, days=12)
    total = sum(item.minutes for item in plan.items) + sum(rest.minutes for rest in plan.rests)
    assert total == pytest.approx(minutes, abs=0.3)
    assert (sum(rest.minutes for rest in plan.rests) >= 5) == (minutes >= 20)


@pytest.mark.slow
def test_a_student_who_was_away_a_month_is_met_lower() -> None:
    is_easier = []
    for plan, beliefs in (lived(level, seed)[-1] for level, seed in DAYS):
        late = practice_plan(beliefs, plan.day + timedelta(days=30))
        is_easier += [item.is_easier for item in late.items]
        for item in late.items:
            assert item.chance >= 0.5
            before = beliefs.chance(item.skill, item.tempo_bpm, plan.day)
            assert item.part < 1 or before > item.chance - 1e-9
    assert any(is_easier)


def test_beginners_go_block_by_block_and_others_mix() -> None:
    manners = {level: lived(level, 1)[0][0].manner for level in Level}
    assert manners[Level.BEGINNER] is Manner.BLOCKED
    assert manners[Level.INTERMEDIATE] is manners[Level.ADVANCED] is Manner.MIXED


def test_the_same_beliefs_give_the_same_plan() -> None:
    plan, beliefs = lived(Level.BEGINNER, 1)[20]
    assert practice_plan(beliefs, plan.day, plan.minutes) == plan


@pytest.mark.parametrize("verdict", Verdict)
def test_a_second_day_has_a_chorus_and_what_was_played(verdict: Verdict) -> None:
    tuesday = MONDAY + timedelta(days=1)
    plan = practice_plan(beliefs_of(SYLLABUS, [played(verdict=verdict)], tuesday), tuesday)
    assert plan.items[-1].role is ItemRole.CHORUS
    assert FIRST in {item.skill for item in plan.items}


def test_a_course_without_skills_gives_a_plan_without_items() -> None:
    nothing = Syllabus((), (), (), Level.BEGINNER)
    assert practice_plan(beliefs_of(nothing, (), MONDAY), MONDAY).items == ()
    assert one_more(beliefs_of(nothing, (), MONDAY), MONDAY, 5.0) is None


def test_a_second_plan_of_the_first_day_has_two_items_as_well() -> None:
    plan = practice_plan(beliefs_of(SYLLABUS, [played()], MONDAY), MONDAY)
    assert plan.items[0].skill == FIRST
    assert len(plan.items) == 2


def test_one_more_was_not_played_today() -> None:
    plan, beliefs = lived(Level.BEGINNER, 1)[20]
    more = one_more(
        beliefs.after([played(plan.items[0].skill, day=plan.day)], plan.day), plan.day, 5
    )
    assert more is not None
    assert more.skill != plan.items[0].skill
    assert 0.5 <= more.chance <= 0.97


def test_one_more_is_no_second_new_thing() -> None:
    """Where a step was met today that never was, what else was never met waits."""
    plan, beliefs = lived(Level.BEGINNER, 1)[5]
    met = {track.last.skill for track in beliefs.tracks.values()}
    new = next(
        row.skill for row in SYLLABUS.rows if row.skill.unit not in {one.unit for one in met}
    )
    beliefs = beliefs.after([played(new, day=plan.day, tempo_bpm=40)], plan.day)
    known = {(one.unit, one.step) for one in (*met, new)}
    units, steps = ({pair[part] for pair in known} for part in (0, 1))
    count = 0
    while count < 8 and (more := one_more(beliefs, plan.day, 5)) is not None:
        count += 1
        assert more.skill.unit in units
        assert more.skill.step in steps
        source, tempo = f"more-{count}", more.tempo_bpm
        evidence = played(more.skill, day=plan.day, source=source, tempo_bpm=tempo)
        beliefs = beliefs.after([evidence], plan.day)
    assert count >= 3


@pytest.mark.slow
def test_nothing_that_can_be_played_and_is_not_known_is_let_lie() -> None:
    """In a hundred days of a student who plays each day."""
    plan, beliefs = list(lived_days(days=100))[-1]
    waits = [
        (plan.day - track.memory.last).days
        for track in beliefs.tracks.values()
        if beliefs.chance(track.last.skill, 40.0, plan.day) >= 0.5
        and beliefs.chance(track.last.skill, 120.0, plan.day) < SAFE
    ]
    assert len(waits) >= 5
    assert max(waits) <= 30


def test_the_first_day_begins_at_the_beginning() -> None:
    plan = practice_plan(beliefs_of(SYLLABUS, (), MONDAY), MONDAY)
    assert plan.items[0].skill == SYLLABUS.rows[0].skill
    assert {item.skill.unit for item in plan.items} == {"unit-0"}


@pytest.mark.parametrize("minutes", [10.0, 30.0, 60.0, 180.0])
def test_no_item_is_longer_than_it_teaches(minutes: float) -> None:
    plan = practice_plan(beliefs_of(SYLLABUS, (), MONDAY), MONDAY, minutes)
    assert all(0 < item.minutes <= LONGEST_ITEM for item in plan.items)
