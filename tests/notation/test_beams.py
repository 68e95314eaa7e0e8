"""Which notes stand under one beam: common practice of engraving, no source."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings

from halfstep.meter import Meter
from halfstep.notation import beam_groups, note_value, onsets, tuplet_groups
from halfstep.score import Score, ScoreBar
from written_scores import COMMON, EIGHTH, line, rhythm, rhythmic_scores

FOUR, HALVES = Meter(4, 4), Meter(2, 2)


def eighths(count: int) -> str:
    return " ".join(["1/2"] * count)


@pytest.mark.parametrize(
    ("meter", "beats", "groups"),
    [
        (FOUR, eighths(8), [(0, 1, 2, 3), (4, 5, 6, 7)]),
        (FOUR, "1/2 1 1/2 1/2 1/2 1", [(3, 4)]),
        (FOUR, "1 1/2 1/2 1/2 1/2 1", [(1, 2), (3, 4)]),
        (FOUR, "1/4 1/4 1/4 1/4 1/2 1/2 2", [(0, 1, 2, 3), (4, 5)]),
        (FOUR, "1/2 1/2 (1/2) 1/2 2", [(0, 1)]),
        (FOUR, "1/2 (1/2) 1/2 1/2 2", [(2, 3)]),
        (FOUR, "(1/2) 1/2 1/2 1/2 2", [(2, 3)]),
        (FOUR, "3/4 1/4 3/4 1/4 2", [(0, 1), (2, 3)]),
        (FOUR, "1/2 1/4 1/4 1/2 1/2 2", [(0, 1, 2), (3, 4)]),
        (FOUR, "1/2 3/2 1/2 1/2 1", [(2, 3)]),
        (FOUR, "3/2 1/2 2", []),
        (FOUR, "1 1 1 1", []),
        (FOUR, "2 1/2 1/2 1/2 1/2", [(1, 2, 3, 4)]),
        (FOUR, "1/3 1/3 1/3 1/2 1/2 2", [(0, 1, 2), (3, 4)]),
        (FOUR, "2/3 1/3 1/2 1/2 2", [(2, 3)]),
        (FOUR, "1/3 2/3 1/6 1/6 1/6 1/2 2", [(2, 3, 4)]),
        (Meter(3, 4), eighths(6), [(0, 1, 2, 3, 4, 5)]),
        (Meter(3, 4), "1 " + eighths(4), [(1, 2), (3, 4)]),
        (Meter(3, 4), "1/4 1/4 1/2 1/2 1/2 1/2 1/2", [(0, 1, 2), (3, 4), (5, 6)]),
        (Meter(2, 4), eighths(4), [(0, 1, 2, 3)]),
        (Meter(6, 8), eighths(6), [(0, 1, 2), (3, 4, 5)]),
        (Meter(6, 8), "1 1/2 1/2 1/2 1/2", [(2, 3, 4)]),
        (Meter(6, 8), "1/2 1/4 1/4 1/2 3/2", [(0, 1, 2, 3)]),
        (Meter(6, 8), "3/4 1/4 1/2 1/2 1/2 1/2", [(0, 1, 2), (3, 4, 5)]),
        (Meter(9, 8), eighths(9), [(0, 1, 2), (3, 4, 5), (6, 7, 8)]),
        (Meter(12, 8), eighths(12), [(0, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10, 11)]),
        (Meter(7, 8), eighths(7), [(0, 1, 2), (3, 4), (5, 6)]),
        (Meter(7, 8), "1/2 1/4 1/4 1/2 1/2 1/4 1/4 1", [(0, 1, 2, 3), (4, 5, 6)]),
        (Meter(7, 8, (2, 2, 3)), eighths(7), [(0, 1), (2, 3), (4, 5, 6)]),
        (Meter(8, 8, (3, 3, 2)), eighths(8), [(0, 1, 2), (3, 4, 5), (6, 7)]),
        (Meter(5, 4), eighths(10), [(0, 1, 2, 3, 4, 5), (6, 7, 8, 9)]),
        (Meter(5, 4, (2, 3)), eighths(10), [(0, 1, 2, 3), (4, 5, 6, 7, 8, 9)]),
        (Meter(3, 8), eighths(3), [(0, 1, 2)]),
        (HALVES, eighths(8), [(0, 1, 2, 3), (4, 5, 6, 7)]),
        (HALVES, "1 1/2 1/2 1/2 1/2 1", [(1, 2), (3, 4)]),
        (HALVES, "1/4 1/4 1/4 1/4 1/2 1/2 2", [(0, 1, 2, 3, 4, 5)]),
        (Meter(3, 2), eighths(12), [(0, 1, 2, 3), (4, 5, 6, 7), (8, 9, 10, 11)]),
    ],
    ids=str,
)
def test_beams_follow_the_metre(meter: Meter, beats: str, groups: list[tuple[int, ...]]) -> None:
    assert list(beam_groups(rhythm(beats, meter))) == groups


def test_a_beam_in_a_pickup_knows_its_place_in_the_bar() -> None:
    """Three eighths before the bar: one after the beat, then a pair."""
    assert beam_groups(ScoreBar(0, COMMON, line("C5 C5 C5", EIGHTH))) == ((1, 2),)


def test_a_pickup_of_a_bar_and_of_half_a_bar_are_beamed_alike() -> None:
    half = ScoreBar(0, COMMON, line("C5 C5 C5 C5", EIGHTH))
    assert beam_groups(half) == ((0, 1, 2, 3),)
    assert beam_groups(ScoreBar(0, COMMON, line("C5 " * 8, EIGHTH))) == ((0, 1, 2, 3), (4, 5, 6, 7))


def test_a_short_bar_that_is_no_pickup_begins_at_its_beginning() -> None:
    bar = ScoreBar(5, COMMON, line("C5 C5 C5", EIGHTH), irregular=True)
    assert beam_groups(bar) == ((0, 1),)


def test_beams_of_neighbouring_pulses_do_not_touch_in_cut_time() -> None:
    """Two triplets in a half note are two beams, and the eighths after them a third."""
    bar = rhythm("1/3 1/3 1/3 1/3 1/3 1/3 1/2 1/2 1/2 1/2", HALVES)
    assert beam_groups(bar) == ((0, 1, 2), (3, 4, 5), (6, 7, 8, 9))
    assert all(first[-1] < second[0] for first, second in pairwise(beam_groups(bar)))


def test_a_bar_of_nothing_has_no_beam() -> None:
    assert beam_groups(ScoreBar(1, COMMON, ())) == ()


@pytest.mark.slow
@settings(max_examples=30)
@given(rhythmic_scores())
def test_a_beam_lies_in_one_tuplet_or_in_none(score: Score) -> None:
    for bar in score.bars:
        groups = [set(group) for group in tuplet_groups(bar)]
        for beam in map(set, beam_groups(bar)):
            assert all(not beam & group or beam <= group for group in groups), bar


@pytest.mark.slow
@settings(max_examples=30)
@given(rhythmic_scores())
def test_a_beam_is_two_notes_or_more_in_a_row_each_with_a_flag(score: Score) -> None:
    for bar in score.bars:
        places = [place for beam in beam_groups(bar) for place in beam]
        assert len(places) == len(set(places))
        for beam in beam_groups(bar):
            assert list(beam) == list(range(beam[0], beam[-1] + 1))
            assert len(beam) > 1
            assert all(bar.notes[n].pitch for n in beam)
            assert all(note_value(bar, bar.notes[n]).divisor >= 8 for n in beam)


@pytest.mark.slow
@settings(max_examples=30)
@given(rhythmic_scores())
def test_no_beam_crosses_the_start_of_a_group(score: Score) -> None:
    """The middle of the bar in 4/4, each dotted quarter in 6/8, each half in 2/2."""
    for bar in score.bars:
        starts = onsets(bar)
        halves = [Fraction(2 * n) for n in range(bar.meter.count)] if bar.meter.unit == 2 else ()
        for beam in beam_groups(bar):
            for edge in halves or bar.meter.strong_beats:
                assert not starts[beam[0]] < edge <= starts[beam[-1]]
