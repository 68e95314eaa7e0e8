"""The drums: time in every bar."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_charts import EVEN, SIX_EIGHT, SWING, SWINGING, WALTZ, charts

from halfstep.backing import STYLES, Style, make_backing
from halfstep.progression.chart import Chart

FILLING = {38, 43, 45, 48}
"""The snare and the toms of General MIDI."""


def struck(chart: Chart, key: int, style: Style = SWINGING) -> list[Fraction]:
    return [note.onset for note in make_backing(chart, style=style)[0].notes if note.midi == key]


@pytest.mark.slow
@given(charts(), st.sampled_from(STYLES))
def test_every_bar_begins_with_time(chart: Chart, style: Style) -> None:
    """The closed hi-hat, the ride, or the swirl of the brushes (General MIDI 42, 51, 40)."""
    drums = make_backing(chart, style=style)[0]
    at = {note.onset for note in drums.notes if note.midi in {40, 42, 51}}
    start = Fraction(0)
    for bar in chart.form:
        assert start in at
        start += bar.beats


def test_swing_has_the_hi_hat_on_two_and_four() -> None:
    """General MIDI 44 is the pedal hi-hat; the pattern is common practice, no source."""
    assert struck(SWING, 44) == [Fraction(n) for n in range(48) if n % 2]


def test_swing_rides_quarters_and_mostly_skips_into_one_and_three() -> None:
    """General MIDI 51 is the ride cymbal; the pattern is common practice, no source."""
    ride = struck(SWING, 51)
    assert [onset for onset in ride if onset.denominator == 1] == list(range(48))
    between = [onset % 4 for onset in ride if onset.denominator == 2]
    assert len(between) + 48 == len(ride)
    assert sum(place in {Fraction(3, 2), Fraction(7, 2)} for place in between) > 12


def test_the_waltz_has_the_hi_hat_on_two() -> None:
    assert struck(WALTZ, 44) == [Fraction(3 * n + 1) for n in range(8)]


def test_straight_time_answers_kick_with_stick() -> None:
    assert {Fraction(0), Fraction(2)} <= set(struck(SWING, 36, EVEN))
    assert [s for s in struck(SWING, 37, EVEN) if s < 4] == [1, 3]


def test_six_eight_has_six_eighths() -> None:
    eighths = [onset for onset in struck(SIX_EIGHT, 42, EVEN) if onset < 3]
    assert eighths == [Fraction(n, 2) for n in range(6)]


def test_phrases_of_four_bars_end_with_a_set_up() -> None:
    snares = [n.onset for n in make_backing(SWING, style=SWINGING)[0].notes if n.midi in FILLING]
    before = {n for n in range(12) if any(4 * n + 3 < s < 4 * n + 4 for s in snares)}
    assert {3, 7, 11} <= before
