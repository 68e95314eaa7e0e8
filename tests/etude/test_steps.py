"""A span of steps is read as people write it, or refused in one line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.etude.steps import STEPS, parse_steps
from halfstep.etude.tables import LINE_COSTS, STEP_RULES


def test_spans_of_steps() -> None:
    assert parse_steps("1-6") == (1, 2, 3, 4, 5, 6)
    assert parse_steps("3") == (3,)
    assert parse_steps(" 4 - 5 , 1") == (1, 4, 5)
    assert parse_steps("2,2-3") == (2, 3)


@given(st.lists(st.sampled_from(sorted(STEPS)), min_size=1))
def test_a_list_of_steps_is_read_sorted_and_once(numbers: list[int]) -> None:
    text = ",".join(STEPS[number].name for number in numbers)
    assert parse_steps(text) == tuple(sorted(set(numbers)))


def test_steps_before_the_first_are_named() -> None:
    assert parse_steps("rhythm") == (-4,)
    assert parse_steps("Echo-root-third, 2") == (-3, -2, -1, 2)
    assert parse_steps("root-third-1") == (-1, 1)


@pytest.mark.parametrize("text", ["", "one", "1-", "-2", "1-2-3", "1;2", "1.5", "9" * 5000])
def test_what_is_no_span_is_refused(text: str) -> None:
    with pytest.raises(BriefError, match="are not a span of steps"):
        parse_steps(text)


@pytest.mark.parametrize("text", ["0", "77", "6-1", "1-99"])
def test_steps_there_are_not_are_refused(text: str) -> None:
    with pytest.raises(BriefError, match=r"there are steps 1 to 13"):
        parse_steps(text)


def test_every_step_has_rules_and_a_task() -> None:
    assert set(STEP_RULES) == set(STEPS)
    assert set(LINE_COSTS) <= set(STEPS)
    assert all(step.task.endswith(".") and step.number == n for n, step in STEPS.items())
