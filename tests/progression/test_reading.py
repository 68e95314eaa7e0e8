"""Settling what can be read in two ways, by example, once for a chart or a book.

The German names B = B flat and H = B natural, and the two meanings of each sign, are common
practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.progression.load import BOOK
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.quality import DEFAULT, Reading
from halfstep.progression.reading import parse_reading, reading_text
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.symbol import parse_symbol
from typed_charts import load_sheet

WAYS = {
    "triangle": ("seventh", "triad"),
    "plus_seventh": ("augmented", "major"),
    "plus_ninth": ("augmented", "sharp"),
    "minus_ninth": ("minor", "flat"),
    "two": ("add9", "sus2"),
    "over": ("added", "stacked"),
    "zero": ("half", "whole"),
    "seventh_m": ("minor", "major"),
    "h": ("plain", "german"),
}
READINGS = st.builds(
    Reading,
    small_is_minor=st.booleans(),
    **{name: st.sampled_from((None, *ways)) for name, ways in WAYS.items()},
)


def printed(sheet: LeadSheet) -> str:
    return " ".join(chord.symbol.ascii for bar in sheet.bars for chord in bar.chords)


@given(READINGS)
def test_the_equations_of_a_reading_read_back_to_it(reading: Reading) -> None:
    assert parse_reading(reading_text(reading)) == reading


@pytest.mark.parametrize(
    ("equation", "typed", "read"),
    [
        ("C△ = C", "F△", "F"),
        ("C^ = C", "F△7", "Fmaj7"),
        ("CΔ = Cmaj7", "F∆", "Fmaj7"),
        ("C7+ = Cmaj7", "Bb7+", "Bbmaj7"),
        ("F7+ = F7#5", "Bb7+", "Bb7#5"),
        ("C+9 = C7#9", "A+9", "A7#9"),
        ("C+9 = C9#5", "A+9", "A9#5"),
        ("A-9 = A(b9)", "A-9", "A(b9)"),
        ("A-9 = Am9", "A-9", "Am9"),
        ("C2 = Csus2", "G2", "Gsus2"),
        ("C2 = Cadd9", "G2", "Gadd9"),
        ("C/9 = C9", "Gm/9", "Gm9"),
        ("C/9 = Cadd9", "Gm/9", "Gmadd9"),
        ("C0 = Cdim7", "C#07", "C#dim7"),
        ("C0 = Cø", "C#0", "C#m7b5"),
        ("C7m = Cmaj7", "D7m", "Dmaj7"),
        ("C7m = Cm7", "D7m", "Dm7"),
        ("e = Em", "f#7/a", "F#m7/A"),
        ("B = Bb", "B7", "Bb7"),
        ("B = Bb", "H7/F#", "B7/F#"),
        ("H = B", "Hm/D", "Bm/D"),
        ("H = B", "B", "B"),
    ],
)
def test_what_is_settled_is_read_so_and_without_a_notice(
    equation: str, typed: str, read: str
) -> None:
    symbol = parse_symbol(typed, parse_reading(equation))
    assert (symbol.ascii, symbol.notices) == (read, ())


@pytest.mark.parametrize(
    ("equation", "told"),
    [
        ("C2", "settles no reading"),
        ("C2 =", "settles no reading"),
        ("C2 = C9", "C2 may be Cadd9 or Csus2"),
        ("C2 = Dsus2", "C2 may be"),
        ("C9 = C7", "not in doubt"),
        ("C2 = Cwhat", "no chord symbol|stops making sense"),
        ("e = Dm", "not in doubt"),
    ],
)
def test_an_equation_that_settles_nothing_says_what_would(equation: str, told: str) -> None:
    with pytest.raises(ReadError, match=told):
        parse_reading(equation)


def test_a_line_in_the_chart_goes_over_the_caller() -> None:
    caller = parse_reading("C2 = Csus2, C7+ = Cmaj7")
    sheet = read_sheet_text("reading: C2 = Cadd9\nreading: e=Em\n| C2 | C7+ | e |", reading=caller)
    assert printed(sheet) == "Cadd9 Cmaj7 Em"


def test_a_bad_reading_line_is_told_with_its_place() -> None:
    with pytest.raises(ReadError, match=r"line 2, column 10: .*C2 may be"):
        read_sheet_text("key: C\nreading: C2 = C\n| C2 |")


def test_a_book_settles_all_charts_in_its_folder_and_says_so(tmp_path: Path) -> None:
    (tmp_path / BOOK).write_text("C2 = Csus2\nB = Bb\n")
    (tmp_path / "one.txt").write_text("| C2 | B7 | H7 |\n")
    sheet = load_sheet(str(tmp_path / "one.txt"))
    assert printed(sheet) == "Csus2 Bb7 B7"
    assert sheet.notices == ("book.reading: C2 = Csus2, B = Bb",)
    asked = load_sheet(str(tmp_path / "one.txt"), reading=parse_reading("C2 = Cadd9"))
    assert printed(asked) == "Cadd9 Bb7 B7"


def test_a_bad_book_is_told_by_its_name(tmp_path: Path) -> None:
    (tmp_path / BOOK).write_text("C2 = C\n")
    (tmp_path / "one.txt").write_text("| C2 |\n")
    with pytest.raises(ReadError, match=r"book\.reading: .*C2 may be"):
        load_sheet(str(tmp_path / "one.txt"))


@pytest.mark.parametrize(
    ("chart", "read"),
    [
        ("H7 | Bb | B", "B7 Bb B"),
        ("D/H | F/Bb | B", "D/B F/Bb B"),
        ("H7 | Em/H", "B7 Em/B"),
    ],
)
def test_h_is_b_natural_where_nothing_is_left_to_ask(chart: str, read: str) -> None:
    """cases.md 26."""
    sheet = read_sheet_text(chart)
    assert printed(sheet) == read
    assert any("B natural" in notice for notice in sheet.notices)


def test_h_beside_b_asks() -> None:
    """cases.md 26: with H and B but no B flat, B may be B flat."""
    with pytest.raises(ReadError, match="B = Bb, or reading: H = B"):
        read_sheet_text("H7 | B7")


def test_what_is_not_settled_has_a_default_and_a_notice() -> None:
    for typed in ("C△", "C7+", "C+9", "C-9", "C2", "C/9", "C0", "C7m"):
        assert parse_symbol(typed, DEFAULT).notices, typed
