"""Rhythms fill their length exactly and vary."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.rhythm_grammar import (
    beats_of,
    cells,
    filled_in,
    held_last,
    left_out,
)
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.random_stream import RandomStream

SIXTEENTHS = [Fraction(count, 4) for count in range(1, 33)]
"""Every length up to eight beats."""

METERS = [
    Meter(*each)
    for each in ((4, 4), (3, 4), (2, 4), (5, 4), (7, 4), (2, 2), (3, 2), (6, 8), (9, 8), (12, 8),
                 (5, 8), (7, 8), (3, 8), (5, 16), (15, 8), (8, 8, (3, 3, 2)))
]  # fmt: skip

levels = st.sampled_from(list(Level))
feels = st.sampled_from(list(Feel))
meters = st.sampled_from(METERS)
seeds = st.integers(0, 999)


def filled(
    beats: Fraction, level: Level, rng: RandomStream, *, not_like: list[Fraction]
) -> list[Fraction]:
    """A rhythm from the start of a bar in 4/4."""
    return filled_in(Meter(4, 4), Fraction(0), beats, level, rng, not_like=not_like)


@pytest.mark.sampled
@pytest.mark.parametrize("feel", [None, *Feel])
@pytest.mark.parametrize("level", Level)
@pytest.mark.parametrize("beats", SIXTEENTHS, ids=str)
def test_every_cell_adds_up_to_its_length(beats: Fraction, level: Level, feel: Feel | None) -> None:
    assert all(sum(cell) == beats and min(cell) > 0 for cell in cells(beats, level, feel))


def test_there_are_cells_for_one_to_four_beats_and_a_dotted_quarter() -> None:
    """Plain ones for beginners, and syncopated ones beside them for the others."""
    for beats in (1, Fraction(3, 2), 2, 3, 4):
        assert len(cells(Fraction(beats), Level.BEGINNER)) >= 2
    assert len(cells(Fraction(4), Level.ADVANCED)) > len(cells(Fraction(4), Level.BEGINNER))


@pytest.mark.parametrize("beats", SIXTEENTHS, ids=str)
def test_a_beginner_never_starts_a_note_longer_than_an_eighth_off_the_beat(
    beats: Fraction,
) -> None:
    """Syncopation is for later; the dotted-quarter lengths of compound time apart."""
    for cell in cells(beats, Level.BEGINNER):
        onsets = [sum(cell[:n], Fraction(0)) for n in range(len(cell))]
        late = [length for at, length in zip(onsets, cell, strict=True) if at.denominator > 1]
        assert all(length == Fraction(1, 2) for length in late) or beats == Fraction(3, 2)


def test_no_two_cells_of_a_length_are_the_same() -> None:
    for feel in Feel:
        for beats in SIXTEENTHS:
            found = cells(beats, Level.ADVANCED, feel)
            assert len(set(found)) == len(found)


def test_triplets_belong_to_swing_and_sixteenths_to_straight_eighths() -> None:
    """For advanced players; the others have neither."""
    for level in Level:
        for feel in Feel:
            lengths = {each for beats in SIXTEENTHS for cell in cells(beats, level, feel)
                       for each in cell}  # fmt: skip
            short = {each for each in lengths if each < Fraction(1, 2)}
            own = {Fraction(1, 3)} if feel is Feel.SWING else {Fraction(1, 4)}
            assert short == (own if level is Level.ADVANCED else set())


@given(meters, levels, feels, seeds)
def test_a_rhythm_fills_any_bar_and_shows_its_groups(
    meter: Meter, level: Level, feel: Feel, seed: int
) -> None:
    """A triplet or four sixteenths lie in one beat. A group shorter than a quarter may be
    joined to its neighbour, and one of 4/4 and 3/4 need not be shown.
    """
    rng = RandomStream(seed)
    lengths = filled_in(meter, Fraction(0), meter.bar_beats, level, rng, not_like=[], feel=feel)
    assert sum(lengths) == meter.bar_beats
    onsets = [sum(lengths[:n], Fraction(0)) for n in range(len(lengths))]
    grouped = meter.compound or meter.grouping or meter.count in (5, 7)
    if grouped and meter.unit < 16:
        assert set(meter.strong_beats) <= set(onsets)
    for onset, length in zip(onsets, lengths, strict=True):
        if length.denominator == 3:
            assert onset // 1 == (onset + length - Fraction(1, 6)) // 1
            assert meter.swings


@pytest.mark.parametrize("meter", METERS, ids=str)
def test_the_beats_of_a_bar_fill_it(meter: Meter) -> None:
    beats = beats_of(meter)
    assert beats[0][0] == 0
    assert beats[-1][1] == meter.bar_beats
    assert all(one[1] == two[0] for one, two in pairwise(beats))


@given(st.lists(st.sampled_from(SIXTEENTHS[:6]), min_size=1, max_size=8), levels, seeds)
def test_a_note_that_is_left_out_is_short_and_not_the_last(
    lengths: list[Fraction], level: Level, seed: int
) -> None:
    """A beginner comes in on the beat, and rests for whole beats."""
    place = left_out(Meter(4, 4), Fraction(0), lengths, level, RandomStream(seed))
    if place is not None:
        assert place < len(lengths) - 1
        assert lengths[place] <= 1
        if level is Level.BEGINNER:
            assert place > 0
            assert lengths[place] == 1
            assert sum(lengths[:place]).denominator == 1


@given(st.sampled_from(SIXTEENTHS), levels, seeds)
def test_a_filled_rhythm_adds_up(beats: Fraction, level: Level, seed: int) -> None:
    lengths = filled(beats, level, RandomStream(seed), not_like=[])
    assert sum(lengths) == beats
    assert min(lengths) >= Fraction(1, 4)


@given(st.sampled_from([n for n in SIXTEENTHS if n >= 1]), levels, seeds)
def test_a_filled_rhythm_differs_from_the_one_before(
    beats: Fraction, level: Level, seed: int
) -> None:
    """From a beat on there are two ways at least to fill a length."""
    rng = RandomStream(seed)
    before = filled(beats, level, rng, not_like=[])
    assert filled(beats, level, rng, not_like=before) != before


@given(st.lists(st.sampled_from(SIXTEENTHS), min_size=1, max_size=8), st.sampled_from([1, 2]))
def test_a_held_end_keeps_the_length_and_lasts_as_asked(
    lengths: list[Fraction], least: int
) -> None:
    """Notes before it stay; all become one where there is no more room."""
    held = held_last(lengths, Fraction(least))
    assert sum(held) == sum(lengths)
    assert held[:-1] == lengths[: len(held) - 1]
    assert held[-1] >= min(Fraction(least), sum(lengths))
    assert held == lengths or lengths[-1] < least


def test_a_length_with_one_way_to_fill_it_comes_again() -> None:
    eighth = [Fraction(1, 2)]
    assert filled(Fraction(1, 2), Level.ADVANCED, RandomStream(0), not_like=eighth) == (eighth)
