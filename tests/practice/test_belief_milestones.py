"""Do beliefs that go on from a milestone end where those do that begin at the first take?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from random import Random
from unittest.mock import patch

import pytest
from made_syllabus import MONDAY, SYLLABUS, made_syllabus, played

from halfstep.level import Level
from halfstep.practice import belief_milestones
from halfstep.practice.belief_filter import BeliefFilter
from halfstep.practice.belief_milestones import (
    MODEL,
    KeptMilestone,
    beliefs_from,
    digested,
    kept_milestone,
)
from halfstep.practice.beliefs import MILESTONE, Beliefs, beliefs_of
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.syllabus import Syllabus

PACKAGE = Path(belief_milestones.__file__).parent
YEARS = 600
"""Days that were played, once each."""
LAST = MONDAY + timedelta(days=YEARS)


def takes(count: int = YEARS, *, first: int = 0) -> list[Evidence]:
    """One a day, of anything in the course."""
    random = Random(first)
    return [
        played(
            random.choice(SYLLABUS.rows).skill,
            random.choice(list(Verdict)),
            MONDAY + timedelta(days=day),
            source=f"take {day}",
            weight=round(random.random(), 2),
        )
        for day in range(first, first + count)
    ]


def kept_of(known: Beliefs) -> list[KeptMilestone]:
    return [kept_milestone(*item) for item in digested(known).items()]


def state(known: Beliefs) -> tuple[object, ...]:
    numbers = known.pace, known.covariances, known.means, known.variances
    return *numbers, known.tracks, known.table.tolist(), known.evidence, known.notices


def learnt_by(work: Callable[[], Beliefs]) -> tuple[Beliefs, int]:
    """What work gives, and how many pieces of evidence it takes in."""
    learn = BeliefFilter.learn
    with patch.object(BeliefFilter, "learn", autospec=True, side_effect=learn) as counter:
        return work(), counter.call_count


def late_take(days_late: int) -> Evidence:
    skill, day = SYLLABUS.rows[3].skill, LAST - timedelta(days=days_late)
    return played(skill, Verdict.NOT_YET, day, source="take z")


@pytest.mark.slow
@pytest.mark.parametrize("days_late", [0, 1, 30, 200, 500, 599])
def test_late_evidence_goes_twice_as_far_back_as_it_must_and_ends_the_same(days_late: int) -> None:
    known, late = beliefs_of(SYLLABUS, takes(), LAST), late_take(days_late)
    whole, count = learnt_by(lambda: known.after([late], LAST))
    assert state(whole) == state(beliefs_of(SYLLABUS, [*takes(), late], LAST))
    assert count <= 2 * days_late + MILESTONE + 1


@pytest.mark.slow
def test_late_evidence_may_come_after_late_evidence() -> None:
    known, evidence = beliefs_of(SYLLABUS, takes(), LAST), takes()
    for days_late in (300, 10, 420):
        late = replace(late_take(days_late), source=f"late by {days_late}")
        known, evidence = known.after([late], LAST), [*evidence, late]
        assert state(known) == state(beliefs_of(SYLLABUS, evidence, LAST))


@pytest.mark.slow
def test_milestones_grow_few_though_each_day_adds_one() -> None:
    known = beliefs_of(SYLLABUS, (), LAST)
    for take in takes():
        known = known.after([take], LAST)
    backs = [0, *(YEARS - stand.count for stand in reversed(known.milestones)), YEARS]
    assert len(backs) < 12
    assert all(b <= 2 * a + MILESTONE for a, b in pairwise(backs))


@pytest.mark.slow
def test_kept_beliefs_go_on_where_they_were_and_end_the_same() -> None:
    kept = kept_of(beliefs_of(SYLLABUS, takes(), LAST))
    evidence = [*takes(), *takes(5, first=YEARS)]
    day = LAST + timedelta(days=5)
    again, count = learnt_by(lambda: beliefs_from(kept, SYLLABUS, evidence, day))
    assert state(again) == state(beliefs_of(SYLLABUS, evidence, day))
    assert count == 5
    assert {item.digest for item in kept_of(again)} & {item.digest for item in kept}


@pytest.mark.slow
def test_a_late_take_begins_at_the_kept_milestone_before_it() -> None:
    kept = kept_of(beliefs_of(SYLLABUS, takes(), LAST))
    evidence = [*takes(), late_take(100)]
    again, count = learnt_by(lambda: beliefs_from(kept, SYLLABUS, evidence, LAST))
    assert state(again) == state(beliefs_of(SYLLABUS, evidence, LAST))
    assert count <= 2 * 100 + MILESTONE + 1


def _another_word(evidence: list[Evidence]) -> list[Evidence]:
    first = evidence[0]
    verdict = Verdict.NEARLY if first.verdict is Verdict.CLEAN else Verdict.CLEAN
    return [replace(first, verdict=verdict), *evidence[1:]]


def _an_hour_to_the_east(evidence: list[Evidence]) -> list[Evidence]:
    return [replace(item, at=item.at + timedelta(hours=13)) for item in evidence]


@pytest.mark.slow
@pytest.mark.parametrize("changed", [_another_word, _an_hour_to_the_east, lambda all_: all_[1:]])
def test_what_rests_on_other_evidence_is_passed_over(
    changed: Callable[[list[Evidence]], list[Evidence]],
) -> None:
    kept = kept_of(beliefs_of(SYLLABUS, takes(), LAST))
    expect_anew(kept, SYLLABUS, changed(takes()))


@pytest.mark.slow
@pytest.mark.parametrize(
    "syllabus", [made_syllabus(level=Level.ADVANCED), made_syllabus(units=7), made_syllabus(keys=6)]
)
def test_what_is_of_another_course_or_level_is_passed_over(syllabus: Syllabus) -> None:
    expect_anew(kept_of(beliefs_of(SYLLABUS, takes(), LAST)), syllabus, takes())


@pytest.mark.slow
def test_what_is_of_another_model_is_passed_over() -> None:
    kept = kept_of(beliefs_of(SYLLABUS, takes(), LAST))
    with patch.object(belief_milestones, "_model_mark", lambda: b"another"):
        expect_anew(kept, SYLLABUS, takes())


@pytest.mark.slow
def test_what_is_damaged_is_passed_over() -> None:
    kept = kept_of(beliefs_of(SYLLABUS, takes(), LAST))
    damaged = [replace(item, state=item.state.replace("1", "2", 1)) for item in kept]
    expect_anew(damaged, SYLLABUS, takes())


def expect_anew(
    kept: Iterable[KeptMilestone], syllabus: Syllabus, evidence: list[Evidence]
) -> None:
    """All evidence is taken in, and ends as without what was kept."""
    day = LAST + timedelta(days=1)
    again, count = learnt_by(lambda: beliefs_from(kept, syllabus, evidence, day))
    assert state(again) == state(beliefs_of(syllabus, evidence, day))
    assert count == len(again.evidence) == len(evidence)


@pytest.mark.slow
def test_a_day_before_the_last_take_has_its_own_beliefs() -> None:
    kept, day = kept_of(beliefs_of(SYLLABUS, takes(), LAST)), LAST - timedelta(days=100)
    assert state(beliefs_from(kept, SYLLABUS, takes(), day)) == state(
        beliefs_of(SYLLABUS, takes(), day)
    )


def test_the_model_is_all_that_beliefs_are_made_by() -> None:
    """What is only said of evidence and of the course is in the digest itself."""
    said = {"evidence.py", "syllabus.py", "skill_grid.py"}
    assert {*MODEL} == modules_behind("belief_milestones.py") - said


def modules_behind(name: str) -> set[str]:
    """A module of the package with those that it imports from there, and so on."""
    names, ahead = set[str](), [name]
    while ahead:
        text = (PACKAGE / (name := ahead.pop())).read_text("utf-8")
        names.add(name)
        imports = re.findall(r"from halfstep\.practice\.(\w+) import", text)
        ahead += {f"{module}.py" for module in imports} - names
    return names
