"""What is lost of a sheet is found by reading it back, and named."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import pytest
from any_sheets import any_sheets, unlike, without_marks
from hypothesis import given

from halfstep.errors import ReadError
from halfstep.meter import Feel, Meter
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.losses import what_is_lost
from halfstep.progression.notations.abc_reader import read_abc_text
from halfstep.progression.notations.abc_writer import abc_losses, write_abc
from halfstep.progression.notations.chordpro_reader import read_chordpro_text
from halfstep.progression.notations.chordpro_writer import chordpro_losses, write_chordpro
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import parse_symbol
from reference_files import DATA

FOUR = Fraction(4)
C_CHORD = ChordAt(parse_symbol("C"), Fraction(0))
NOTE = SheetNote(Fraction(0), FOUR, parse_pitch("C4"))
BAR = WrittenBar("1", Meter(), FOUR, (C_CHORD,), notes=(NOTE,))
SHEET = LeadSheet("Evening Class", (BAR, BAR._replace(number="2")), parse_key("C"), 96, Feel.SWING)


def changed(**parts: object) -> LeadSheet:
    """The sheet with another second bar."""
    return replace(SHEET, bars=(BAR, BAR._replace(number="2", **parts)))  # type: ignore[arg-type]


HALVES = (
    NOTE._replace(beats=Fraction(2), tied=True),
    NOTE._replace(at=Fraction(2), beats=Fraction(2)),
)


@pytest.mark.parametrize(
    ("back", "said"),
    [
        (replace(SHEET, title="x"), "the title as it is"),
        (replace(SHEET, key=None), "the key"),
        (replace(SHEET, tempo_bpm=None), "the tempo"),
        (replace(SHEET, feel=None), "the feel"),
        (changed(meter=Meter(2, 2)), "the metre: bar 2"),
        (changed(meter=Meter(4, 4, (3, 1))), "how the beats are grouped: bar 2"),
        (changed(beats=Fraction(3)), "the length: bar 2"),
        (changed(section="A"), "the section as it is: bar 2"),
        (changed(key=parse_key("D")), "the key: bar 2"),
        (changed(chords=(C_CHORD._replace(at=FOUR / 2),)), "the places of chords: bar 2"),
        (changed(chords=(ChordAt(parse_symbol("Cm"), Fraction(0)),)), "the chords: bar 2"),
        (changed(marks=Marks(backward=2)), "repeats and how often: bar 2"),
        (changed(marks=Marks(ending=(1,))), "endings: bar 2"),
        (changed(marks=Marks(fine=True)), "jumps and their signs: bar 2"),
        (changed(notes=(NOTE._replace(pitch=parse_pitch("D4")),)), "the melody: bar 2"),
        (changed(notes=HALVES), "a note held over a chord, but as tied notes: bar 2"),
        (replace(SHEET, bars=SHEET.bars[:1]), "the bars: 2 come back as 1"),
    ],
)  # fmt: skip
def test_each_difference_is_named(back: LeadSheet, said: str) -> None:
    assert said in what_is_lost(SHEET, lambda: back)


def test_nothing_is_lost_of_what_comes_back_the_same() -> None:
    assert what_is_lost(SHEET, lambda: SHEET) == ()
    empty = changed(beats=Fraction(0), notes=())
    assert what_is_lost(changed(notes=()), lambda: empty) == ()


def test_many_bars_are_named_in_part() -> None:
    bars = tuple(BAR._replace(number=str(n)) for n in range(1, 20))
    back = replace(SHEET, bars=tuple(bar._replace(section="A") for bar in bars))
    said = what_is_lost(replace(SHEET, bars=bars), lambda: back)
    assert said == ("the section as it is: bars 1, 2, 3, 4, 5, 6, 7, 8 and 11 more",)


def test_a_text_that_does_not_read_back_is_said_to() -> None:
    def refuse() -> LeadSheet:
        raise ReadError("no chords")

    assert what_is_lost(SHEET, refuse) == ("a chart that reads back: no chords",)


@pytest.mark.slow
@given(any_sheets())
def test_all_that_abc_loses_of_any_sheet_is_listed(sheet: LeadSheet) -> None:
    said = " ".join(abc_losses(sheet))
    back = read_abc_text(write_abc(sheet))
    assert {word for word in unlike(sheet, back) if word not in said} == set()


@pytest.mark.slow
@given(any_sheets(melody=False))
def test_all_that_chordpro_loses_of_any_sheet_is_listed(sheet: LeadSheet) -> None:
    said = " ".join(chordpro_losses(sheet))
    if "reads back" not in said:
        back = read_chordpro_text(write_chordpro(sheet))
        words = {word for word in unlike(sheet, back) if word not in said}
        assert words == set()


REAL = [
    path
    for folder in ("musicxml", "abc", "chordpro", "mcgill-billboard-cc0")
    for path in sorted((DATA / folder).glob("*"))
    if path.suffix in {".mxl", ".xml", ".musicxml", ".abc", ".cho", ".crd", ".txt"}
]
"""Lead sheets, tunes, songs and grids of others beside the repository (its SOURCES.md)."""


@lru_cache(maxsize=1)
def real_sheets() -> list[tuple[str, LeadSheet]]:
    sheets = []
    for path in REAL:
        with suppress(ReadError):  # no chords
            sheets.append((path.name, load_sheet_file(path)))
    return sheets


@pytest.mark.slow
@pytest.mark.skipif(not REAL, reason="the reference data is not beside the repository")
def test_abc_keeps_all_but_numbers_of_real_sheets() -> None:
    """A pickup is bar 0 in a tune, and two half bars that lack a part are filled up."""
    kept = ("the chords", "the places", "the melody", "repeats", "endings", "jumps", "the metre")
    lost = {
        name: [loss for loss in abc_losses(sheet) if loss.startswith(kept)]
        for name, sheet in real_sheets()
    }
    others = {name: losses for name, losses in lost.items() if losses}
    assert len(lost) > 80
    assert set(others) <= {"mary-s-a-grand-old-name.mxl"}


@pytest.mark.slow
@pytest.mark.skipif(not REAL, reason="the reference data is not beside the repository")
def test_chordpro_keeps_all_that_a_grid_can_say_of_real_sheets() -> None:
    """A grid has no pickup, no jumps, no short bars, no numbers and no melody."""
    no_grid_says = (
        "the pickup",
        "the length",
        "that it need not",
        "its number",
        "jumps",
        "the mel",
    )
    lost = [
        (name, loss)
        for name, sheet in real_sheets()
        for loss in chordpro_losses(sheet)
        if not loss.startswith(no_grid_says)
    ]
    assert [(name, loss) for name, loss in lost if loss != "the feel"] == []


def test_a_half_diminished_chord_is_one_word_in_chordpro() -> None:
    text = write_chordpro(read_chordpro_text("{sog}\n| F#m7b5 . B7b9 . |\n{eog}"))
    sheet = read_chordpro_text(text)
    assert [str(chord.symbol) for chord in sheet.bars[0].chords] == ["F♯ø7", "B7♭9"]
    assert "F#m7b5 . B7b9 ." in text


@pytest.mark.slow
@given(any_sheets(melody=False))
def test_abc_loses_nothing_of_whole_bars_played_straight_on(sheet: LeadSheet) -> None:
    plain = without_marks(sheet)
    assert abc_losses(plain) == ()
    assert read_abc_text(write_abc(plain)).bars == plain.bars
