"""What the user typed is a file or chords."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.errors import ReadError
from halfstep.progression.form import played
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from typed_charts import load_chart, load_sheet


def test_a_line_with_bar_lines_is_chords() -> None:
    chart = load_chart("Dm7 | G7 | Cmaj7")
    assert (chart.title, len(chart.bars)) == ("Through the changes", 3)


@pytest.mark.parametrize("typed", ["Dm7 G7 Cmaj7", "C/E", "C/E F/A"])
def test_a_line_that_is_no_file_is_tried_as_chords(typed: str) -> None:
    assert len(load_chart(typed).bars) == len(typed.split())


def test_a_text_file_has_its_name_as_title(tmp_path: Path) -> None:
    path = tmp_path / "evening class.txt"
    path.write_text("| C | F |")
    assert load_chart(str(path)).title == "evening class"
    path.write_text("title: Tuesday\n| C | F |")
    assert load_chart(str(path)).title == "Tuesday"


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(b"\xef\xbb\xbftitle: Tuesday\n| C |")
    assert load_chart(str(path)).title == "Tuesday"


def test_a_file_that_is_not_utf8_is_read_as_latin1_with_a_notice(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes("title: Übung\n| C |".encode("latin-1"))
    chart = load_chart(str(path))
    assert chart.title == "Übung"
    assert "Latin-1" in chart.notices[0]


def test_a_musicxml_file_is_known_by_its_suffix(tmp_path: Path) -> None:
    path = tmp_path / "sheet.XML"
    path.write_text(
        '<score-partwise><part id="P1"><measure number="1"><harmony><root><root-step>G'
        "</root-step></root><kind>minor</kind></harmony></measure></part></score-partwise>"
    )
    assert load_chart(str(path)).bars[0].chords[0].symbol.ascii == "Gm"


@pytest.mark.parametrize("typed", ["gone.txt", "gone.mxl", "folder/gone", "G7.xml", "a\\b"])
def test_a_missing_file_is_said_to_be_missing(typed: str) -> None:
    with pytest.raises(ReadError, match=r"no such file: .*give a chart file or a line of chords"):
        load_chart(typed)


@pytest.mark.parametrize("typed", ["", "  ", "Hello world", "x" * 5000, "C\0D"])
def test_nonsense_is_refused(typed: str) -> None:
    with pytest.raises(ReadError, match="chord"):
        load_chart(typed)


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="is a folder"):
        load_chart(str(tmp_path))


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(b"\x00\x01\x02")
    with pytest.raises(ReadError, match="no text"):
        load_chart(str(path))
    path.write_bytes(b"C |" * 400_000)
    with pytest.raises(ReadError, match="larger than 1 MB"):
        load_chart(str(path))


def test_an_error_in_a_file_names_the_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("| C |\n| K |")
    with pytest.raises(ReadError, match=r"a\.txt, line 2, column 3"):
        load_chart(str(path))


@pytest.mark.parametrize("typed", ["Dm7 | G7 | Cmaj7", "[A] |: C |1. F :|2. G ||", "C/E F/A"])
def test_a_chart_is_the_sheet_as_played(typed: str) -> None:
    assert load_chart(typed) == played(load_sheet(typed))


def test_a_sheet_keeps_its_repeats_sections_and_file_name(tmp_path: Path) -> None:
    path = tmp_path / "evening class.txt"
    path.write_bytes("[Ü] |: C | F :|".encode("latin-1"))
    sheet = load_sheet(str(path))
    assert (sheet.title, len(sheet.bars), sheet.bars[0].section) == ("evening class", 2, "Ü")
    assert sheet.notices == ("the file is not UTF-8; read as Latin-1",)
    assert load_chart(str(path)) == played(sheet)


def test_an_error_in_playing_a_file_names_the_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("|: " + "C | " * 100 + "F :|x99")
    with pytest.raises(ReadError, match="the repeats make more than 2000 bars"):
        load_chart(str(path))
    with pytest.raises(ReadError, match=r"a\.txt: the repeats make more than 2000 bars"):
        lesson_brief(MakeLesson(path, tmp_path / "lesson"))


@pytest.mark.parametrize("name", ["line.mid", "LINE.MIDI"])
def test_a_midi_file_is_said_to_hold_no_chords(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(b"MThd")
    with pytest.raises(ReadError, match=f"{name} is a MIDI file; it holds a line, not chords"):
        load_sheet(str(tmp_path / name))


OTHER_NOTATIONS = {
    "a.abc": 'X:1\nT:Tuesday\nL:1/4\nM:4/4\nK:C\n|"Dm7"d4|"G7"B4|\n',
    "a.cho": "{title: Tuesday}\n{start_of_grid}\n| Dm7 . . . | G7 . . . |\n{end_of_grid}\n",
    "a.LAB": "0.0 2.0 D:min7\n2.0 4.0 G:7\n",
}


@pytest.mark.parametrize("name", OTHER_NOTATIONS)
def test_another_open_notation_is_known_by_its_suffix(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text(OTHER_NOTATIONS[name])
    sheet = load_sheet(str(tmp_path / name))
    assert [c.symbol.ascii for bar in sheet.bars for c in bar.chords] == ["Dm7", "G7"]


def test_a_text_of_bars_with_labels_is_known_by_its_colons(tmp_path: Path) -> None:
    """A bar grid of Harte labels (Harte et al. 2005) beside our own text."""
    path = tmp_path / "grid.txt"
    path.write_text("# title: Wednesday\n# metre: 3/4\n1.5\tA, verse, | A:min | F:maj7 G:7 . |\n")
    sheet = load_sheet(str(path))
    assert sheet.title == "Wednesday"
    assert [c.symbol.ascii for bar in sheet.bars for c in bar.chords] == ["Am", "Fmaj7", "G7"]
    path.write_text("meter: 3/4\n|: Am | Fmaj7 :|\n")
    assert [str(bar.meter) for bar in load_sheet(str(path)).bars] == ["3/4", "3/4"]
