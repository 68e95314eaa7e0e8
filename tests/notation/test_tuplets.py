"""Triplets and other tuplets: so many notes in the time of so many, a group at a time."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.notation import tuplet_groups, tuplet_ratio
from halfstep.score import Score
from written_scores import rhythm, rhythmic_scores


@pytest.mark.parametrize(
    ("beats", "ratio"),
    [
        ("1/3", (3, 2)), ("2/3", (3, 2)), ("4/3", (3, 2)), ("1/6", (3, 2)), ("1/12", (3, 2)),
        ("1/5", (5, 4)), ("2/5", (5, 4)), ("1/10", (5, 4)), ("1/7", (7, 4)), ("1/9", (9, 8)),
        ("1/11", (11, 8)), ("1/15", (15, 8)),
        ("1", (1, 1)), ("3/2", (1, 1)), ("1/4", (1, 1)), ("1/128", (1, 1)), ("7", (1, 1)),
    ],
)  # fmt: skip
def test_so_many_stand_in_the_time_of_the_power_of_two_below(
    beats: str, ratio: tuple[int, int]
) -> None:
    """A triplet is 3 in 2, a quintuplet 5 in 4, a septuplet 7 in 4: common practice."""
    assert tuplet_ratio(Fraction(beats)) == ratio


@given(st.integers(1, 200), st.integers(1, 200))
def test_a_tuplet_holds_more_notes_than_its_time_but_less_than_twice(count: int, of: int) -> None:
    actual, normal = tuplet_ratio(Fraction(count, of))
    assert normal <= actual < 2 * normal
    assert normal & (normal - 1) == 0
    plain = Fraction(count, of) * actual / normal
    assert plain.denominator & (plain.denominator - 1) == 0


@pytest.mark.parametrize(
    ("beats", "groups"),
    [
        ("1/3 1/3 1/3 3", ((0, 1, 2),)),
        ("1 2/3 1/3 2", ((1, 2),)),
        ("1/3 1/3 1/3 1/3 1/3 1/3 2", ((0, 1, 2), (3, 4, 5))),
        ("1 1 2", ()),
        ("1/3 2/3 1/3 2/3 2", ((0, 1), (2, 3))),
        ("2/3 2/3 2/3 2", ((0, 1, 2),)),
        ("1/6 1/6 1/6 1/2 3", ((0, 1, 2),)),
        ("4/3 4/3 4/3", ((0, 1, 2),)),
        ("1/3 (1/3) 1/3 3", ((0, 1, 2),)),
        ("1/5 1/5 1/5 1/5 1/5 3", ((0, 1, 2, 3, 4),)),
        ("3 1/3 1/3 1/3", ((1, 2, 3),)),
    ],
)
def test_a_group_ends_where_its_notes_add_up(
    beats: str, groups: tuple[tuple[int, ...], ...]
) -> None:
    assert tuplet_groups(rhythm(beats)) == groups


def test_a_group_that_is_cut_off_is_none() -> None:
    """Two thirds, then a plain note: whoever wrote it meant no triplet."""
    assert tuplet_groups(rhythm("1/3 1/3 1 1/3 1/3 1/3")) == ((3, 4, 5),)


@pytest.mark.slow
@settings(max_examples=30)
@given(rhythmic_scores())
def test_groups_hold_every_note_of_a_tuplet_once_and_in_order(score: Score) -> None:
    for bar in score.bars:
        places = [place for group in tuplet_groups(bar) for place in group]
        odd = [n for n, note in enumerate(bar.notes) if tuplet_ratio(note.beats)[0] > 1]
        assert places == odd


@pytest.mark.slow
@settings(max_examples=30)
@given(rhythmic_scores())
def test_a_group_lasts_a_length_without_a_tuplet(score: Score) -> None:
    for bar in score.bars:
        for group in tuplet_groups(bar):
            beats = sum(bar.notes[place].beats for place in group)
            assert tuplet_ratio(Fraction(beats)) == (1, 1)
            assert list(group) == list(range(group[0], group[-1] + 1))
