"""Odd but good requests are met, and mean what a hasty user meant."""

from __future__ import annotations

import json
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from app.app_command import CHART, Command, contents, without_sound
from halfstep.etude.steps import VOCABULARY_NAMES
from halfstep.pitch import parse_pitch
from halfstep.progression.notations import NOTATIONS


def lesson_in(folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((folder / "lesson.json").read_text(encoding="utf-8"))
    return data


def made(quick: Command, home: Path, *arguments: str) -> dict[str, Any]:
    """The data of a lesson that must succeed without a word on standard error."""
    ran = quick(*arguments)
    assert (ran.status, ran.err) == (0, "")
    data = lesson_in(home / "lesson")
    for player in data["players"]:
        for step in player["steps"]:
            name = f"step-{step['number'] or step['step']}-{player['instrument']}.musicxml"
            etree.parse(str(home / "lesson" / name))
            sounding = [note for note in step["notes"] if note["midi"] is not None]
            assert sounding
            assert sum(Fraction(note["beats"]) for note in step["notes"]) == Fraction(
                data["chart"]["beats"]
            )
    return data


def symbols(data: dict[str, Any]) -> list[str]:
    return [chord["symbol"] for chord in data["analysis"]["chords"]]


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("chart", "bars", "chords"),
    [
        ("| C |", 1, ["C"]),
        ("C", 1, ["C"]),
        ("Dm7 G7 Cmaj7", 3, ["Dm7", "G7", "Cmaj7"]),
        ("| F7 | % | | % |", 4, ["F7"]),
        ("| C/E | G7/B | C7/Bb |", 3, ["C/E", "G7/B", "C7/Bb"]),
        ("| N.C. | Dm7 | NC | G7 N.C. |", 4, ["N.C.", "Dm7", "N.C.", "G7", "N.C."]),
        ("|: C | D :|: E :|", 6, ["C", "D", "C", "D", "E"]),
        ("| C♯m7♭5 | F♯7♯9 | C△7 | Dø |", 4, ["C#m7b5", "F#7#9", "Cmaj7", "Dm7b5"]),
        ("｜ Ｂ♭ｍａｊ７ ｜ Ｅ−７ ｜", 2, ["Bbmaj7", "Em7"]),
        ("title: a\r\nkey: F\r\n| F7 |\r\n| Bb7 |\r\n", 2, ["F7", "Bb7"]),
        ("| " + "Dm7 G7 Em7 A7 | " * 4, 4, ["Dm7", "G7", "Em7", "A7"] * 4),
        ("meter: 3/4\n| Dm7 | G7 C6 |", 2, ["Dm7", "G7", "C6"]),
        ("meter: 5/4\n| Dm7 G7 | C6 |", 2, ["Dm7", "G7", "C6"]),
        ("meter: 6/8\n| Dm7 G7 | C6 |", 2, ["Dm7", "G7", "C6"]),
        ("meter: 12/8\n| Dm7 | G7 | C6 |", 3, ["Dm7", "G7", "C6"]),
        ("meter: 7/8\n| Dm7 | G7 | C6 |", 3, ["Dm7", "G7", "C6"]),
        ("meter: 1/16\n| Dm7 | G7 | C6 |", 3, ["Dm7", "G7", "C6"]),
        ("meter: 32/16\n| Dm7 | G7 | C6 |", 3, ["Dm7", "G7", "C6"]),
        ("\n\n# a remark\nTITLE: x\n\n| C |\n\n", 1, ["C"]),
    ],
)
def test_charts_of_every_shape(
    chart: str, bars: int, chords: list[str], quick: Command, home: Path
) -> None:
    data = made(quick, home, chart)
    assert (len(data["chart"]["bars"]), symbols(data)) == (bars, chords)


@pytest.mark.sampled
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_text_files_of_any_editor(encoding: str, ending: str, quick: Command, home: Path) -> None:
    text = ending.join(["title: Tür zu", "key: B♭", "| B♭7 | E♭7 |", ""])
    (home / "week.txt").write_bytes(text.encode(encoding))
    data = made(quick, home, "week.txt", "--steps", "1")
    assert (data["title"], data["chart"]["key"], symbols(data)) == ("Tür zu", "Bb", ["Bb7", "Eb7"])


TITLES = {
    "x" * 300: "x" * 300,
    'a/b\\c:d"e<f>&g*?': 'a/b\\c:d"e<f>&g*?',
    "../../up": "../../up",
    "C | D": "C | D",
    "*b* _i_ #x $m$ @y `z`": "*b* _i_ #x $m$ @y `z`",
    "שיעור ערב": "שיעור ערב",
    "夜のレッスン 🎷": "夜のレッスン 🎷",
    "bell\x07 escape\x1b[31m nul\x00 tab\t": "bell escape [31m nul tab",
    "half\udcff": "half",
    "not\ufffe a character": "not a character",
    "\x07": "Untitled",
}  # fmt: skip
SOUNDED = ("x" * 300, "夜のレッスン 🎷", "bell\x07 escape\x1b[31m nul\x00 tab\t", "half\udcff")
"""Titles too long, beyond the first plane, with control codes, and with half a character."""


@pytest.mark.sampled
@pytest.mark.parametrize("title", TITLES)
def test_titles_with_anything_in_them(title: str, quick: Command, home: Path) -> None:
    """No title names a file, and what XML and UTF-8 cannot hold is left out."""
    data = made(quick, home, f"title: {title}\n{CHART}", "--steps", "1")
    expected = TITLES[title]
    if expected == "Untitled":
        assert data["title"].isprintable()
    else:
        assert data["title"] == expected
        score = etree.parse(str(home / "lesson" / "step-1-concert.musicxml"))
        assert score.findtext("work/work-title", "").startswith(expected)
    assert {name.split("/")[0] for name in contents(home)} == {"lesson"}
    assert not any("/" in name.removeprefix("lesson/") for name in contents(home))


@pytest.mark.slow
@pytest.mark.parametrize("title", TITLES)
def test_titles_with_anything_in_them_in_print(
    title: str, command: Command, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And some in what is written into sound."""
    if title not in SOUNDED:
        without_sound(monkeypatch)
    options = ("--steps", "1", "--tempo", "300")
    assert command("lesson", f"title: {title}\n{CHART}", *options).status == 0
    assert (home / "lesson" / "handout-concert.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("steps", "expected"),
    [("3", [3]), ("6,1", [1, 6]), ("1-6", [1, 2, 3, 4, 5, 6]), (" 2 - 3 , 3 ", [2, 3]), ("٣", [3])],
)
def test_spans_of_steps(steps: str, expected: list[int], quick: Command, home: Path) -> None:
    data = made(quick, home, CHART, "--steps", steps)
    assert [step["number"] for step in data["players"][0]["steps"]] == expected


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        ("alto-sax,alto-sax", ["alto-sax"]),
        ("ALTO-SAX", ["alto-sax"]),
        (" flute , Trumpet ", ["flute", "trumpet"]),
        ("trombone,flute", ["trombone", "flute"]),
    ],
)
def test_instruments_as_typed(wanted: str, expected: list[str], quick: Command, home: Path) -> None:
    data = made(quick, home, CHART, "--steps", "1", "--for", wanted)
    assert [player["instrument"] for player in data["players"]] == expected


@pytest.mark.slow
@pytest.mark.parametrize("tempo", ["40", "300", "112.5"])
def test_the_slowest_and_the_fastest_tempo(tempo: str, quick: Command, home: Path) -> None:
    data = made(quick, home, CHART, "--tempo", tempo)
    assert data["tempo_bpm"] == float(tempo)


def test_a_dotted_quarter_is_the_pulse_of_six_eight(quick: Command, home: Path) -> None:
    """Case 87 of a collection of faults: a dotted quarter at 60 is 90 quarters a minute."""
    data = made(quick, home, "meter: 6/8\ntempo: 60\n| Dm7 | G7 |", "--steps", "1")
    assert (data["tempo_bpm"], data["quarters_a_minute"], data["swing_ratio"]) == (60, 90, 1)


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("chart", "key", "expected", "chords"),
    [
        ("key: C\n| Dm7 | G7 |", "Eb", "Eb", ["Fm7", "Bb7"]),
        ("| Dm7 | G7 | Cmaj7 |", "F#", "F#", ["G#m7", "C#7", "F#maj7"]),
        ("| Dm7 | G7 | Cmaj7 |", "Gb", "Gb", ["Abm7", "Db7", "Gbmaj7"]),
        ("key: Am\n| Bm7b5 | E7b9 | Am6 |", "Cm", "Cm", ["Dm7b5", "G7b9", "Cm6"]),
        ("key: Am\n| Bm7b5 | E7b9 | Am6 |", "Eb", "Cm", ["Dm7b5", "G7b9", "Cm6"]),
        ("key: C#\n| C#maj7 | D#m7 |", "C", "C", ["Cmaj7", "Dm7"]),
        ("key: Cb\n| Cbmaj7 | Dbm7 |", "C#", "C#", ["C#maj7", "D#m7"]),
        ("| Dm7 | G7 | Cmaj7 |", "b♭ major", "Bb", ["Cm7", "F7", "Bbmaj7"]),
    ],
)
def test_charts_moved_to_a_key(
    chart: str, key: str, expected: str, chords: list[str], quick: Command, home: Path
) -> None:
    data = made(quick, home, chart, "--steps", "1", "--key", key)
    assert (data["analysis"]["key"], symbols(data)) == (expected, chords)


@pytest.mark.slow
@pytest.mark.parametrize("level", ["beginner", "Advanced"])
def test_a_level_keeps_the_notes_in_its_range(level: str, quick: Command, home: Path) -> None:
    data = made(quick, home, "| Dm7 | G7 | Cmaj7 | A7 |", "--level", level, "--for", "clarinet")
    player = data["players"][0]
    low, high = (parse_pitch(each).midi for each in player["written_range"])
    written = [parse_pitch(n["written"]).midi for step in player["steps"] for n in step["notes"]]
    assert low <= min(written) <= max(written) <= high


def test_a_chart_that_begins_with_a_dash_comes_after_two(quick: Command, home: Path) -> None:
    ran = quick("--steps", "1", "--", "-C | D")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "'-C' is no chord symbol" in ran.err
    assert contents(home) == {}


@pytest.mark.slow
def test_running_twice_into_one_folder_changes_nothing(quick: Command, home: Path) -> None:
    made(quick, home, CHART)
    before = contents(home)
    made(quick, home, CHART)
    assert contents(home) == before


def test_a_file_may_have_spaces_and_signs_in_its_name(quick: Command, home: Path) -> None:
    (home / "week 3 – B♭.txt").write_text(CHART)
    assert made(quick, home, "week 3 – B♭.txt", "--steps", "1")["title"] == "week 3 – B♭"


def test_a_compressed_score_without_a_container_is_found(quick: Command, home: Path) -> None:
    import zipfile

    with zipfile.ZipFile(home / "sheet.mxl", "w") as file:
        file.writestr(
            "score.xml",
            '<score-partwise><part id="P1"><measure number="1"><harmony><root><root-step>G'
            "</root-step></root><kind>minor</kind></harmony></measure></part></score-partwise>",
        )
    assert symbols(made(quick, home, "sheet.mxl", "--steps", "1")) == ["Gm"]


def test_a_document_type_from_elsewhere_is_not_fetched(quick: Command, home: Path) -> None:
    """The usual heading of a MusicXML file names a DTD; it is neither needed nor read."""
    (home / "sheet.xml").write_text(
        '<?xml version="1.0"?><!DOCTYPE score-partwise SYSTEM "file:///nowhere/partwise.dtd">'
        '<score-partwise><part id="P1"><measure number="1"><harmony><root><root-step>G'
        "</root-step></root><kind>minor</kind></harmony></measure></part></score-partwise>"
    )
    assert symbols(made(quick, home, "sheet.xml", "--steps", "1")) == ["Gm"]


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
@pytest.mark.parametrize("arguments", [("--help",), ("--for", "list")])
def test_a_plain_terminal_gets_what_it_can_print(
    encoding: str, arguments: tuple[str, ...], home: Path
) -> None:
    import os

    ran = subprocess.run(
        [sys.executable, "-m", "halfstep", "lesson", *arguments],
        capture_output=True,
        cwd=home,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
        timeout=60,
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert len(ran.stdout.decode(encoding).splitlines()) > 10


def test_notices_are_printed_and_stored(quick: Command, home: Path) -> None:
    ran = quick("C7m Dm7", "--steps", "1")
    assert ran.status == 0
    notes = [line.removeprefix("note: ") for line in ran.out.splitlines() if "note: " in line]
    assert notes == lesson_in(home / "lesson")["notices"]
    assert any("one chord is read for each bar" in note for note in notes)


@pytest.mark.slow
def test_a_chart_of_two_hundred_bars_becomes_a_lesson(quick: Command, home: Path) -> None:
    """The words and parts alone, two steps of it; `bench/lesson.py` measures how long."""
    roots = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A")
    kinds = ("m7", "7", "maj7", "m7b5", "7b9", "6", "dim7")
    bars = [f"{roots[n % 10]}{kinds[n % 7]}" for n in range(200)]
    data = made(quick, home, "| " + " | ".join(bars) + " |", "--steps", "1,6")
    assert len(data["chart"]["bars"]) == 200


def test_the_steps_are_listed_by_name_and_number(command: Command) -> None:
    """Seventeen: four that have a name alone, and thirteen with their numbers; then vocabulary."""
    lines = command("lesson", "--steps", "list").out.splitlines()
    assert [line[:2].strip() for line in lines[:17]] == ["", "", "", "", *map(str, range(1, 14))]
    assert lines[17] == "Vocabulary, which is asked for by name:"
    assert [line.split()[0] for line in lines[18:]] == list(VOCABULARY_NAMES)
    assert [line.split()[0] for line in lines[:2]] == ["rhythm", "echo"]
    assert lines[9].split()[:2] == ["6", "one-line"]


@pytest.mark.parametrize(("name", "number"), [("approach-notes", "9"), ("Chorus", "13")])
def test_a_step_is_known_by_its_name_and_its_number(
    command: Command, name: str, number: str
) -> None:
    chart = "| Fmaj7 | Gm7 C7 |"
    assert command("etude", chart, "--step", name) == command("etude", chart, "--step", number)


@pytest.mark.parametrize("name", ["lesson", "etude", "chart", "changes"])
def test_the_help_names_every_notation_that_is_read(command: Command, name: str, capsys) -> None:
    with pytest.raises(SystemExit):
        command(name, "--help")
    text = " ".join(capsys.readouterr().out.split())
    for notation in NOTATIONS:
        is_named = f"{notation.label} (" in text
        assert is_named == bool(notation.read and notation.suffixes), notation.name
