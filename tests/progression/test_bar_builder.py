"""Bars come together one after the other, with what waits for the next."""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.errors import ReadError
from halfstep.meter import Meter
from halfstep.progression.bar_builder import BarBuilder
from halfstep.progression.error_place import ErrorPlace
from halfstep.progression.key import parse_key
from halfstep.progression.sheet import Marks

FOUR = Meter()


def built(count: int, **options: int) -> BarBuilder:
    """A builder with so many bars."""
    builder = BarBuilder(**options)  # type: ignore[arg-type]
    for _ in range(count):
        builder.add(FOUR)
    return builder


def test_what_waits_goes_to_the_next_bar_alone() -> None:
    builder = BarBuilder()
    builder.section, builder.forward = "A", True
    builder.begin_ending((1, 2))
    first, second = builder.add(FOUR), builder.add(FOUR)
    assert (first.section, first.marks) == ("A", Marks(forward=True, ending=(1, 2)))
    assert (second.section, second.marks) == ("", Marks())


def test_a_bar_without_a_length_is_whole_and_has_the_number_of_its_place() -> None:
    builder = built(2)
    bar = builder.add(Meter(3, 4), beats=Fraction(1), number="X1")
    assert [(b.number, b.beats) for b in builder.bars] == [("1", 4), ("2", 4), ("X1", 1)]
    assert builder.bars[-1] == bar


def test_an_ending_stops_once_and_only_where_one_is_open() -> None:
    builder = built(1)
    builder.stop_ending()
    builder.begin_ending((1,))
    builder.stop_ending()  # it has no bar yet
    builder.add(FOUR)
    builder.add(FOUR)
    builder.stop_ending()
    builder.stop_ending()
    builder.add(FOUR)
    builder.stop_ending()
    assert [bar.marks.ending_stops for bar in builder.bars] == [False, False, True, False]


def test_the_next_ending_stops_the_one_before() -> None:
    builder = BarBuilder()
    for number in (1, 2):
        builder.begin_ending((number,))
        builder.add(FOUR)
    assert [bar.marks.ending_stops for bar in builder.bars] == [True, False]


def test_a_bar_that_goes_back_closes_its_ending() -> None:
    builder = BarBuilder()
    builder.begin_ending((1,))
    builder.add(FOUR)
    builder.mark_last(backward=2)
    builder.add(FOUR)
    builder.stop_ending()
    assert [bar.marks.ending_stops for bar in builder.bars] == [False, False]


def test_marks_that_are_given_stand_in_the_place_of_those_that_wait() -> None:
    builder = BarBuilder()
    builder.forward = True
    assert builder.add(FOUR, marks=Marks(backward=3)).marks == Marks(backward=3)
    assert builder.add(FOUR).marks == Marks()


def test_there_are_no_more_bars_than_may_be() -> None:
    builder = BarBuilder("song", limit=2)
    builder.add(FOUR)
    builder.add(FOUR)
    with pytest.raises(ReadError, match="more than 2 bars; make the song shorter"):
        builder.add(FOUR)
    assert len(builder.bars) == 2


def test_a_sheet_has_keys_where_they_change_and_each_notice_once() -> None:
    builder = BarBuilder()
    f, bflat = parse_key("F"), parse_key("Bb")
    for key in (f, f, bflat, None, bflat, f):
        builder.add(FOUR, key=key)
    builder.notices += ["one", "two", "one"]
    sheet = builder.sheet("Tuesday", key=f)
    assert [bar.key for bar in sheet.bars] == [None, None, bflat, None, None, f]
    assert sheet.notices == ("one", "two")


def test_places_add_up_from_the_inside_out() -> None:
    with pytest.raises(ReadError) as caught, ErrorPlace("a.txt", line=3), ErrorPlace(column=5):
        raise ReadError("no chord", column=2)
    assert str(caught.value) == "a.txt, line 3, column 6: no chord"
