"""``halfstep chart``: what a teacher may type, and what stands in the data.

Right values were worked out from the bars: common practice, no source.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest

from app.app_command import Command


def data_of(command: Command, *arguments: str) -> dict[str, Any]:
    ran = command("chart", *arguments, "--as", "json")
    assert (ran.status, ran.err) == (0, "")
    data: dict[str, Any] = json.loads(ran.out)
    return data


def printed(data: dict[str, Any]) -> list[str]:
    return [symbol["printed"] for symbol in data["symbols"]]


@pytest.mark.parametrize(
    ("typed", "tones", "degrees", "bass"),
    [
        ("Cdim7", "C Eb Gb Bbb", "1 b3 b5 bb7", None),
        ("C13b9", "C E G Bb Db A", "1 3 5 b7 b9 13", None),
        ("C6/9", "C E G A D", "1 3 5 6 9", None),
        ("C11", "C G Bb D F", "1 5 b7 9 11", None),
        ("C7/Bb", "C E G Bb", "1 3 5 b7", "Bb"),
        ("F#maj7#11/A#", "F# A# C# E# B#", "1 3 5 7 #11", "A#"),
        ("E7sus4b9", "E A B D F", "1 4 5 b7 b9", None),
    ],
)
def test_tones_stand_in_the_order_of_their_degrees_and_the_bass_apart(
    command: Command, typed: str, tones: str, degrees: str, bass: str | None
) -> None:
    (symbol,) = data_of(command, f"| {typed} |")["symbols"]
    assert symbol["tones"] == tones.split()
    assert symbol["degrees"] == degrees.split()
    assert symbol["bass"] == bass


def test_a_symbol_lasts_over_bars_without_one_and_until_silence(command: Command) -> None:
    """Three bars and a half of C, then half a bar of silence."""
    symbols = data_of(command, "| C | | | . . N.C. . | F |")["symbols"]
    assert [(s["printed"], s["bar"], s["beat"], s["beats"]) for s in symbols] == [
        ("C", 1, 1, 14),
        ("N.C.", 4, 3, 2),
        ("F", 5, 1, 4),
    ]


def test_a_pickup_is_bar_0_and_an_uncertain_reading_stands_at_its_symbol(command: Command) -> None:
    data = data_of(command, "{pickup 1} A-9 | C | F |")
    first = data["symbols"][0]
    assert (first["bar"], first["beat"], first["beats"]) == (0, 1, 1)
    assert (first["typed"], first["printed"]) == ("A-9", "Am9")
    assert "A(b9)" in first["notices"][0]
    assert data["play_order"] == [0, 1, 2]


@pytest.mark.parametrize(
    ("chart", "order"),
    [
        ("|: C | F :|x3 G |", [1, 2, 1, 2, 1, 2, 3]),
        ("|: C |1.2. F :|3. G | Am |", [1, 2, 1, 2, 1, 3, 4]),
        ("|: C |1. F | G :|2. Am | Dm {D.C. al fine} |", [1, 2, 3, 1, 4, 5, 1, 4, 5]),
        ("C {D.C. al fine} | F |", [1, 1, 2]),
        ("{segno} C | F {to coda} | G {D.S. al coda} | {coda} Am |", [1, 2, 3, 1, 2, 4]),
    ],
)
def test_the_play_order_names_written_bars(command: Command, chart: str, order: list[int]) -> None:
    assert data_of(command, chart)["play_order"] == order


@pytest.mark.parametrize(
    ("key", "chords"),
    [
        ("G", ["G", "E♭", "F♯7", "G"]),  # hard input 47: no D♯, no G♭7
        ("D", ["D", "B♭", "C♯7", "D"]),
        ("Eb", ["E♭", "B", "D7", "E♭"]),  # the signature of E♭ has no C♭
    ],
)
def test_chords_are_spelled_by_their_distance_from_the_key(
    command: Command, key: str, chords: list[str]
) -> None:
    chart = "key: C\n| C | Ab | B7 | C |"
    assert printed(data_of(command, chart, "--to", key)) == chords


def test_a_part_beyond_six_accidentals_flips_with_its_chords_and_basses(command: Command) -> None:
    """Hard input 49: concert F♯ is E♭ for an alto saxophone, not D♯."""
    chart = "key: F#\n| F#maj7 | C#7/E# | G#m7 |"
    alto = data_of(command, chart, "--for", "alto-sax")
    assert alto["key"] == "Eb"
    assert printed(alto) == ["E♭maj7", "B♭7/D", "Fm7"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["", "--as", "json"], "no chords"),
        (["| |"], "no chords"),
        (["| C | F |", "--to", ""], "no key"),
        (["| C | F |", "--to", "E#"], "write it as F"),
        (["| C | F |", "--for", "alto-sax,trumpet"], "no instrument"),
        (["| C | F |", "--as", "XML"], "choose from"),
        (["| C | F |", "--out", "nowhere/sheet.txt"], "cannot write"),
        (["missing.txt"], "no such file"),
        (["| C | F |", "| G |"], "quotes"),
        (["| C |", "| C7/G/B |"], "quotes"),
        (["| C7/G/B |"], "stops making sense"),
        ([], "CHART"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_nothing_else(
    command: Command, arguments: list[str], words: str
) -> None:
    ran = command("chart", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert len(ran.err.splitlines()) == 1
    assert words in ran.err


@pytest.mark.parametrize("name", ["noise.txt", "noise.mxl", "noise.abc", "noise.cho", "noise.mid"])
def test_a_file_of_noise_is_one_line_that_names_it(command: Command, home: Path, name: str) -> None:
    (home / name).write_bytes(bytes(range(256)) * 8)
    ran = command("chart", str(home / name))
    assert (ran.status, ran.out) == (2, "")
    assert len(ran.err.splitlines()) == 1
    assert name in ran.err


def test_a_folder_is_no_place_for_a_sheet(command: Command, home: Path) -> None:
    ran = command("chart", "| C | F |", "--as", "text", "--out", str(home))
    assert (ran.status, ran.out) == (2, "")
    assert "directory" in ran.err


def test_two_hundred_bars_are_shown_whole(command: Command) -> None:
    """Fifty lines of four, numbered by their first bar."""
    shown = command("chart", "| " + " | ".join(["Dm7 G7", "Cmaj7"] * 100) + " |").out
    lines = shown.splitlines()
    assert "played: 1-200 (200 bars)" in lines
    assert any(line.lstrip().startswith("197 ") for line in lines)
    assert shown.count("Cmaj7") == 100


def test_seven_chords_in_a_bar_all_stand_there_with_a_word_on_their_shares(
    command: Command,
) -> None:
    shown = command("chart", "| C D E F G A B | C |").out
    assert "note: bar 1: 7 chords in 4/4" in shown
    (bar,) = [line for line in shown.splitlines() if line.startswith("1 |")]
    assert bar.split("|")[1].split() == list("CDEFGAB")


def test_a_title_of_another_alphabet_stands_first(command: Command) -> None:
    shown = command("chart", "title: Вечерний класс 夜\n| C | F |").out
    assert shown.splitlines()[0] == "Вечерний класс 夜"


def grid_of(command: Command, chart: str, *more: str) -> list[str]:
    ran = command("chart", chart, *more)
    assert (ran.status, ran.err) == (0, "")
    lines: list[str] = ran.out.splitlines()
    return lines


@pytest.mark.parametrize(
    ("chart", "row"),
    [
        ("| Dm7 . G7 . | C . . G7 |", "1 | Dm7  G7       | C  .  .  G7   |"),
        ("| C . | {3/4} F | {7/4 2+2+3} G |", "1 | C             | 3/4  F        |"),
        ("| C |1. F :|2. G |", "1 | C           | 1.  F      :| 2.  G       |"),
        ("|: C | F :|x3", "1 |: C           | F           :3 times |"),
        ("{segno} C {to coda} | {coda} F {D.S. al coda} |", "1 | segno  C  to coda"),
        ("| C {fine} | F {D.C. al fine} |", "1 | C  fine          | F  D.C. al fine  |"),
        ("| C | {key Eb} F |", "1 | C             | E♭ major  F   |"),
    ],
)
def test_the_grid_shows_where_chords_fall_and_what_stands_in_a_bar(
    command: Command, chart: str, row: str
) -> None:
    lines = [" ".join(line.split()) for line in grid_of(command, chart.replace("| C . |", "| C |"))]
    assert any(line.startswith(" ".join(row.split())) for line in lines), lines


def test_a_chord_off_the_pulse_says_on_which_beat_it_falls(
    command: Command, tmp_path: Path
) -> None:
    page = tmp_path / "page.abc"
    page.write_text('X:1\nT:Tuesday\nL:1/8\nK:C\n"C"C3"F"C"G"C4|]\n')
    assert "1 | C on 1  F on 2.5  G on 3  |" in grid_of(command, str(page))


def test_the_play_order_says_which_time_a_bar_is_played(command: Command) -> None:
    lines = grid_of(command, "|: Dm7 |1. G7 :|2. C |")
    assert "played: 1-2, 1 (second time), 3 (4 bars)" in lines
    data = data_of(command, "|: Dm7 |1. G7 :|2. C |")
    assert data["played_as"] == ["bar 1", "bar 2", "bar 1, second time", "bar 3"]


def test_a_reading_that_was_not_certain_is_said_in_words(command: Command) -> None:
    lines = grid_of(command, "| C△ | F |")
    assert "note: C△: △ is read as maj7; write Cmaj7, or C (C major seventh)" in lines
    assert [s["read_as"] for s in data_of(command, "| C△ | F |")["symbols"]] == [
        "C major seventh",
        "F major",
    ]


def test_what_is_settled_on_the_command_line_is_read_so(command: Command) -> None:
    assert printed(data_of(command, "| C2 | B7 |", "--reading", "C2=Csus2, B=Bb")) == [
        "Csus2",
        "B♭7",
    ]
    ran = command("chart", "| C2 |", "--reading", "C2=C9")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == "halfstep: --reading: C2 = C9 is no reading of it; C2 may be Cadd9 or Csus2\n"


def test_a_narrow_terminal_gets_fewer_bars_a_line(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    chart = "| Cmaj7#11 Dm7 | G7 | C | F |"
    for columns, bars in (("160", 4), ("70", 2), ("24", 1)):
        monkeypatch.setenv("COLUMNS", columns)
        row = next(line for line in grid_of(command, chart) if line.startswith("1 |"))
        assert row.count("|") == bars + 1


def test_beats_are_counted_in_the_pulse_of_the_metre(command: Command) -> None:
    """6/8 has two pulses, 2/2 two, 3/8 one; a chord may fall between."""
    for chart, beats in (
        ("meter: 6/8\n| Am7 D7 |", [(1, 1), (2, 1)]),
        ("meter: 2/2\n| C F |", [(1, 1), (2, 1)]),
        ("meter: 3/4\n| C . F |", [(1, 2), (3, 1)]),
        ("| C F |{3/4} G |", [(1, 2), (3, 2), (1, 3)]),
    ):
        symbols = data_of(command, chart)["symbols"]
        assert [(s["beat"], s["beats"]) for s in symbols] == beats, chart


@pytest.mark.parametrize("option", ["--as", "--for", "--out"])
def test_an_empty_option_is_an_error(command: Command, option: str) -> None:
    assert command("chart", "| C | F |", option, "").status == 2


def test_a_dash_reads_the_chart_from_standard_input(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("title: Piped\n| C | F |\n"))
    assert grid_of(command, "-")[0] == "Piped"


TUNES = 'X:1\nT:First\nK:C\n"C"C4|\n\nX:7\nT:Second\nK:G\n"G"G4|\n'


def test_a_tune_is_chosen_from_a_file_of_several(command: Command, tmp_path: Path) -> None:
    book = tmp_path / "book.abc"
    book.write_text(TUNES)
    assert data_of(command, str(book), "--tune", "7")["title"] == "Second"
    for arguments, words in (
        ((str(book), "--tune", "3"), "there is no tune 3; the file has 1, 7"),
        ((str(book), "--tune", "one"), "give the number of a tune"),
        (("| C |", "--tune", "1"), "this is a line of chords"),
    ):
        ran = command("chart", *arguments)
        assert (ran.status, ran.out) == (2, "")
        assert words in ran.err


@pytest.mark.parametrize(
    ("chart", "key", "said"),
    [
        ("| G | D7 | G |", "A", "no key is stated; the chords were taken to be in G major"),
        ("key: C\n| C | F |", "Cm", "the chart is now in E♭ major, with the same signature"),
        ("key: C\n| C | F |", "Cb", "B major sounds the same with 5 sharps"),
    ],
)
def test_what_may_surprise_in_a_moved_chart_is_said(
    command: Command, chart: str, key: str, said: str
) -> None:
    assert any(said in line for line in grid_of(command, chart, "--to", key))


def test_a_moved_root_that_would_need_two_flats_is_written_as_it_is_played(
    command: Command,
) -> None:
    """♭II7 of D♭ is D7 on the page."""
    assert printed(data_of(command, "key: C\n| Db7 | C |", "--to", "Db")) == ["D7", "D♭"]


@pytest.mark.parametrize("suffix", [".pdf", ".svg", ".png"])
def test_a_lead_sheet_is_written_for_a_reader(
    command: Command, tmp_path: Path, suffix: str
) -> None:
    out = tmp_path / f"sheet{suffix}"
    ran = command("chart", "| Dm7 | G7 | Cmaj7 |", "--for", "eb", "--out", str(out))
    assert (ran.status, ran.out, ran.err) == (0, f"written to {out}\n", "")
    assert out.read_bytes()[:4] in {b"%PDF", b"<?xm", b"\x89PNG"}


@pytest.mark.slow
def test_a_lead_sheet_of_several_pictures_says_so(command: Command, tmp_path: Path) -> None:
    out = tmp_path / "sheet.svg"
    ran = command("chart", "| Dm7 G7 " * 160, "--out", str(out))
    assert "sheet.svg and the pages up to sheet-page-" in ran.out
    assert (tmp_path / "sheet-page-2.svg").exists()


def test_a_picture_is_no_notation(command: Command, tmp_path: Path) -> None:
    ran = command("chart", "C | F", "--as", "abc", "--out", str(tmp_path / "sheet.pdf"))
    assert ran.status == 2
    assert "is a lead sheet" in ran.err
    assert not (tmp_path / "sheet.pdf").exists()


def test_a_picture_into_a_folder_that_is_not_there_is_one_line(command: Command) -> None:
    ran = command("chart", "C | F", "--out", "nowhere/at/all/sheet.pdf")
    assert ran.status == 2
    assert ran.err.count("\n") == 1
    assert "there is no folder" in ran.err


def test_a_chart_is_read_aloud_bar_by_bar(command: Command) -> None:
    ran = command("chart", "| Am7 D7 | Gmaj7 |", "--for", "alto-sax", "--as", "words")
    assert ran.out.splitlines() == [
        "4 sharps, 4 4 time.",
        "Bar 1: On F sharp minor 7. On B 7 from beat 3.",
        "Bar 2: On E major 7.",
    ]
