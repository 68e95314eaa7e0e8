"""Are skills remembered as the library has it?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from fsrs.scheduler import FSRS_DEFAULT_DECAY
from hypothesis import given
from hypothesis import strategies as st
from made_syllabus import MONDAY

from halfstep.practice.evidence import Verdict
from halfstep.practice.memory import DECAY, Memory, days_until, reviewed, share_left

FIRST_STABILITIES = {Verdict.NOT_YET: 0.212, Verdict.NEARLY: 1.2931, Verdict.CLEAN: 2.3065}
"""Days: the first three of the default parameters printed in the README of fsrs 6."""


@pytest.mark.parametrize("verdict", Verdict)
def test_a_first_review_is_kept_as_the_library_documents(verdict: Verdict) -> None:
    memory = reviewed(None, MONDAY, verdict)
    assert memory.stability_days == pytest.approx(FIRST_STABILITIES[verdict])
    assert memory.last == MONDAY


def test_the_curve_is_the_librarys() -> None:
    """Its definition: nine tenths are left after as many days as a memory is stable."""
    assert DECAY == FSRS_DEFAULT_DECAY
    assert share_left(7.0, 7.0) == pytest.approx(0.9)


def test_gaps_grow_while_it_goes_well() -> None:
    memory, gaps = reviewed(None, MONDAY, Verdict.CLEAN), []
    for _ in range(5):
        gaps.append(round(days_until(0.9, memory.stability_days)))
        memory = reviewed(memory, memory.last + timedelta(days=gaps[-1]), Verdict.CLEAN)
    assert gaps == sorted(set(gaps))
    assert gaps[0] < 4
    assert gaps[-1] > 100


def test_a_lapse_makes_the_gap_short_again() -> None:
    memory = Memory(40.0, 5.0, MONDAY)
    later = MONDAY + timedelta(days=40)
    lapsed, kept = reviewed(memory, later, Verdict.NOT_YET), reviewed(memory, later, Verdict.CLEAN)
    assert lapsed.stability_days < 10 < 40 < kept.stability_days


def test_a_second_time_on_a_day_counts_for_less_than_one_tomorrow() -> None:
    memory = reviewed(None, MONDAY, Verdict.CLEAN)
    today = reviewed(memory, MONDAY, Verdict.CLEAN)
    tomorrow = reviewed(memory, MONDAY + timedelta(days=1), Verdict.CLEAN)
    assert memory.stability_days <= today.stability_days < tomorrow.stability_days


@given(st.floats(0.05, 0.99), st.floats(0.01, 1000))
def test_days_until_is_the_way_back(share: float, stability_days: float) -> None:
    assert share_left(days_until(share, stability_days), stability_days) == pytest.approx(share)
