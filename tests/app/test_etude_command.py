"""``halfstep etude``: one line on the terminal or in a file, and bad input in one line."""

from __future__ import annotations

import io
import json
import re
import shlex
import wave
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from app.app_command import Command, contents
from halfstep.app.terminal.etude_lines import etude_lines
from halfstep.app.terminal.pasted_command import quoted
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import find_step
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from midi_tracks import midi_tracks
from typed_charts import read_chart_text

CHART = "| Dm7 | G7 | Cmaj7 | A7alt |"
ALTO = ("--for", "alto-sax")


def stored(command: Command, home: Path, *options: str, name: str = "line.json") -> Any:
    """The data of an etude."""
    assert command("etude", CHART, *options, "--out", name).status == 0
    return json.loads((home / name).read_text(encoding="utf-8"))


def test_the_terminal_shows_written_notes_under_written_chords(command: Command) -> None:
    ran = command("etude", CHART, "--step", "7", *ALTO, "--level", "beginner")
    assert (ran.status, ran.err) == (0, "")
    assert re.search(r"Bm7 +E7 +Amaj7 +F♯7alt\n1 \|", ran.out)
    assert "The thread to hear is" in ran.out


def test_a_terminal_line_holds_every_note_once() -> None:
    """Names in order are those of the part; a dash stands where one goes on."""
    instrument = INSTRUMENTS["trumpet"]
    analysis = analyse(read_chart_text("| Dm7 | G7 | N.C. | Cmaj7 A7 |"))
    etude = write_etude(
        find_step("arpeggio-in-rhythm"), analysis, Brief(instrument, Level.INTERMEDIATE, 100.0, 1)
    )
    part = part_for(analysis, instrument).of_line(etude.notes)
    rows = [row for row in etude_lines(etude, part, columns=79) if row.startswith(("1 |", "3 |"))]
    shown = re.findall(r"[A-G][♭♯]?\d", " ".join(rows))
    assert shown == [str(part.pitch(note)) for note in etude.notes if note.pitch]
    assert max(map(len, rows)) < 80


def test_a_changing_note_is_marked_on_the_terminal(command: Command) -> None:
    ran = command("etude", "| C7 | F7 |", "--step", "4", "--for", "flute")
    assert "E♭" in ran.out
    assert re.search(r"E♭\d\*", ran.out)
    assert "* a changing note" in ran.out


def frames(data: bytes) -> int:
    with wave.open(io.BytesIO(data)) as sound:
        return sound.getnframes()


@pytest.mark.sampled
@pytest.mark.parametrize("suffix", ["musicxml", "mid", "pdf", "svg", "wav", "json"])
def test_every_form_is_one_whole_file(suffix: str, command: Command, home: Path) -> None:
    ran = command("etude", "| C7 | F7 |", "--step", "9", *ALTO, "--out", f"line.{suffix}")
    assert (ran.status, ran.out) == (0, f"written to line.{suffix}\n")
    assert list(contents(home)) == [f"line.{suffix}"]
    data = (home / f"line.{suffix}").read_bytes()
    assert {
        "musicxml": lambda: ElementTree.fromstring(data).tag == "score-partwise",
        "mid": lambda: data[:4] == b"MThd",  # Standard MIDI Files 1.0
        "pdf": lambda: data[:5] == b"%PDF-",  # ISO 32000
        "svg": lambda: ElementTree.fromstring(data).tag == "{http://www.w3.org/2000/svg}svg",
        "wav": lambda: frames(data) > 44100,
        "json": lambda: json.loads(data)["format"] == "halfstep-etude",
    }[suffix]()


def test_the_midi_file_sounds_what_the_data_says(command: Command, home: Path) -> None:
    """Read back by mido."""
    mido = pytest.importorskip("mido")
    data = stored(command, home, "--step", "6", *ALTO)
    command("etude", CHART, "--step", "6", *ALTO, "--out", "line.mid")
    struck = [
        message.note
        for message in mido.MidiFile(home / "line.mid")
        if message.type == "note_on" and message.velocity
    ]
    assert struck == [note["midi"] for note in data["notes"] if note["midi"]]


@pytest.mark.parametrize(("feel", "off_beats"), [("swing", {0, 320}), ("straight", {0, 240})])
def test_the_midi_file_swings_where_the_feel_does(
    command: Command, home: Path, feel: str, off_beats: set[int]
) -> None:
    """At 96 the lesson's ratio is 2 to 1, as in its sound."""
    (home / "chart.txt").write_text(f"feel: {feel}\n| Dm7 | G7 | Cmaj7 | A7 |\n", encoding="utf-8")
    command("etude", "chart.txt", "--step", "5", "--tempo", "96", "--out", "line.mid")
    (line,) = midi_tracks(home / "line.mid").values()
    assert {start % 480 for start in line.starts} == off_beats


def test_chords_and_band_stand_on_their_own_tracks_on_request(command: Command, home: Path) -> None:
    """General MIDI: drums on the tenth channel, an acoustic bass, a piano."""
    command("etude", CHART, "--step", "5", *ALTO, "--midi-band", "--out", "band.mid")
    command("etude", CHART, "--step", "5", *ALTO, "--out", "line.mid")
    tracks, alone = midi_tracks(home / "band.mid"), midi_tracks(home / "line.mid")
    assert list(tracks) == ["line", "chords", "bass", "drums"]
    assert tracks["line"] == alone["line"]
    assert [track.channels for track in tracks.values()] == [{0}, {1}, {2}, {9}]
    assert [track.programs for track in tracks.values()] == [[65], [0], [32], []]


@pytest.mark.slow
def test_the_part_reads_as_written(command: Command, home: Path) -> None:
    """Read back by music21, which knows the written pitch of a transposed part."""
    music21 = pytest.importorskip("music21")
    data = stored(command, home, "--step", "10", *ALTO)
    command("etude", CHART, "--step", "10", *ALTO, "--out", "line.musicxml")
    score = music21.converter.parse(home / "line.musicxml")
    heads = [
        note.pitch.midi for note in score.recurse().notes if isinstance(note, music21.note.Note)
    ]
    assert heads == [parse_pitch(n["written"]).midi for n in data["notes"] if n["written"]]


def test_known_notes_are_those_the_player_reads(command: Command, home: Path) -> None:
    known = ("A4", "B4", "C#5", "D5", "E5", "F#5", "G#5", "A5", "C5")
    data = stored(command, home, "--step", "5", *ALTO, "--notes", " ".join(known))
    midis = {parse_pitch(name).midi for name in known}
    assert {parse_pitch(n["written"]).midi for n in data["notes"] if n["written"]} <= midis


def test_limits_are_written_pitch(command: Command, home: Path) -> None:
    data = stored(command, home, "--step", "6", *ALTO, "--low", "E4", "--high", "G5")
    midis = [parse_pitch(n["written"]).midi for n in data["notes"] if n["written"]]
    assert 64 <= min(midis) <= max(midis) <= 79


def test_a_limit_outside_the_range_is_said_to_change_nothing(command: Command) -> None:
    ran = command("etude", CHART, "--step", "6", *ALTO, "--high", "A6")
    assert "note: alto-sax at level intermediate has C4 to D6" in ran.out


def test_kept_bars_stand_and_the_rest_is_new(command: Command, home: Path) -> None:
    def bar(data: Any, number: int) -> list[tuple[str, str]]:
        low = 4 * (number - 1)
        return [(n["start"], n["concert"]) for n in data["notes"] if low <= _at(n) < low + 4]

    first = stored(command, home, "--step", "6", *ALTO)
    second = stored(
        command, home, "--step", "6", *ALTO, "--seed", "9", "--keep", "2,4", "--from", "line.json",
        name="new.json",
    )  # fmt: skip
    assert [bar(first, n) == bar(second, n) for n in (2, 4)] == [True, True]
    assert first["notes"] != second["notes"]


def _at(note: Any) -> float:
    over, _, under = note["start"].partition("/")
    return int(over) / int(under or 1)


@pytest.mark.slow
def test_degrees_are_drawn_on_request(command: Command, home: Path) -> None:
    for name, options in (("plain.svg", ()), ("degrees.svg", ("--degrees",))):
        command("etude", CHART, "--step", "3", *ALTO, *options, "--out", name)
    plain, degrees = ((home / name).read_text() for name in ("plain.svg", "degrees.svg"))
    assert degrees.count("<path") > plain.count("<path")


@pytest.mark.slow
def test_the_same_seed_gives_the_same_bytes(command: Command, home: Path) -> None:
    for name in ("one.pdf", "two.pdf"):
        command("etude", CHART, "--step", "13", *ALTO, "--seed", "4", "--out", name)
    assert (home / "one.pdf").read_bytes() == (home / "two.pdf").read_bytes()


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "--step"),
        (("--step", "14"), "there are steps 1 to 13, and before them rhythm, echo"),
        (("--step", "-3"), "there are steps 1 to 13"),
        (("--step", "3", "--level", "expert"), "choose from beginner"),
        (("--step", "3", "--seed", "-4"), "a whole number"),
        (("--step", "3", "--seed", "1.5"), "a whole number"),
        (("--step", "3", "--tempo", "400"), "from 40 to 300"),
        (("--step", "1-3"), "there is no step '1-3'"),
        (("--step", "3", "--for", "kazoo"), "no instrument is called"),
        (("--step", "3", "--notes", " "), "--notes is empty"),
        (("--step", "3", "--notes", "C4 H4"), "write it like Eb4"),
        (("--step", "3", "--notes", "C99"), "write it like Eb4"),
        (("--step", "3", "--low", "G9"), "leave no note"),
        (("--step", "3", "--low", "E5", "--high", "C5"), "leave no note"),
        (("--step", "3", "--keep", "2"), "go together"),
        (("--step", "3", "--from", "line.json"), "go together"),
        (("--step", "3", "--keep", "5", "--from", "line.json"), "bars 1 to 4"),
        (("--step", "3", "--keep", "two", "--from", "line.json"), "write bars like 3,5-6"),
        (("--step", "3", "--keep", "2", "--from", "none.json"), "cannot read it"),
        (
            ("--step", "3", "--keep", "2", "--from", "other.json"),
            "give an etude that Halfstep stored as .json",
        ),
        (("--step", "3", "--keep", "2", "--from", "line.json"), "keep its bars with --for trumpet"),
        (("--step", "3", "--out", "line.doc"), "end the name in one of"),
        (("--step", "3", "--out", "none/line.mid"), "there is no folder none"),
        (("--step", "3", "--tempo", "9"), "from 40 to 300"),
    ],
)
def test_bad_input_is_one_line(
    options: tuple[str, ...], said: str, command: Command, home: Path
) -> None:
    """Nothing is written, and the line says what would be right."""
    stored(command, home, "--step", "3", "--for", "trumpet")
    (home / "other.json").write_text('{"format": "x"}')
    before = contents(home)
    ran = command("etude", CHART, *options)
    assert ran.status == 2
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert contents(home) == before


@pytest.mark.parametrize(
    "wrong",
    [
        {"start": "1e9"}, {"start": 3}, {"beats": "0"}, {"beats": "1/0"}, {"concert": "H2"},
        {"concert": "C-9"}, {"concert": 60}, {"beats": "-1"}, None,
    ],
)  # fmt: skip
def test_a_file_with_spoiled_notes_is_refused_in_one_line(
    wrong: Any, command: Command, home: Path
) -> None:
    data = stored(command, home, "--step", "3", *ALTO)
    data["notes"][1] = {**data["notes"][1], **wrong} if wrong else None
    (home / "line.json").write_text(json.dumps(data))
    ran = command("etude", CHART, "--step", "3", *ALTO, "--keep", "1", "--from", "line.json")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "--from line.json" in ran.err


def test_a_file_whose_notes_leave_a_gap_is_refused(command: Command, home: Path) -> None:
    data = stored(command, home, "--step", "3", *ALTO)
    del data["notes"][1]
    (home / "line.json").write_text(json.dumps(data))
    ran = command("etude", CHART, "--step", "3", *ALTO, "--keep", "1", "--from", "line.json")
    assert "do not fill bar 1" in ran.err


def test_known_notes_outside_the_level_are_said_to_be_left_out(command: Command) -> None:
    line = ("etude", "| C |", "--step", "rhythm", "--for", "flute", "--level", "beginner")
    some = command(*line, "--notes", "C4 G4 C5")
    assert some.status == 0
    assert "without C4; left out" in some.out
    none = command(*line, "--notes", "C4 D4")
    assert none.status == 2
    assert none.err.count("\n") == 1
    assert "without C4, D4" in none.err


def test_kept_approach_notes_keep_their_marks(command: Command, home: Path) -> None:
    """What leads to another note still does when its bar stands."""
    chart = "| Dm7 | G7 | Cmaj7 | A7 |"
    command("etude", chart, "--step", "9", "--for", "flute", "--out", "old.json")
    keep = ("--keep", "2", "--from", "old.json", "--seed", "5", "--out", "new.json")
    assert command("etude", chart, "--step", "9", "--for", "flute", *keep).status == 0
    told = []
    for name in ("old.json", "new.json"):
        notes = json.loads((home / name).read_text("utf-8"))["notes"]
        in_bar = [note for note in notes if 4 <= Fraction(note["start"]) < 8]
        told.append([(note["concert"], note["approach"]) for note in in_bar])
    assert told[0] == told[1]
    assert any(approach for _, approach in told[0])


HARD = "| Cmaj7 | G7alt | F#maj7 | E7alt | Amaj7 | Bmaj7 |"
IMPOSSIBLE = [
    ("1", "alto-sax", ("--notes", "G4 A4 B4 C5 D5")),
    ("6", "alto-sax", ("--notes", "G4,A4,B4,C5,D5")),
    ("10", "trumpet", ("--notes", "C4 D4 E4 F4 G4")),
    ("4", "tenor-sax", ("--low", "G4", "--high", "A4")),
    ("10", "clarinet", ("--low", "G4", "--high", "G4")),
    ("3", "clarinet", ("--notes", "G4")),
    ("8", "alto-sax", ("--low", "G4", "--high", "C5", "--level", "beginner")),
    ("root-third", "alto-sax", ("--low", "G4", "--high", "A4", "--level", "beginner")),
    ("question", "flute", ("--notes", "G4", "--seed", "7", "--tempo", "90")),
    ("3", "trombone", ("--notes", "C3")),
]


@pytest.mark.slow
@pytest.mark.parametrize(("step", "player", "options"), IMPOSSIBLE)
def test_an_impossible_brief_offers_a_command_that_works(
    step: str, player: str, options: tuple[str, ...], command: Command
) -> None:
    """One line: what blocks, what works, and that as it is typed, with all that was asked."""
    ran = command("etude", HARD, "--step", step, "--for", player, *options)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    found = re.search(r"(?:works|added|level \S+|to \S+): (halfstep etude .*)$", ran.err.strip())
    assert found
    words = shlex.split(found[1])
    assert words[:3] == ["halfstep", "etude", HARD]
    for option in ("--seed", "--tempo"):
        assert (option in words) == (option in options)
    assert command(*words[1:]).status == 0


def test_what_blocks_is_told_in_the_names_the_player_reads(command: Command) -> None:
    """Concert F♯ major is D♯ major for an alto, which is written E flat."""
    ran = command("etude", "| Cmaj7 | F#maj7 |", "--step", "1", *ALTO, "--notes", "A4 C#5 E5")
    assert "a tone of E♭maj7 (bar 2)" in ran.err or "a tone of D♯maj7 (bar 2)" in ran.err
    assert "F♯maj7" not in ran.err


def test_a_chart_from_elsewhere_keeps_its_place_in_the_command() -> None:
    """What cannot be typed on one line is not put on one."""
    assert quoted("| Dm7 | G7 |") == '"| Dm7 | G7 |"'
    assert quoted("line.txt") == "line.txt"
    for text in ('a "b" $c', "it's !", "`x`"):
        assert shlex.split(quoted(text)) == [text]


def test_kept_bars_over_other_chords_are_named(command: Command, home: Path) -> None:
    """The notes stand; the bar is told, with both chords as an alto reads them."""
    stored(command, home, "--step", "6", *ALTO)
    keep = ("--keep", "1-2,4", "--from", "line.json")
    same = command("etude", CHART, "--step", "6", *ALTO, *keep)
    assert "other chords" not in same.out
    other = "| Dm7 | Db7 | Cmaj7 | A7alt |"
    ran = command("etude", other, "--step", "6", *ALTO, *keep)
    assert ran.status == 0
    told = [line for line in ran.out.splitlines() if "other chords" in line]
    assert told == ["note: --from line.json was written over other chords: bar 2 over E7, here B♭7"]


def test_a_chord_that_holds_on_is_no_other_chord(command: Command) -> None:
    command("etude", "| C7 | % | F7 | % |", "--step", "4", "--for", "flute", "--out", "line.json")
    keep = ("--keep", "2,4", "--from", "line.json")
    ran = command("etude", "| C7 | C7 | F7 | F7 |", "--step", "4", "--for", "flute", *keep)
    assert ran.status == 0
    assert "other chords" not in ran.out


@pytest.mark.parametrize(
    ("chart", "bars", "said"),
    [
        ("meter: 3/4\n| Dm7 | G7 | Cmaj7 | A7alt |", "2", "bar 2 has 4 quarter notes there and 3"),
        ("| Dm7 | G7 | Cmaj7 | A7alt | D7 |", "5", "its chart has no bar 5"),
    ],
)
def test_kept_bars_of_another_length_are_refused_by_name(
    chart: str, bars: str, said: str, command: Command, home: Path
) -> None:
    stored(command, home, "--step", "6", *ALTO)
    (home / "other.txt").write_text(chart)
    keep = ("--keep", bars, "--from", "line.json")
    ran = command("etude", "other.txt", "--step", "6", *ALTO, *keep)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert said in ran.err


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".pdf", ".svg", ".png"])
def test_a_line_in_all_keys_is_a_sheet(command: Command, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"keys{suffix}"
    ran = command("etude", "| C |", "--step", "arpeggio", "--all-keys", "--out", str(out))
    assert ran.status == 0
    assert out.read_bytes()[:4] in {b"%PDF", b"<?xm", b"\x89PNG"}


@pytest.mark.parametrize("more", [[], ["--out", "keys.mid"]])
def test_a_line_in_all_keys_is_nothing_else(command: Command, more: list[str]) -> None:
    ran = command("etude", "| C |", "--step", "arpeggio", "--all-keys", *more)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ".pdf, .svg, .png" in ran.err


# An ending

LEADS_HOME = "| Fmaj7 | Dm7 | Gm7 | C7 |"


def test_the_terminal_shows_the_bar_of_the_last_time_under_the_form(command: Command) -> None:
    ran = command("etude", LEADS_HOME, "--step", "13", *ALTO)
    assert (ran.status, ran.err) == (0, "")
    assert re.search(r"\n +Last time:\n +Dmaj7\n5 \| [A-G]♯?\d +-( +-)* *\|\n", ran.out)
    assert "The last time, go on to bar 5 and end at home" in " ".join(ran.out.split())


def test_an_ending_is_there_when_it_is_asked_for_or_not(command: Command, home: Path) -> None:
    def ending(*options: str) -> Any:
        ran = command("etude", LEADS_HOME, *options, "--out", "line.json")
        assert ran.status == 0
        return json.loads((home / "line.json").read_text(encoding="utf-8"))["ending"]

    assert ending("--step", "13")
    assert ending("--step", "7") is None
    assert ending("--step", "7", "--ending")["symbol"] == "Fmaj7"
    assert ending("--step", "13", "--no-ending") is None


@pytest.mark.parametrize(
    ("chart", "said"),
    [
        ("| Gm7 | C7 | Fmaj7 | % |", "note: the form ends at home, on Dmaj7: no ending is added"),
        (CHART, "note: the form begins on Bm7, not on its home chord, and does not lead home"),
    ],
)
def test_a_form_that_needs_no_ending_gets_none_and_says_so(
    chart: str, said: str, command: Command
) -> None:
    ran = command("etude", chart, "--step", "13", *ALTO, "--ending")
    assert said in ran.out
    assert "Last time" not in ran.out
    assert "no ending" not in command("etude", chart, "--step", "13", *ALTO).out


@pytest.mark.parametrize("word", ["--ending", "--no-ending"])
def test_the_command_to_paste_keeps_the_ending(word: str, command: Command) -> None:
    """The notes that are known suit no arpeggio; what is offered ends as it was asked for."""
    ran = command("etude", LEADS_HOME, "--step", "1", *ALTO, "--notes", "B4", word)
    assert ran.status == 2
    assert f" {word}" in ran.err.partition("halfstep etude")[2]


def test_an_etude_is_read_aloud_bar_by_bar(command: Command) -> None:
    ran = command("etude", CHART, "--step", "cells", *ALTO, "--as", "words")
    heading, opening, *bars = ran.out.splitlines()
    assert (ran.status, ran.err) == (0, "")
    assert heading.endswith("8. Cells · Alto saxophone")
    assert opening == "3 sharps, 4 4 time."
    assert [bar[:6] for bar in bars] == ["Bar 1:", "Bar 2:", "Bar 3:", "Bar 4:"]
    assert bars[0].startswith("Bar 1: On B minor 7: mezzo piano eighth ")


def test_words_are_for_the_screen_and_other_forms_are_named(command: Command) -> None:
    step = ("etude", CHART, "--step", "cells", "--as")
    assert "did you mean words?" in command(*step, "word").err
    both = command(*step, "words", "--out", "line.pdf").err
    assert both == "halfstep: --as is for the screen; leave out --out, or take it alone\n"
