"""A take held against a unit's marks: each measure, the verdict, and how surely it is so.

Chances are held against scipy (BSD) and against counting all cases.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from halfstep.course.course_folder import our_course
from halfstep.course.unit import SHARES, CourseUnit, Measure, PassMark
from halfstep.data.documents import json_text
from halfstep.data.feedback_json import feedback_data, read_feedback
from halfstep.feedback.doubts import Doubt
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.heard_changes import HeardChange
from halfstep.feedback.judge import judge
from halfstep.feedback.take_figures import ShareRight, TakeFigures, take_figures
from halfstep.harmony.chord_arrivals import ChangeVerdict
from halfstep.practice.evidence import Verdict
from halfstep.practice.take_measures import (
    PlayedTake,
    mark_result,
    measured,
    played_take,
    take_verdict,
)
from made_feedback import heard_take, judged_take, made_feedback, written_take
from told_takes import a_finding

FIGURES = TakeFigures(
    True, 2.0, 1.0,
    ShareRight(45, 50, 0.99), ShareRight(8, 10, 0.99), ShareRight(6, 8, 0.99),
)  # fmt: skip
COUNTED = {
    Measure.OLD_NOTES: FindingKind.OLD_NOTE_KEPT,
    Measure.FORM_SLIPS: FindingKind.FORM_SLIP,
    Measure.RESTARTS: FindingKind.RESTART,
    Measure.TIME_FAULTS: FindingKind.RUSHING,
    Measure.PHRASE_FAULTS: FindingKind.NO_REST,
}


def changes(on_time: int, missed: int, certainty: float = 0.95) -> tuple[HeardChange, ...]:
    place = a_finding(FindingKind.RESTART).place
    verdicts = [ChangeVerdict.ON_TIME] * on_time + [ChangeVerdict.MISSED] * missed
    return tuple(HeardChange(place, 0.0, 1, verdict, 0.0, certainty) for verdict in verdicts)


def a_take(*kinds: FindingKind, certainty: float = 0.95, **figures: object) -> PlayedTake:
    findings = tuple(replace(a_finding(kind), certainty=certainty) for kind in kinds)
    return PlayedTake(findings, changes(8, 2), replace(FIGURES, **figures))


def unit_with(*marks: PassMark) -> CourseUnit:
    return replace(our_course().units[0], marks=marks)


@pytest.mark.parametrize(
    ("measure", "value"),
    [
        (Measure.CHANGES_ON_TIME, 0.8), (Measure.NOTES_RIGHT, 0.9), (Measure.ECHOED_RIGHT, 0.8),
        (Measure.MOTIF_KEPT, 0.75), *((measure, 0.0) for measure in COUNTED),
    ],
)  # fmt: skip
def test_each_measure_is_a_figure_of_the_take(measure: Measure, value: float) -> None:
    assert measured(measure, a_take()) == pytest.approx(value)


def test_every_measure_has_a_figure_and_each_share_says_so() -> None:
    assert {m for m in Measure if measured(m, a_take()) is not None} == set(Measure)
    assert set(Measure) - SHARES == set(COUNTED)


@pytest.mark.parametrize(("measure", "kind"), COUNTED.items())
def test_a_count_is_of_faults_alone(measure: Measure, kind: FindingKind) -> None:
    take = a_take(kind, kind, FindingKind.SHARP)
    each_chorus = measure in {Measure.OLD_NOTES, Measure.RESTARTS}
    assert measured(measure, take) == (1.0 if each_chorus else 2.0)
    praise = replace(take, findings=tuple(replace(f, fault=False) for f in take.findings))
    assert measured(measure, praise) == 0.0


@pytest.mark.parametrize("measure", Measure)
def test_a_take_that_is_not_judged_has_no_figure(measure: Measure) -> None:
    assert measured(measure, a_take(is_judged=False)) is None


def test_what_a_take_does_not_hold_has_none() -> None:
    bare = PlayedTake((), (), TakeFigures(True, 1.0, 1.0))
    assert {m for m in SHARES if measured(m, bare) is not None} == set()


@pytest.mark.parametrize(
    ("share", "verdict"),
    [(1.0, Verdict.CLEAN), (0.8, Verdict.CLEAN), (0.7, Verdict.NEARLY), (0.5, Verdict.NOT_YET)],
)
def test_a_verdict_goes_by_the_mark(share: float, verdict: Verdict) -> None:
    unit = unit_with(PassMark(Measure.NOTES_RIGHT, at_least=0.8))
    take = a_take(line=ShareRight(round(share * 50), 50, 0.99))
    assert take_verdict(unit, "rhythm", take).verdict is verdict


@pytest.mark.parametrize(
    ("slips", "verdict"), [(0, Verdict.CLEAN), (1, Verdict.NEARLY), (2, Verdict.NOT_YET)]
)
def test_one_fault_more_is_nearly(slips: int, verdict: Verdict) -> None:
    unit = unit_with(PassMark(Measure.FORM_SLIPS, at_most=0))
    take = a_take(*[FindingKind.FORM_SLIP] * slips)
    assert take_verdict(unit, "rhythm", take).verdict is verdict


def test_one_mark_that_is_far_off_is_not_outweighed() -> None:
    unit = unit_with(
        PassMark(Measure.NOTES_RIGHT, at_least=0.8), PassMark(Measure.FORM_SLIPS, at_most=0)
    )
    take = a_take(*[FindingKind.FORM_SLIP] * 3, line=ShareRight(50, 50, 0.99))
    assert take_verdict(unit, "rhythm", take).verdict is Verdict.NOT_YET


@pytest.mark.parametrize(
    ("measure", "step"), [(Measure.ECHOED_RIGHT, "echo"), (Measure.MOTIF_KEPT, "motif")]
)
def test_echo_and_motif_are_asked_of_their_own_step_alone(measure: Measure, step: str) -> None:
    unit = unit_with(PassMark(measure, at_least=0.6))
    assert take_verdict(unit, step, a_take()).verdict is Verdict.CLEAN
    other = take_verdict(unit, "chorus", a_take())
    assert (other.results, other.verdict, other.weight) == ((), None, 0.0)


def test_unsure_hearing_and_half_a_chorus_count_for_less() -> None:
    unit = unit_with(PassMark(Measure.FORM_SLIPS, at_most=0))
    full = take_verdict(unit, "rhythm", a_take()).weight
    assert full == pytest.approx(1.0)
    assert take_verdict(unit, "rhythm", a_take(certainty=1.0)).weight == full
    unsure = replace(a_take(), figures=replace(FIGURES, certainty=0.6))
    assert take_verdict(unit, "rhythm", unsure).weight == pytest.approx(0.6)
    half = replace(a_take(), figures=replace(FIGURES, choruses=0.5))
    assert take_verdict(unit, "rhythm", half).weight == pytest.approx(0.5)


def test_a_fault_that_is_unsure_makes_a_verdict_unsure() -> None:
    unit = unit_with(PassMark(Measure.FORM_SLIPS, at_most=0))
    weights = [
        take_verdict(unit, "rhythm", a_take(FindingKind.FORM_SLIP, certainty=c)).weight
        for c in (0.95, 0.7, 0.6)
    ]
    assert weights == pytest.approx([0.95, 0.7, 0.6])


@given(st.lists(st.floats(0, 1), max_size=7), st.integers(0, 7))
def test_the_chance_of_a_count_is_that_of_all_cases(chances: list[float], most: int) -> None:
    findings = tuple(replace(a_finding(FindingKind.RUSHING), certainty=c) for c in chances)
    result = mark_result(
        PassMark(Measure.TIME_FAULTS, at_most=most), PlayedTake(findings, (), FIGURES)
    )
    cases = product((0, 1), repeat=len(chances))
    expected = sum(
        prod(c if true else 1 - c for c, true in zip(chances, case, strict=True))
        for case in cases
        if sum(case) <= most
    )
    assert result
    assert result.chance == pytest.approx(expected)


@pytest.mark.parametrize("right", [30, 38, 40, 45, 50])
def test_the_chance_of_a_share_is_near_the_binomial_one(right: int) -> None:
    take = a_take(line=ShareRight(right, 50, 0.9))
    result = mark_result(PassMark(Measure.NOTES_RIGHT, at_least=0.8), take)
    true, false = binom(right, 0.9), binom(50 - right, 0.1)
    expected = sum(true.pmf(k) * false.sf(40 - k - 1) for k in range(right + 1))
    assert result
    assert result.chance == pytest.approx(expected, abs=0.04)


def test_stored_feedback_gives_the_same_figures() -> None:
    feedback, written = made_feedback()
    stored = read_feedback(json_text(feedback_data(feedback, written, [])))
    assert stored.figures == take_figures(feedback)
    assert stored.figures.line is None
    take = PlayedTake(stored.findings, stored.changes, stored.figures)
    for unit in our_course().units:
        for step in unit.steps:
            again, fresh = (take_verdict(unit, step, t) for t in (take, played_take(feedback)))
            assert again.verdict is fresh.verdict
            assert again.weight == pytest.approx(fresh.weight, abs=0.01)


def test_feedback_that_was_stored_before_has_no_figures() -> None:
    feedback, written = made_feedback()
    data = feedback_data(feedback, written, [])
    del data["summary"]["figures"]
    assert read_feedback(json_text(data)).figures is None


def test_a_take_with_a_doubt_about_all_of_it_has_no_verdict() -> None:
    heard = heard_take()
    feedback = judge(judged_take(heard, doubts=(Doubt("two voices"),)))
    assert take_verdict(our_course().units[0], "rhythm", played_take(feedback)).verdict is None
    figures = feedback_data(feedback, written_take(heard), [])["summary"]["figures"]
    assert (figures["judged"], figures["line"], figures["motif"]) == (False, None, None)


@pytest.mark.parametrize(
    ("places", "certainty", "verdict"),
    [
        ([(1, 4)] * 3 + [(1, 5)] * 3, 0.95, Verdict.NEARLY),
        ([(1, 4)] * 3 + [(1, 6)] * 3, 0.95, Verdict.CLEAN),
        ([(1, 4)] * 3 + [(2, 5)] * 3, 0.95, Verdict.CLEAN),
        ([(1, 4)] * 2 + [(1, 5)] * 2, 0.95, Verdict.CLEAN),
        ([(1, 4)] * 3 + [(1, 5)] * 3, 0.45, Verdict.CLEAN),
    ],
)
def test_a_take_with_two_wrong_bars_in_a_row_is_not_clean(
    places: list[tuple[int, int]], certainty: float, verdict: Verdict
) -> None:
    """Common practice, no source."""
    unit = unit_with(PassMark(Measure.NOTES_RIGHT, at_least=0.85))
    take = a_take(line=ShareRight(94, 100, 0.99))
    wrong = tuple(
        a_finding(FindingKind.CHANGED, bar, chorus, certainty=certainty) for chorus, bar in places
    )
    assert take_verdict(unit, unit.steps[0], replace(take, findings=wrong)).verdict is verdict


def test_bars_that_were_left_out_are_a_wrong_spot() -> None:
    unit = unit_with(PassMark(Measure.NOTES_RIGHT, at_least=0.85))
    take = a_take(line=ShareRight(94, 100, 0.99))
    gap = a_finding(FindingKind.MISSED, bars=3)
    assert (
        take_verdict(unit, unit.steps[0], replace(take, findings=(gap,))).verdict is Verdict.NEARLY
    )
