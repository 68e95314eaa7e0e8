"""A step is one value in one list: its names, its spans, and what is required of it."""

from __future__ import annotations

from dataclasses import MISSING, FrozenInstanceError, fields, replace
from itertools import pairwise, product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.etude import steps
from halfstep.etude.step import InRuns, NoteByNote, Step
from halfstep.etude.steps import STEPS, find_step, parse_steps
from halfstep.etude.steps.stored_numbers import step_stored_as

NAMES = (
    "rhythm", "echo", "question", "root-third", "arpeggio", "arpeggio-in-rhythm",
    "broken-arpeggio", "scale", "turning-scale", "one-line", "guide-tones", "cells",
    "approach-notes", "enclosures", "motif", "call-and-response", "chorus",
)  # fmt: skip
"""The names that files hold: they never change, and later steps come beside them."""


def names(text: str) -> list[str]:
    return [step.name for step in parse_steps(text)]


def test_names_are_for_good_and_in_the_order_of_the_lesson() -> None:
    assert [step.name for step in STEPS if step.name in NAMES] == list(NAMES)


def test_the_numbers_are_a_second_name_of_the_thirteen_from_arpeggio_to_chorus() -> None:
    numbered = {step.name: step.number for step in STEPS if step.number is not None}
    assert numbered == {name: number for number, name in enumerate(NAMES[4:], 1)}


def test_no_two_steps_share_a_name_a_title_a_task_or_their_chance() -> None:
    for told in (
        [step.name for step in STEPS],
        [step.title for step in STEPS],
        [step.task for step in STEPS],
        [step.rng(1, 0).integers(2**31) for step in STEPS],
    ):
        assert len(set(told)) == len(told)


def test_a_step_is_found_by_name_and_by_number() -> None:
    assert find_step("9") is find_step("approach-notes") is find_step(" Approach-Notes ")
    assert find_step("rhythm").number is None


@pytest.mark.parametrize("text", ["", "0", "14", "-1", "approach", "approach-notes-", "9" * 5000])
def test_a_step_there_is_not_is_refused_with_those_there_are(text: str) -> None:
    with pytest.raises(BriefError, match="there are steps 1 to 13, and before them rhythm, echo"):
        find_step(text)


def test_spans_of_steps() -> None:
    assert names("1-6") == list(NAMES[4:10])
    assert names("3") == ["broken-arpeggio"]
    assert names(" 4 - 5 , 1") == ["arpeggio", "scale", "turning-scale"]
    assert names("2,2-3") == ["arpeggio-in-rhythm", "broken-arpeggio"]
    assert names("arpeggio-cells") == list(NAMES[4:12])
    assert names("rhythm-2") == list(NAMES[:6])
    assert names("11-call-and-response") == ["motif", "call-and-response"]


@given(st.sampled_from(STEPS), st.sampled_from(STEPS), st.booleans(), st.booleans())
def test_every_span_reads_the_same_by_names_and_by_numbers(
    first: Step, last: Step, short_first: bool, short_last: bool
) -> None:
    """Names hold hyphens, and so do spans: no two ways to read one."""
    ends = STEPS.index(first), STEPS.index(last)
    left = first.short_name if short_first else first.name
    right = last.short_name if short_last else last.name
    if ends[0] <= ends[1]:
        assert parse_steps(f"{left}-{right}") == tuple(STEPS[ends[0] : ends[1] + 1])
    else:
        with pytest.raises(BriefError, match="the earlier one first"):
            parse_steps(f"{left}-{right}")


def test_no_name_is_two_names_joined() -> None:
    """Such a name would be a span as well."""
    joined = {f"{a.name}-{b.name}" for a, b in product(STEPS, STEPS)}
    assert joined & {step.name for step in STEPS} == set()


@given(st.lists(st.sampled_from(STEPS), min_size=1))
def test_a_list_of_steps_is_read_sorted_and_once(some: list[Step]) -> None:
    read = parse_steps(",".join(step.short_name for step in some))
    assert set(read) == set(some)
    assert all(STEPS.index(one) < STEPS.index(other) for one, other in pairwise(read))


def test_steps_before_the_first_are_named() -> None:
    assert names("rhythm") == ["rhythm"]
    assert names("Echo-root-third, 2") == ["echo", "question", "root-third", "arpeggio-in-rhythm"]
    assert names("root-third-1") == ["root-third", "arpeggio"]


@pytest.mark.parametrize("text", ["", "one", "1-", "-2", "1-2-3", "1;2", "1.5", "9" * 5000])
def test_what_is_no_span_is_refused(text: str) -> None:
    with pytest.raises(BriefError, match="are not a span of steps; write it like 1-6, 1,3 or r"):
        parse_steps(text)


@pytest.mark.parametrize("text", ["0", "77", "6-1", "1-99", "rhythm-14", "1-rhythm"])
def test_steps_there_are_not_are_refused(text: str) -> None:
    with pytest.raises(BriefError, match=r"there are steps 1 to 13"):
        parse_steps(text)


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_the_last_line_of_a_module_is_its_step(step: Step) -> None:
    module = getattr(steps, step.name.replace("-", "_"))
    assert module.STEP is step


def named(value: Any) -> dict[str, Any]:
    """The pieces of a step, or of how it is written, by name."""
    if isinstance(value, Step):
        return {field.name: getattr(value, field.name) for field in fields(value)}
    return value._asdict()


def required(kind: type[Any]) -> list[str]:
    if kind is Step:
        return [f.name for f in fields(kind) if f.default is f.default_factory is MISSING]
    return [name for name in kind._fields if name not in kind._field_defaults]


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_a_step_without_a_piece_that_it_needs_cannot_be_made(step: Step) -> None:
    for value in (step, step.writing):
        given = named(value)
        assert type(value)(**given) == value
        for name in required(type(value)):
            less = {key: part for key, part in given.items() if key != name}
            with pytest.raises(TypeError, match=f"argument: '{name}'"):
                type(value)(**less)


def test_what_every_step_needs_is_required() -> None:
    assert required(Step) == ["name", "title", "task", "sentences", "writing", "rules"]
    assert required(NoteByNote) == ["layouts", "costs"]
    assert required(InRuns) == ["layout", "notices"]


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_no_piece_of_a_step_is_empty(step: Step) -> None:
    assert step.name == step.name.lower().strip(" -")
    assert step.title[0].isupper()
    assert step.task.endswith(".")
    assert step.rules
    assert step.sentences
    assert step.beginners_kin >= 1
    assert step.least_outline is None or 0 < step.least_outline <= 1


def test_a_step_is_a_frozen_value() -> None:
    with pytest.raises(FrozenInstanceError):
        STEPS[0].title = "Other"  # type: ignore[misc]
    assert replace(STEPS[0], beginners_kin=2) != STEPS[0]


def test_headings_have_the_number_where_there_is_one() -> None:
    assert find_step("rhythm").heading == "One note"
    assert find_step("cells").heading == "8. Cells"
    assert [step.short_name for step in parse_steps("root-third-2")] == ["root-third", "1", "2"]


def test_files_of_the_first_version_have_numbers_from_minus_four() -> None:
    numbers = [-4, -3, -2, -1, *range(1, 14)]
    assert [step_stored_as(number).name for number in numbers] == list(NAMES)
    with pytest.raises(BriefError, match="there is no step '0'"):
        step_stored_as(0)
