"""A step as a value: its names, its rules in order, its chance, and what it is written by."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest

from halfstep.errors import BriefError
from halfstep.etude.rules import BREATHES, BREATHES_IN_RESTS, EVERY_STEP, LineRule, LocalRule
from halfstep.etude.step import InRuns, NoteByNote, Step
from halfstep.etude.steps import STEPS, find_step
from halfstep.etude.steps.stored_numbers import step_stored_as

RUNS = {"arpeggio", "arpeggio-in-rhythm", "scale", "cells"}


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_the_rules_of_a_step_are_its_own_with_those_for_every_step(step: Step) -> None:
    rules = step.every_rule
    assert rules[: len(EVERY_STEP)] == EVERY_STEP
    assert rules[len(EVERY_STEP)] is step.breathing
    assert rules[len(EVERY_STEP) + 1 :] == step.rules
    texts = [rule.text for rule in rules]
    assert len(set(texts)) == len(texts)


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_the_search_keeps_to_the_rules_for_a_few_notes_those_of_the_step_first(step: Step) -> None:
    local = step.local_rules
    assert {rule.text for rule in local} == {
        rule.text for rule in step.every_rule if isinstance(rule, LocalRule)
    }
    ours = [rule for rule in step.rules if isinstance(rule, LocalRule)]
    assert local[: len(ours)] == ours
    assert {rule.width for rule in local} <= {1, 2, 3}


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_runs_are_what_a_step_of_a_given_shape_is_written_in(step: Step) -> None:
    assert isinstance(step.writing, InRuns if step.name in RUNS else NoteByNote)


def test_only_a_chorus_has_phrases_of_its_own_to_breathe_in() -> None:
    assert {step.name for step in STEPS if step.breathing is not BREATHES} == {"chorus"}
    assert find_step("chorus").breathing is BREATHES_IN_RESTS
    assert isinstance(BREATHES, LineRule)


def test_a_ladder_of_outlines_that_a_line_is_drawn_again_for() -> None:
    """Guide tones and broken arpeggios must tell most, a chorus may leave more open."""
    least = {step.name: step.least_outline for step in STEPS if step.least_outline}
    assert max(least, key=lambda name: least[name] or 0) == "guide-tones"
    assert least["chorus"] == min(least.values(), key=lambda nats: nats or 0)
    assert all(0 < (nats or 0) <= 1 for nats in least.values())


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_the_same_seed_has_the_same_chance_and_no_other_step_has_it(step: Step) -> None:
    drawn = step.rng(7, 0).random()
    assert drawn == step.rng(7, 0).random()
    assert drawn != step.rng(8, 0).random()
    assert all(other is step or other.rng(7, 0).random() != drawn for other in STEPS)


def test_a_stream_comes_from_the_number_else_from_the_name_unless_it_is_given() -> None:
    scale = find_step("scale")
    number = np.random.default_rng([3, 4, 5]).random()
    assert scale.rng(3, 5).random() == number
    named = replace(scale, name="scales")
    assert replace(named, stream=4).rng(3, 5).random() == number
    assert named.rng(3, 5).random() not in {
        number,
        replace(named, name="modes").rng(3, 5).random(),
    }


@pytest.mark.parametrize(
    ("name", "short_name", "heading"),
    [("scale", "4", "4. Scale"), ("rhythm", "rhythm", "One note"), ("chorus", "13", "13. Chorus")],
)
def test_what_files_and_pages_call_a_step(name: str, short_name: str, heading: str) -> None:
    step = find_step(name)
    assert (step.short_name, step.heading, repr(step)) == (short_name, heading, f"<step {name}>")


def test_a_step_is_made_with_words_for_its_pieces_and_not_changed_after() -> None:
    step = find_step("echo")
    with pytest.raises(FrozenInstanceError):
        step.name = "reply"  # type: ignore[misc]
    with pytest.raises(TypeError, match="positional"):
        Step("reply")  # type: ignore[misc, call-arg]
    with pytest.raises(TypeError, match="costs"):
        NoteByNote(layouts=lambda *_: iter(()))  # type: ignore[call-arg]


@pytest.mark.parametrize("number", [-5, 0, 14, 99])
def test_a_number_that_no_file_of_the_first_version_had_is_refused(number: int) -> None:
    with pytest.raises(BriefError, match=f"there is no step '{number}'"):
        step_stored_as(number)


def test_every_stored_number_is_a_step_in_the_order_of_the_lesson() -> None:
    numbers = [number for number in range(-4, 14) if number]
    assert [step_stored_as(number) for number in numbers] == list(STEPS)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.name)
def test_a_step_is_sent_to_another_process_by_its_name(step: Step) -> None:
    assert pickle.loads(pickle.dumps(step)) is step
