"""Rhythms fill their length exactly and vary."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.rhythm import cells, filled, held_last
from halfstep.instruments import Level

SIXTEENTHS = [Fraction(count, 4) for count in range(1, 33)]
"""Every length up to eight beats."""

levels = st.sampled_from(list(Level))
seeds = st.integers(0, 999)


@pytest.mark.parametrize("level", Level)
@pytest.mark.parametrize("beats", SIXTEENTHS, ids=str)
def test_every_cell_adds_up_to_its_length(beats: Fraction, level: Level) -> None:
    assert all(sum(cell) == beats and min(cell) > 0 for cell in cells(beats, level))


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
    for beats in SIXTEENTHS:
        found = cells(beats, Level.ADVANCED)
        assert len(set(found)) == len(found)


@given(st.sampled_from(SIXTEENTHS), levels, seeds)
def test_a_filled_rhythm_adds_up(beats: Fraction, level: Level, seed: int) -> None:
    lengths = filled(beats, level, np.random.default_rng(seed), not_like=[])
    assert sum(lengths) == beats
    assert min(lengths) >= Fraction(1, 4)


@given(st.sampled_from([n for n in SIXTEENTHS if n >= 1]), levels, seeds)
def test_a_filled_rhythm_differs_from_the_one_before(
    beats: Fraction, level: Level, seed: int
) -> None:
    """From a beat on there are two ways at least to fill a length."""
    rng = np.random.default_rng(seed)
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
    assert filled(Fraction(1, 2), Level.ADVANCED, np.random.default_rng(0), not_like=eighth) == (
        eighth
    )
