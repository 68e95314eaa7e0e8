"""Runs of a given shape: ladders, shapes that are turned back, pieces of each chord."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from briefs_over_charts import brief_over, midis_of
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.chord_runs import (
    DOWN,
    LEFT_OUT,
    UP,
    UP_AND_DOWN,
    ChordRun,
    RunShape,
    folded_shapes,
    ladder_of,
    pieces_by_chord,
    rest_of,
    zigzag,
)

THREE = brief_over("key: C\n| Dm7 | % | G7 Cmaj7 | N.C. |")


@pytest.mark.parametrize("offsets", [UP, DOWN, UP_AND_DOWN, DOWN[1:], (0,), (3, 2)])
def test_a_shape_comes_whole_and_twice_turned_back(offsets: tuple[int, ...]) -> None:
    """A chord with wide gaps is played lower, over fewer tones, rather than left out."""
    whole, without_top, two_tones = folded_shapes(offsets)
    assert whole.offsets == offsets
    assert (whole.cost, without_top.cost, two_tones.cost) == (0, LEFT_OUT, 2 * LEFT_OUT)
    assert max(without_top.offsets) <= 2
    assert max(two_tones.offsets) <= 1
    for shape in (whole, without_top, two_tones):
        assert len(shape.offsets) == len(offsets)
        assert offsets[shape.base] == min(offsets)


def test_up_turned_back_at_the_fifth_and_at_the_third() -> None:
    assert [shape.offsets for shape in folded_shapes(UP)] == [UP, (0, 1, 2, 1), (0, 1, 0, 1)]


@given(st.integers(1, 30), st.integers(1, 9), st.booleans())
def test_a_zigzag_begins_at_the_base_and_stays_below_its_peak(
    count: int, peak: int, twice: bool
) -> None:
    steps = zigzag(count, peak, twice=twice)
    assert len(steps) == count
    assert steps[0] == 0
    assert min(steps) >= 0
    assert max(steps) == min(peak, count - 1)
    moves = set(np.abs(np.diff(steps)).tolist())
    assert moves <= ({0, 1} if twice else {1})


@given(st.integers(1, 8))
def test_a_zigzag_repeats_with_its_period(peak: int) -> None:
    """Up and down is twice the peak; with repeated turning notes two more."""
    plain, twice = zigzag(6 * peak, peak), zigzag(8 * (peak + 1), peak, twice=True)
    assert plain[: 2 * peak] == plain[2 * peak : 4 * peak]
    assert twice[: 2 * peak + 2] == twice[2 * peak + 2 : 4 * peak + 4]
    assert plain[: 2 * peak][::-1] == (*plain[1 : 2 * peak], 0)


@pytest.mark.parametrize("names", ["", "C4", "C4 E4 G4 Bb4"])
def test_a_ladder_holds_the_flagged_notes_in_order(names: str) -> None:
    flags = np.zeros(128, bool)
    flags[midis_of(names)] = True
    assert ladder_of(flags) == tuple(midis_of(names))
    assert all(isinstance(rung, int) for rung in ladder_of(flags))


def test_the_ladder_of_an_arpeggio_is_its_tones_in_range() -> None:
    request = brief_over("| C7 |", low="C4", high="C5")
    assert ladder_of(request.palette(0).core) == tuple(midis_of("C4 E4 G4 Bb4 C5"))


def test_pieces_are_grouped_by_chord_with_the_count_up_to_each() -> None:
    groups = pieces_by_chord(THREE.cut)
    assert [stop for stop, _ in groups] == [2, 3, 4, 5]
    assert [len(group) for _, group in groups] == [2, 1, 1, 1]
    assert [group[0].chord for _, group in groups] == [0, 1, 2, 3]
    assert [piece for _, group in groups for piece in group] == THREE.cut


def test_silence_is_a_run_without_a_shape_over_all_of_its_piece() -> None:
    run = rest_of(THREE.cut[-1])
    assert run.rest
    assert [(slot.onset, slot.beats, slot.palette) for slot in run.slots] == [(12, 4, None)]
    assert not ChordRun(run.slots, (RunShape((0,)),), (60,)).rest


def test_shapes_and_runs_are_values() -> None:
    assert RunShape((0, 1)) == RunShape((0, 1), base=0, cost=0.0)
    assert RunShape((0, 1)) != RunShape((0, 1), cost=Fraction(1, 2))
    assert len({RunShape(UP), RunShape(UP), RunShape(DOWN)}) == 2
