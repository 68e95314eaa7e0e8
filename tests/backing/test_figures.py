"""Figures on a grid: what they stand for, how they are dealt, how they fill a bar."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from invented_charts import METERS, chart_of

from halfstep.backing import STYLES, Style
from halfstep.backing.bar_layout import bar_layouts
from halfstep.backing.bass_places import DUTIES
from halfstep.backing.figures import Dealer, FigureTable, bar_strokes, figure_strokes, groups
from halfstep.meter import Meter

EVERY_STYLE = pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)


def test_holds_and_rests_take_steps() -> None:
    strokes = figure_strokes("x-. X...", Fraction(4))
    assert [(s.sign, s.onset, s.beats) for s in strokes] == [
        ("x", 0, Fraction(8, 7)),
        ("X", Fraction(12, 7), Fraction(4, 7)),
    ]


def test_each_choice_comes_once_before_one_comes_again() -> None:
    dealer: Dealer[str] = Dealer(Random(3))
    dealt = [dealer.deal("key", "abcd") for _ in range(40)]
    assert all(sorted(dealt[n : n + 4]) == list("abcd") for n in range(0, 40, 4))
    assert all(one != other for one, other in pairwise(dealt))
    assert dealt != list("abcd") * 10


def test_a_choice_that_stands_twice_comes_twice_as_often() -> None:
    dealer: Dealer[str] = Dealer(Random(1))
    dealt = [dealer.deal("", ("a", "a", "b")) for _ in range(30)]
    assert dealt.count("a") == 20


@pytest.mark.sampled
@pytest.mark.parametrize("meter", METERS, ids=str)
@EVERY_STYLE
def test_a_bar_of_any_metre_is_filled_and_not_overrun(style: Style, meter: Meter) -> None:
    for bar in bar_layouts(chart_of("C | C | C", meter)):
        for table in (style.bass.figures.table, style.chords.figures):
            strokes = list(bar_strokes(bar, table, Dealer(Random(0)), plain=("x",)))
            assert all(bar.start <= stroke.onset < bar.end for stroke in strokes)
            assert all(one.end <= other.onset for one, other in pairwise(strokes))
            assert not strokes or strokes[-1].end <= bar.end


def test_a_group_that_the_table_lacks_is_cut_into_those_it_has() -> None:
    table: FigureTable = {groups(2): ("ab",), groups(1): ("c",)}
    (bar,) = bar_layouts(chart_of("C", Meter(5, 4, (5,))))
    strokes = bar_strokes(bar, table, Dealer(Random(0)), plain=("p",))
    assert "".join(stroke.sign for stroke in strokes) == "ababc"


@EVERY_STYLE
def test_figures_are_written_in_the_signs_that_there_are(style: Style) -> None:
    for key, figures in style.bass.figures.table.items():
        for figure in figures:
            signs = figure.replace(" ", "")
            assert set(signs) <= {*DUTIES, "-", "."}
            assert sum(key) / len(signs) in {1, Fraction(1, 2), Fraction(1, 4)}, figure
    for key, figures in style.chords.figures.items():
        for figure in figures:
            signs = figure.replace(" ", "")
            assert set(signs) <= set("xX-.")
            assert sum(key) / len(signs) in {Fraction(1, 2), Fraction(1, 4)}, figure
