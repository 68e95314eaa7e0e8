"""Does a scale that is set over a chord stay there, whatever else is edited?"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.set_scales import (
    carried_scales,
    parse_scales,
    scales_text,
    with_scales,
)
from halfstep.progression.sheet import LeadSheet

CHART = "{pickup 1} C7 | F7 | Bb7 . D7 . | F7 | % | Gm7 C7 |"


def set_over(sheet: LeadSheet) -> list[tuple[str, str]]:
    """The chords that have a scale set over them, with it."""
    chords = [chord for bar in sheet.bars for chord in bar.chords]
    return [(chord.symbol.ascii, chord.scale) for chord in chords if chord.scale]


@pytest.mark.parametrize(
    ("scales", "chords"),
    [
        ("1 Lydian dominant", [("F7", "Lydian dominant")]),
        ("2:3 altered", [("D7", "altered")]),
        ("2:4 altered", [("D7", "altered")]),
        ("0 altered", [("C7", "altered")]),
        ("5:3 altered, 5 Dorian", [("Gm7", "Dorian"), ("C7", "altered")]),
        ("2 Dorian, 2 altered", [("Bb7", "altered")]),
        ("", []),
    ],
)
def test_a_scale_is_set_over_the_chord_that_sounds(
    scales: str, chords: list[tuple[str, str]]
) -> None:
    assert set_over(with_scales(read_sheet_text(CHART), parse_scales(scales))) == chords


def test_over_a_bar_that_goes_on_it_is_set_over_its_chord() -> None:
    sheet = with_scales(read_sheet_text("| C7 | | F7 |"), parse_scales("2 altered"))
    assert set_over(sheet) == [("C7", "altered")]


@pytest.mark.parametrize(
    ("scales", "rule"),
    [
        ("6 altered", "the chart has no such place"),
        ("2:9 altered", "the chart has no such place"),
        ("altered", "sets no scale"),
        ("2", "sets no scale"),
        ("2:0 altered", "sets no scale"),
        ("1 altered, " * 5000, "a chart has fewer scales"),
    ],
)
def test_a_place_that_is_none_is_named(scales: str, rule: str) -> None:
    with pytest.raises(ReadError, match=rule):
        with_scales(read_sheet_text(CHART), parse_scales(scales))


@pytest.mark.parametrize(
    ("before", "after", "scales", "carried"),
    [
        ("A7 | D7 | G7", "A7 | D7 | G7 | C", "2 altered", "2 altered"),
        ("A7 | D7 | G7", "E7 | A7 | D7 | G7", "2 altered", "3 altered"),
        ("A7 | D7 | G7", "D7 | G7", "2 altered", "1 altered"),
        ("A7 | D7 | G7", "A7 | Dm7 | G7", "2 altered", ""),
        ("A7 | D7 | G7", "Em7 A7 | D7 | G", "2 altered", "2 altered"),
        ("A7 | D7 G7 | C", "A7 | D7 G9 | C", "2 altered, 2:3 Lydian", "2 altered"),
        ("A7 | D7 | G7", "A7 | {3/4} D7 | G7", "2 altered", "2 altered"),
    ],
)
def test_it_stays_over_its_chord_while_other_bars_are_edited(
    before: str, after: str, scales: str, carried: str
) -> None:
    old, new = read_sheet_text(f"| {before} |"), read_sheet_text(f"| {after} |")
    assert scales_text(carried_scales(old, new, parse_scales(scales))) == carried


@given(st.lists(st.sampled_from(["C7", "Dm7", "% ", "G7 C7"]), min_size=1, max_size=9), st.data())
def test_bars_put_in_or_taken_out_move_it_with_its_bar(
    bars: list[str], data: st.DataObject
) -> None:
    """Property: with one edit somewhere before its bar, the scale goes where the bar goes."""
    text = ["F7", *bars, "Ebmaj7", "F7"]
    number = len(text) - 1
    place = data.draw(st.integers(0, number - 1))
    new = [
        *text[:place],
        *data.draw(st.lists(st.sampled_from(["A7", "E7"]), max_size=3)),
        *text[place:],
    ]
    sheets = [read_sheet_text(f"| {' | '.join(words)} |") for words in (text, new)]
    carried = carried_scales(*sheets, parse_scales(f"{number} Lydian"))
    assert scales_text(carried) == f"{number + len(new) - len(text)} Lydian"
