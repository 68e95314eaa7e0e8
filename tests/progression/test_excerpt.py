"""A few bars of a chart as a chart of their own."""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.progression.excerpt import bars_around, excerpt
from halfstep.progression.key import parse_key
from typed_charts import read_chart_text

CHART = read_chart_text("key: F\n| Dm7 | % | G7 C7 | Fmaj7 |")


@pytest.mark.parametrize(
    ("bar", "bars"),
    [(1, (4, 1, 2, 3)), (2, (1, 2, 3, 4)), (4, (3, 4, 1, 2))],
)
def test_bars_go_on_from_the_end_to_the_beginning(bar: int, bars: tuple[int, ...]) -> None:
    assert bars_around(CHART, bar, before=1, after=2) == bars


def test_a_short_form_comes_round_again() -> None:
    two = read_chart_text("| Dm7 | G7 |")
    assert bars_around(two, 2, before=1, after=2) == (1, 2, 1, 2)


def test_it_has_its_own_numbers_the_home_key_and_the_chord_that_sounds_on() -> None:
    few = excerpt(CHART, (2, 3), key=parse_key("F"), title="two bars")
    assert [(bar.number, bar.written) for bar in few.bars] == [(1, 1), (2, 2)]
    assert [chord.symbol.ascii for bar in few.bars for chord in bar.chords] == ["Dm7", "G7", "C7"]
    assert few.bars[0].chords[0].at == Fraction(0)
    assert (str(few.key), few.title, few.beats) == ("F major", "two bars", 8)
