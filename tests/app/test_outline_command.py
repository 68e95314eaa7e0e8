"""``halfstep outline``: what a teacher may give it, and what it answers.

The lines are made up. Where a file is made by another program, music21 (BSD) wrote it.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from app.app_command import Command
from halfstep.harmony.line_figures import plain_arpeggio
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.meter import Meter
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Chart
from halfstep.render.midi_file import midi_bytes
from typed_charts import load_chart

CHORDS = "| Dm7 | G7 | Cmaj7 | A7 |"
TUNE = """\
X:1
T:Second Floor
M:4/4
L:1/8
K:C
"Dm7"DFAc AFDF|"G7"GBdf dBGB|"Cmaj7"cegb gecG|"A7"A^ceg e^cAG|]
"""


@pytest.fixture
def tune(home: Path) -> str:
    """A line with its chords, in the folder the command runs in."""
    (home / "line.abc").write_text(TUNE, "utf-8")
    (home / "bare.abc").write_text(re.sub(r'"[^"]*"', "", TUNE), "utf-8")
    return "line.abc"


def midi_file(path: Path, chart: Chart, *, meter: Meter | None = None, choruses: int = 1) -> str:
    """The plain arpeggio of a chart as a MIDI file."""
    notes = tuple(
        PlayedNote(note.onset + turn * chart.beats, note.beats, note.midi, 80)
        for turn in range(choruses)
        for note in plain_arpeggio(chart)
    )
    part = PlayedPart("line", 65, percussion=False, notes=notes)
    path.write_bytes(midi_bytes([part], meter=meter or chart.meter, tempo_bpm=120))
    return path.name


def data_of(command: Command, *arguments: str) -> dict[str, Any]:
    ran = command("outline", *arguments, "--json")
    assert (ran.status, ran.err) == (0, "")
    data: dict[str, Any] = json.loads(ran.out)
    return data


def test_the_table_has_the_line_its_windows_and_its_changes(command: Command, tune: str) -> None:
    ran = command("outline", tune)
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "Second Floor"
    assert "How well the line spells the changes, not how good the music is." in lines
    assert "as clear as the plain arpeggio; 1 of 1 changes heard" in lines
    assert [line.split()[:2] for line in lines if line.startswith("1–4")] == [["1–4", "32"]]
    assert [" ".join(line.split()) for line in lines if "→" in line] == [
        "2 1 Dm7 → G7 nothing differs",
        "3 1 G7 → Cmaj7 nothing differs",
        "4 1 Cmaj7 → A7 heard on time",
    ]


def test_the_data_are_the_figures_of_the_measure(command: Command, home: Path) -> None:
    chart = load_chart(CHORDS)
    name = midi_file(home / "line.mid", chart, choruses=2)
    data = data_of(command, name, "--chart", CHORDS)
    whole = outline(plain_arpeggio(chart), chart).whole
    assert data["line"]["outline"] == pytest.approx(whole.outline, abs=5e-5)
    assert data["line"]["relative"] == 1
    assert [(w["first"], w["last"]) for w in data["windows"]] == [
        ({"chorus": 1, "bar": "1"}, {"chorus": 1, "bar": "4"}),
        ({"chorus": 2, "bar": "1"}, {"chorus": 2, "bar": "4"}),
    ]
    assert [(c["chorus"], c["bar"], c["old"], c["new"]) for c in data["changes"][2:5]] == [
        (1, "4", "Cmaj7", "A7"),
        (2, "1", "A7", "Dm7"),
        (2, "2", "Dm7", "G7"),
    ]
    assert (data["changes_judged"], data["changes_tested"]) == (3, 7)
    assert data["changes_spelled"] == 1
    assert {c["heard"] for c in data["changes"]} == {"on-time", "nothing-differs"}


def test_what_cannot_be_said_is_null_with_the_reason(command: Command, home: Path) -> None:
    (home / "short.abc").write_text('X:1\nL:1/4\nM:4/4\nK:C\n"C7"C2E2|"F7"G4|]\n', "utf-8")
    data = data_of(command, "short.abc")
    assert (data["line"]["outline"], data["line"]["relative"]) == (None, None)
    assert data["line"]["reason"] == "fewer than 4 bars"
    assert data["changes_spelled"] is None
    assert [c["spelled"] for c in data["changes"]] == [None]
    said = command("outline", "short.abc").out
    assert "cannot be said (fewer than 4 bars); no change that can be judged" in said
    assert "not judged (too few notes to tell the new chord from the old)" in said


@pytest.mark.slow
@pytest.mark.parametrize("instrument", ["AltoSaxophone", "TenorSaxophone", "Trumpet"])
def test_a_part_for_a_transposing_instrument_is_measured_in_concert_pitch(
    command: Command, home: Path, tune: str, instrument: str
) -> None:
    """The part is music21's: notes and chords moved, with the transposition it states."""
    from music21 import converter, harmony, key, meter, stream
    from music21 import instrument as instruments

    notes = converter.parse(TUNE, format="abc").flatten().notes
    part = stream.Part([getattr(instruments, instrument)(), meter.TimeSignature("4/4"), key.Key()])
    for note in notes:
        if note.isNote:
            part.append(note)
    for bar, figure in enumerate(("Dm7", "G7", "CM7", "A7")):
        part.insert(4 * bar, harmony.ChordSymbol(figure))
    part.atSoundingPitch = True
    part.toWrittenPitch(inPlace=True)
    stream.Score([part]).write("musicxml", home / "part.musicxml")
    assert "<transpose>" in (home / "part.musicxml").read_text("utf-8")
    there = data_of(command, "part.musicxml")
    here = data_of(command, tune)
    assert there["line"] == here["line"]
    assert there["changes"] == here["changes"]


@pytest.mark.slow
def test_the_exercises_of_a_lesson_are_measured_from_part_and_midi_alike(
    quick: Command, command: Command
) -> None:
    """Step 1 for alto saxophone, in its own pitch on paper and in concert pitch as MIDI."""
    assert quick(CHORDS, "--for", "alto-sax", "--steps", "1", "--out", "made").status == 0
    paper = data_of(command, "made/step-1-alto-sax.musicxml")
    sound = data_of(command, "made/step-1-alto-sax.mid", "--chart", CHORDS)
    assert paper["line"] == sound["line"]
    assert paper["line"]["relative"] == pytest.approx(1, abs=0.1)  # its eighths are not even


def test_repeats_are_taken_and_named(command: Command, home: Path) -> None:
    (home / "twice.abc").write_text(TUNE.replace('"Dm7"', '|:"Dm7"').replace("|]", ":|"), "utf-8")
    data = data_of(command, "twice.abc")
    assert [w["first"]["bar"] for w in data["windows"]] == ["1", "1 (2nd)"]
    assert data["line"]["notes"] == 64


def test_another_chart_takes_the_place_of_the_files_chords(command: Command, tune: str) -> None:
    """A half step away, nothing is spelled."""
    data = data_of(command, tune, "--chart", "| Ebm7 | Ab7 | Dbmaj7 | Bb7 |")
    assert data["line"]["outline"] < 0.05
    assert [c["new"] for c in data["changes"]] == ["A♭7", "D♭maj7", "B♭7"]


def test_early_and_late_are_said_in_beats(command: Command, home: Path) -> None:
    """Half notes of C7 over into the bar of Fm7, and of Fm7 before it."""
    late = "CEGB, CEGE|CEGE FAcf"
    early = "CEGE _ecAF|fcAF A_ecf"
    for notes, words in ((late, "heard 2 beats late"), (early, "heard 2 beats early")):
        one, two = notes.split("|")
        text = f'X:1\nL:1/8\nM:4/4\nK:Ab\n"C7"{one.replace("E", "=E")}|"Fm7"{two}|]\n'
        (home / "line.abc").write_text(text.replace('|"Fm7"CEGE', '|"Fm7"C=EG=E'), "utf-8")
        assert words in command("outline", "line.abc").out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nowhere.mid"], "no such file"),
        (["| C7 | F7 |"], "no such file"),
        (["chords.txt"], "no notes"),
        (["chords.cho"], "no notes"),
        (["line.mid"], "no chords; give them with --chart"),
        (["noise.mid"], "noise.mid"),
        (["silent.musicxml"], "silent.musicxml: no notes"),
        (["bare.abc"], "no tune with chords"),
        (["line.abc", "--chart", "meter: 3/4\n" + CHORDS], "bar 1 is in 4/4, the chart's in 3/4"),
        (["waltz.mid", "--chart", CHORDS], "in 3/4, the chart in 4/4"),
        (["line.abc", "--chart", "| N.C. | % | % | % |"], "no chords"),
        (["line.abc", "--chart", "missing.txt"], "no such file"),
        (["line.abc", "--chart", ""], "no chords"),
        (["line.abc", "--tune", "9"], "there is no tune 9"),
        ([], "LINE"),
    ],
)
@pytest.mark.usefixtures("tune")
def test_what_cannot_be_measured_is_one_line(
    command: Command, home: Path, arguments: list[str], words: str
) -> None:
    chart = load_chart(CHORDS)
    midi_file(home / "line.mid", chart)
    midi_file(home / "waltz.mid", chart, meter=Meter(3, 4))
    (home / "noise.mid").write_bytes(bytes(range(256)) * 4)
    for name in ("chords.txt", "chords.cho"):
        (home / name).write_text("| C7 | F7 |\n", "utf-8")
    sheet = command("chart", CHORDS, "--as", "musicxml").out
    (home / "silent.musicxml").write_text(sheet, "utf-8")
    ran = command("outline", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert len(ran.err.splitlines()) == 1
    assert words in ran.err


def test_where_a_midi_file_begins_is_said_when_the_chart_has_a_pickup(
    command: Command, home: Path
) -> None:
    name = midi_file(home / "line.mid", load_chart(CHORDS))
    notices = data_of(command, name, "--chart", "{pickup 1} A7 " + CHORDS)["notices"]
    assert any("begin with bar 1" in notice for notice in notices)


def test_lines_in_a_narrow_terminal_stay_in_it(
    command: Command, tune: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert max(map(len, command("outline", tune).out.splitlines())) <= 40


def test_the_notes_of_a_file_are_those_that_are_measured(command: Command, tune: str) -> None:
    """ABC, and its MIDI numbers worked out by hand."""
    midis = [62, 65, 69, 72, 69, 65, 62, 65, 67, 71, 74, 77, 74, 71, 67, 71]
    midis += [72, 76, 79, 83, 79, 76, 72, 67, 69, 73, 76, 79, 76, 73, 69, 67]
    line = [LineNote(place / 2, 0.5, midi) for place, midi in enumerate(midis)]
    whole = outline(line, load_chart(CHORDS)).whole
    assert data_of(command, tune)["line"]["outline"] == pytest.approx(whole.outline, abs=5e-5)


def test_a_line_without_chords_is_measured_against_a_chart(command: Command, tune: str) -> None:
    """The same figures as with its chords above the notes."""
    with_chords, bare = data_of(command, tune), data_of(command, "bare.abc", "--chart", CHORDS)
    assert bare["line"] == with_chords["line"]
    assert bare["changes"] == with_chords["changes"]


def test_a_line_of_another_length_than_the_chart_is_measured_with_a_note(
    command: Command, tune: str
) -> None:
    ran = command("outline", tune, "--chart", "| Dm7 | G7 | Cmaj7 |")
    assert ran.status == 0
    assert "note: the line has 4 bars, the chart 3 bars" in ran.out
