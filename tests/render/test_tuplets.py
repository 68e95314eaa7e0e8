"""Triplets are written as three in the time of two, and told to the engraver as one group."""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.lesson.part import notated_lengths
from halfstep.meter import Meter
from halfstep.pitch import parse_pitch
from halfstep.render.mei import _notes
from halfstep.render.notation import Value, beamed, note_value, tuplets
from halfstep.score import Barline, ScoreBar, ScoreNote

THIRD = Fraction(1, 3)


def bar_of(*beats: Fraction | int) -> ScoreBar:
    notes = tuple(ScoreNote(parse_pitch("C5"), Fraction(each)) for each in beats)
    return ScoreBar(1, Meter(4, 4), notes, (), Barline.SINGLE)


def test_a_third_of_a_beat_is_an_eighth_of_a_triplet() -> None:
    bar = bar_of(THIRD, THIRD, THIRD, 3)
    assert note_value(bar, bar.notes[0]) == Value(8)
    assert note_value(bar_of(2 * THIRD, THIRD, 3), ScoreNote(None, 2 * THIRD)) == Value(4)


@pytest.mark.parametrize(
    ("beats", "groups"),
    [
        ((THIRD, THIRD, THIRD, 3), ((0, 1, 2),)),
        ((1, 2 * THIRD, THIRD, 2), ((1, 2),)),
        ((THIRD,) * 6 + (2,), ((0, 1, 2), (3, 4, 5))),
        ((1, 1, 2), ()),
    ],
)
def test_a_triplet_is_a_group_of_a_whole_beat(
    beats: tuple[Fraction, ...], groups: tuple[tuple[int, ...], ...]
) -> None:
    assert tuplets(bar_of(*beats)) == groups


def test_the_engraver_is_told_of_three_in_the_time_of_two_under_one_beam() -> None:
    bar = bar_of(THIRD, THIRD, THIRD, 3)
    written = _notes(bar, (None,) * 4, "n")
    assert written.startswith('<tuplet num="3" numbase="2"')
    assert written.count("</beam></tuplet>") == 1
    assert beamed(bar)[0] == (0, 1, 2)


def test_a_length_ends_with_what_belongs_to_a_triplet() -> None:
    assert notated_lengths(Fraction(7, 3)) == [2, THIRD]
    assert notated_lengths(Fraction(4, 3)) == [1, THIRD]
