"""Beats and seconds where the tempo changes."""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.tempo_map import TempoMap

RISING = TempoMap(((Fraction(0), 60.0), (Fraction(8), 120.0), (Fraction(16), 240.0)))


@pytest.mark.parametrize(
    ("beat", "second"), [(-2, -2), (0, 0), (3.5, 3.5), (8, 8), (10, 9), (16, 12), (20, 13)]
)
def test_each_beat_has_its_second_and_each_second_its_beat(beat: float, second: float) -> None:
    """Worked out by hand: a beat lasts a second, then half of one, then a quarter."""
    assert RISING.seconds(beat) == second
    assert RISING.beats(second) == beat


def test_without_a_tempo_it_is_120() -> None:
    assert TempoMap().beats(3.0) == 6
    assert TempoMap(((Fraction(4), 60.0),)).beats(4.0) == 6
    assert TempoMap(((Fraction(4), 60.0),)).beats(-1.0) == -2
