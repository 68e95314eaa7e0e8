"""What is told first: one strength, always with its bar."""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.feedback.findings import FindingKind
from halfstep.feedback.judge import judge
from halfstep.feedback.strengths import StrengthKind, strength
from halfstep.harmony.chord_arrivals import JUDGED, ChangeVerdict
from told_takes import a_finding, a_take, told


def test_changes_in_a_row_are_counted_over_those_that_are_not_judged() -> None:
    feedback = told()
    best = strength(feedback)
    judged = [change for change in feedback.changes if change.verdict in JUDGED]
    assert {change.verdict for change in judged} == {ChangeVerdict.ON_TIME}
    assert best is not None
    assert (best.kind, best.count) == (StrengthKind.CHANGES_IN_A_ROW, len(judged))
    assert (best.place, best.until) == (judged[0].place, judged[-1].place)


def test_a_missed_change_breaks_the_row() -> None:
    feedback = told()
    judged = [n for n, change in enumerate(feedback.changes) if change.verdict in JUDGED]
    changes = list(feedback.changes)
    changes[judged[2]] = replace(changes[judged[2]], verdict=ChangeVerdict.MISSED)
    best = strength(replace(feedback, changes=tuple(changes)))
    assert best is not None
    assert best.place == changes[judged[3]].place
    assert best.count == len(judged) - 3


@pytest.mark.parametrize("kind", ["enclosure", "approach", "anticipation"])
def test_craft_is_told_where_no_change_is(kind: str) -> None:
    feedback = replace(told(a_finding(FindingKind(kind), 5)), changes=())
    best = strength(feedback)
    assert best is not None
    assert (best.kind, best.place.bar) == (StrengthKind(kind), 5)


def test_a_written_line_is_praised_for_bars_without_a_fault() -> None:
    feedback = judge(a_take(with_line=True))
    best = strength(replace(feedback, findings=(a_finding(FindingKind.ADDED, 3),)))
    assert best is not None
    assert best.kind is StrengthKind.WRITTEN_BARS
    assert (best.place.chorus, best.place.bar, best.until.bar, best.count) == (2, 1, 8, 8)


def test_a_landing_is_told_where_there_is_nothing_else() -> None:
    best = strength(replace(told(), changes=()))
    assert best is not None
    assert best.kind is StrengthKind.LANDING
    assert best.place.beat == 1


def test_nothing_is_praised_of_what_is_not_judged() -> None:
    assert strength(replace(told(), is_judged=False)) is None
