"""What the user typed is a file or chords."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.errors import ReadError
from halfstep.progression.load import load_chart


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
    path.write_text("| C |\n| H |")
    with pytest.raises(ReadError, match=r"a\.txt, line 2, column 3"):
        load_chart(str(path))
