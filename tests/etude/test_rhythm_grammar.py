"""Rhythms: what a level and a feel may have, how often, and how the last note is held."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import accumulate, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.rhythm_grammar import (
    REST_SHARE,
    beats_of,
    cells,
    filled_in,
    held_last,
    left_out,
)  # fmt: skip
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.random_stream import RandomStream
from strategies import meters

HALF, FOUR = Fraction(1, 2), Meter(4, 4)


def lengths_of(text: str) -> list[Fraction]:
    return [Fraction(word) for word in text.split()]


@pytest.mark.parametrize(
    ("lengths", "least", "held"),
    [
        ("1 1/2 1/2", "1", "1 1"),
        ("1 1 1", "1", "1 1 1"),
        ("1/2 1/2 1/2 1/2", "1", "1/2 1/2 1"),
        ("1/2 1/2 1/2", "3/2", "3/2"),
        ("1/2", "1", "1/2"),  # there is nothing to join
        ("1/3 1/3 1/3", "1", "1"),
        ("3/2 1/2", "1", "2"),
    ],
)
def test_the_last_notes_are_joined_until_they_are_long_enough(
    lengths: str, least: str, held: str
) -> None:
    assert held_last(lengths_of(lengths), Fraction(least)) == lengths_of(held)


@given(st.lists(st.sampled_from(lengths_of("1/4 1/3 1/2 1 3/2")), min_size=1, max_size=9))
def test_a_held_end_takes_no_time_from_the_rest(lengths: list[Fraction]) -> None:
    held = held_last(lengths)
    assert sum(held) == sum(lengths)
    assert held[:-1] == lengths[: len(held) - 1]
    assert held[-1] >= min(1, sum(lengths))


@pytest.mark.parametrize("beats", ["1/2", "1", "3/2", "2", "3", "4"])
def test_each_level_has_all_that_the_one_before_has_and_more(beats: str) -> None:
    length = Fraction(beats)
    levels = [set(cells(length, level, Feel.SWING)) for level in Level]
    assert levels[0] <= levels[1] <= levels[2]
    assert all(sum(cell) == length for cell in levels[2])
    assert cells(Fraction(7), Level.ADVANCED) == ()
    if length in {3, 4}:
        assert levels[0] < levels[1] < levels[2]


@settings(max_examples=40)
@given(meters())
def test_beats_fill_the_bar_and_begin_with_it(meter: Meter) -> None:
    beats = beats_of(meter)
    assert beats[0][0] == 0
    assert beats[-1][1] == meter.bar_beats
    assert all(old[1] == new[0] for old, new in pairwise(beats))
    assert set(meter.strong_beats) <= {start for start, _ in beats} or meter.unit <= 2


@settings(max_examples=60)
@given(meters(), st.sampled_from(list(Level)), st.sampled_from(list(Feel)), st.integers(0, 99))
def test_a_rhythm_fills_its_bar_and_no_note_crosses_a_group(
    meter: Meter, level: Level, feel: Feel, seed: int
) -> None:
    rng = RandomStream(seed)
    zero = Fraction(0)
    lengths = filled_in(meter, zero, meter.bar_beats, level, rng, not_like=[], feel=feel)
    assert sum(lengths) == meter.bar_beats
    assert min(lengths) > 0
    if meter.compound:
        onsets = [zero, *accumulate(lengths)]
        for start, stop in pairwise(onsets):
            assert not any(start < at < stop for at in meter.strong_beats)


def test_a_rhythm_is_never_the_one_before_where_there_is_a_choice() -> None:
    rng = RandomStream(0)
    before: list[Fraction] = []
    for _ in range(60):
        lengths = filled_in(FOUR, Fraction(0), Fraction(4), Level.BEGINNER, rng, not_like=before)
        assert lengths != before
        before = lengths


def test_the_rhythms_of_a_beginner_are_drawn_alike() -> None:
    """Chi-square of 1200 bars over six rhythms; 20.5 is passed once in a thousand (memory)."""
    rng = RandomStream(5)
    counts = Counter(
        tuple(filled_in(FOUR, Fraction(0), Fraction(4), Level.BEGINNER, rng, not_like=[]))
        for _ in range(1200)
    )
    assert set(counts) == set(cells(Fraction(4), Level.BEGINNER))
    assert sum((count - 200) ** 2 / 200 for count in counts.values()) < 20.5


@pytest.mark.parametrize(
    ("lengths", "plain", "others"),
    [
        ("1 1/2 1/2 1 1", {3}, {0, 1, 2, 3}),
        ("1/2 1/2 1/2 1/2 1 1", {4}, {0, 1, 2, 3, 4}),
        ("1 1 2", set(), set()),  # too few notes
        ("1/3 1/3 1/3 1 1 1", {3, 4}, {3, 4}),  # no part of a triplet is left out
        ("3/2 1/2 1 1", {2}, {1, 2}),
        ("1/2 1 1/2 1 1", {3}, {0, 1, 2, 3}),
    ],
)
def test_what_may_be_left_out(lengths: str, plain: set[int], others: set[int]) -> None:
    """A beginner rests for a quarter on a beat inside the rhythm; never the last note."""
    for level, places in ((Level.BEGINNER, plain), (Level.INTERMEDIATE, others)):
        rng = RandomStream(3)
        drawn = {left_out(FOUR, Fraction(0), lengths_of(lengths), level, rng) for _ in range(200)}
        assert drawn - {None} == places


def test_a_note_is_left_out_three_times_of_ten() -> None:
    """Of 2000 rhythms, within three and a half standard deviations."""
    rng = RandomStream(11)
    lengths = lengths_of("1 1/2 1/2 1 1")
    count = sum(
        left_out(FOUR, Fraction(0), lengths, Level.ADVANCED, rng) is not None for _ in range(2000)
    )
    assert abs(count - 2000 * REST_SHARE) < 3.5 * (2000 * REST_SHARE * (1 - REST_SHARE)) ** 0.5
