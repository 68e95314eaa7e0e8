"""``halfstep changes``: the table, the data and the file of a map.

Right values were worked out from the chords: common practice, no source. Transposition is
held against music21 (BSD), the widths of a terminal against Unicode's East Asian Width.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.app_command import Command
from halfstep.app.terminal.changes_table import table_lines
from halfstep.app.terminal.columns import text_width, wrapped
from halfstep.data.changes_json import changes_data
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from typed_charts import read_chart_text

VAMP = "| D7 | G7 |"
CLASS = "key: C\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |"
FAR = "| Gb7 | Cbmaj7 Fb7 | Bbm7b5 | Eb7alt Ab7#11 |"

ROOTS = [letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")]
SUFFIXES = ["", "m", "7", "maj7", "m7", "m7b5", "dim7", "7b9", "13", "7alt", "sus4", "m6", "maj7#5"]
symbols = st.builds(str.__add__, st.sampled_from(ROOTS), st.sampled_from(SUFFIXES))
charts = st.lists(symbols, min_size=2, max_size=8).map(
    lambda found: "| " + " | ".join(found) + " |"
)


def data_of(command: Command, *arguments: str) -> dict[str, Any]:
    ran = command("changes", *arguments, "--json")
    assert ran.status == 0, ran.err
    data: dict[str, Any] = json.loads(ran.out)
    return data


def table_of(command: Command, *arguments: str) -> list[str]:
    ran = command("changes", *arguments)
    assert (ran.status, ran.err) == (0, "")
    lines: list[str] = ran.out.splitlines()
    return lines


def part_of(chart: str, instrument: str = "concert") -> Any:
    return part_for(analyse(read_chart_text(chart)), INSTRUMENTS[instrument])


@pytest.mark.parametrize(
    ("instrument", "first", "back"),
    [
        ("concert", "→ G7: only the F♯ becomes F", "→ D7 (from the top): only the F becomes F♯"),
        ("alto-sax", "→ E7: only the D♯ becomes D", "→ B7 (from the top): only the D becomes D♯"),
    ],
)
def test_dominants_a_fourth_apart_change_one_note_both_ways(
    command: Command, instrument: str, first: str, back: str
) -> None:
    lines = [line.strip() for line in table_of(command, VAMP, "--for", instrument)]
    assert [line.partition(";")[0] for line in lines if line.startswith("→")] == [first, back]


def test_a_row_names_place_chord_function_tones_and_scale(command: Command) -> None:
    (row,) = [line for line in table_of(command, CLASS) if line.startswith("2 ")]
    assert row.split("  ")[0] == "2"
    assert row.split()[1:4] == ["1", "G7", "V7"]
    assert "G B D F" in row
    assert "G Mixolydian: G A B C D E F" in row


def test_a_local_key_is_a_heading_with_its_bars(command: Command) -> None:
    chart = "key: C\n| Dm7 | G7 | Cmaj7 | | Abm7 | Db7 | Gbmaj7 | |"
    headings = [line.strip("─ ") for line in table_of(command, chart) if line.startswith("──")]
    assert headings == ["C major, bars 1 to 3", "G♭ major, bars 5 to 7"]


def test_a_reason_stands_once_under_each_chord(command: Command) -> None:
    for here in data_of(command, CLASS)["chords"]:
        assert here["scale"]["reason"]
        assert "{" not in here["scale"]["reason"] + here["role_in_words"]


def test_silence_has_a_row_and_nothing_to_play(command: Command) -> None:
    chart = "| C | N.C. | F |"
    lines = table_of(command, chart)
    (row,) = [line for line in lines if "N.C." in line]
    assert row.split() == ["2", "1", "N.C."]
    first, silent, _ = data_of(command, chart)["chords"]
    assert (first["next"], silent["next"], silent["scale"]) == (None, None, None)
    assert silent["tones"] == silent["other_scales"] == []


def test_what_was_said_before_is_only_pointed_to(command: Command) -> None:
    """The same four bars twice: of the second time only what leads to the top is told."""
    lines = table_of(command, "key: C\n| Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Am7 |")
    assert "bars 5 to 7: as bars 1 to 3" in lines
    assert sum("G Mixolydian" in line for line in lines) == 1


@pytest.mark.parametrize(
    ("chart", "pointer"),
    [
        ("| C F | Bb7 | C F | Bb7 | G |", "bar 3: as bar 1"),
        ("| C F | G Am | C F | G D7 |", "bar 3: as bar 1"),
        ("| C F G | Am | C F Bb | G7 |", "bar 3 beat 1: as bar 1 beat 1"),
        ("| C F G Am | C F G D7 |", "bar 2 from beat 1 to beat 2: as bar 1 from beat 1 to beat 2"),
        ("| A7 | C F G Am | A7 | C F G D7 |", "bar 3 to bar 4 beat 2: as bar 1 to bar 2 beat 2"),
    ],
)
def test_a_pointer_names_just_what_is_the_same(command: Command, chart: str, pointer: str) -> None:
    assert pointer in table_of(command, f"key: C\n{chart}"), table_of(command, chart)


def test_bars_that_are_played_again_say_which_time(command: Command) -> None:
    chart = "|: Dm7 | G7 :| C |"
    assert any("(2nd)" in line for line in table_of(command, chart))
    places = [(c["bar"], c["written_bar"], c["time"]) for c in data_of(command, chart)["chords"]]
    assert places == [(1, 1, 1), (2, 2, 1), (3, 1, 2), (4, 2, 2), (5, 3, 1)]


def test_beats_are_counted_in_the_pulse_of_the_metre(command: Command) -> None:
    for chart, beats in (
        ("meter: 6/8\n| Am7 D7 |", [1, 2]),
        ("meter: 3/4\n| C . F |", [1, 3]),
        ("| C F | G |", [1, 3, 1]),
    ):
        assert [c["beat"] for c in data_of(command, chart)["chords"]] == beats, chart


@pytest.mark.parametrize("columns", [20, 34, 50, 64, 80, 132])
@pytest.mark.parametrize("chart", [CLASS, FAR, "title: 夜の教室 Вечер\n| Cm7b5/Gb | F13b9#11 |"])
def test_no_line_is_wider_than_the_terminal(columns: int, chart: str) -> None:
    lines = list(
        table_lines(part_of(chart), level=Level.ADVANCED, notices=["a word " * 30], columns=columns)
    )
    assert max(map(text_width, lines)) <= columns
    words = " ".join(" ".join(lines).split())
    assert "becomes" in words
    assert "a word a word" in words


@pytest.mark.slow
@given(st.text(), st.integers(1, 30))
def test_wrapped_text_keeps_every_character_and_its_width(text: str, width: int) -> None:
    """A character of two columns may stand in a line of one."""
    lines = wrapped(text, width)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(text_width(line) <= width or len(line.strip()) <= 2 for line in lines if line)


def test_wide_and_combining_characters_are_counted() -> None:
    assert [text_width(text) for text in ("E♭ø7", "夜", "e\u0301", "ｆ")] == [4, 2, 1, 2]


def test_the_data_of_a_chord(command: Command) -> None:
    data = data_of(command, CLASS)
    five = data["chords"][1]
    assert (five["symbol"], five["local_key"], five["function"]) == ("G7", "C", "V7")
    assert [tone["name"] for tone in five["tones"]] == ["G", "B", "D", "F"]
    assert five["scale"]["name"] == "G Mixolydian"
    assert len(five["other_scales"]) >= 2
    assert five["next"]["symbol"] == "Cmaj7"
    assert five["next"]["instruction"] == "keep every note"
    assert data["chords"][-1]["next"]["chord"] == 0


@pytest.mark.slow
@settings(deadline=None, max_examples=40)
@given(charts, st.sampled_from(sorted(INSTRUMENTS)))
def test_stays_moves_and_new_notes_make_the_next_scale(chart: str, instrument: str) -> None:
    """Nothing of the next scale is left unexplained and nothing of the old one forgotten."""
    chords = changes_data(part_of(chart, instrument), level=Level.ADVANCED, notices=())["chords"]
    for here in chords:
        change = here["next"]
        if change is None:
            continue
        moves = change["half_steps"] + change["steps"] + change["renamed"]
        there = chords[change["chord"]]["scale"]
        explained = change["stays"] + [move["to"] for move in moves] + change["new"]
        assert sorted(explained) == sorted(note["name"] for note in there["notes"])
        left = change["stays"] + [move["from"] for move in moves] + change["leaves"]
        assert sorted(left) == sorted(note["name"] for note in here["scale"]["notes"])


@pytest.mark.parametrize(
    ("instrument", "interval"), [("alto-sax", "M6"), ("trumpet", "M2"), ("flute", "P1")]
)
def test_written_names_lie_where_music21_transposes_them(
    command: Command, instrument: str, interval: str
) -> None:
    music21 = pytest.importorskip("music21")

    def moved(name: str) -> str:
        note = music21.note.Note(name.replace("b", "-"))
        return str(note.transpose(interval).name).replace("-", "b")

    concert = data_of(command, CLASS)["chords"]
    written = data_of(command, CLASS, "--for", instrument)["chords"]
    for here, there in zip(concert, written, strict=True):
        for part in (here["scale"]["notes"], here["tones"]):
            names = [moved(note["name"]) for note in part]
            other = there["tones"] if part is here["tones"] else there["scale"]["notes"]
            assert [note["name"] for note in other] == names
        assert here["function"] == there["function"]


def test_guide_tones_go_by_the_shortest_way(command: Command) -> None:
    """In ii V the seventh falls a half step to the third; the other stays."""
    two, five, *_ = data_of(command, CLASS)["chords"]
    assert (two["guide_tones"], five["guide_tones"]) == (["F", "C"], ["B", "F"])
    assert two["next"]["guide_tones"] == [{"from": "F", "to": "F"}, {"from": "C", "to": "B"}]
    assert any("guide tones: F stays, C → B" in line for line in table_of(command, CLASS))


def test_what_holds_for_the_whole_chorus_ends_the_table(command: Command) -> None:
    chart = "| F7 | Bb7 | F7 | | Bb7 | | F7 | | C7 | Bb7 | F7 | C7 |"
    words = " ".join(table_of(command, chart, "--for", "trumpet"))
    assert "one key signature will do: no sharps or flats" in words
    assert "turnaround: G7 D7 (bars 11 to 12) lead back to the top" in words
    assert "colour beside the chord tones: G minor blues, G B♭ C D♭ D F" in words
    data = data_of(command, chart, "--for", "trumpet")
    assert data["blues_scale"]["name"] == "G minor blues"
    assert data["major_blues_scale"]["name"] == "G major blues"
    assert [data["chords"][n]["symbol"] for n in data["turnaround"].values()] == ["G7", "D7"]
    assert data["signatures"][-1]["last"] == data["regions"][-1]["last"] == len(data["chords"]) - 1


def test_chords_that_may_be_skipped_are_told_with_the_reason(command: Command) -> None:
    """At speed a line may play V7 through its ii as well."""
    _, two, five = data_of(command, "key: C\n| C | Dm7 G7 |", "--for", "alto-sax")["chords"]
    assert (two["may_skip"], five["may_skip"]) == ("play E7 through both", None)
    assert (two["triad"], five["triad"]) == (["B", "D", "F#"], ["E", "G#", "B"])
    assert two["one_note"] in two["guide_tones"]


def test_a_beginner_is_given_the_plainer_scale(command: Command) -> None:
    chart = "key: C\n| C | Bb7 | C | F |"
    scales = [
        data_of(command, chart, "--level", level)["chords"][1]["scale"]["name"]
        for level in ("beginner", "advanced")
    ]
    assert scales == ["Bb Mixolydian", "Bb Lydian dominant"]


def test_a_caret_is_printed_nowhere(command: Command) -> None:
    for chart in (CLASS, FAR, "| C△ | F^7 |"):
        ran = command("changes", chart, "--json")
        assert "^" not in ran.out.replace("F^7", ""), chart


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["| |"], "no chords"),
        (["| N.C. |"], "no chords"),
        ([VAMP, "--level", "expert"], "choose from"),
        ([VAMP, "--for", "kazoo"], "no instrument"),
        ([VAMP, "--out", "map.png"], ".pdf, .svg"),
        ([VAMP, "--out", ""], ".pdf, .svg"),
        ([VAMP, "--out", "nowhere/map.svg"], "cannot write"),
        ([VAMP, "--tune", "2"], "a line of chords"),
        (["missing.txt"], "no such file"),
        ([], "CHART"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_nothing_else(
    command: Command, home: Path, arguments: list[str], words: str
) -> None:
    ran = command("changes", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert len(ran.err.splitlines()) == 1
    assert words in ran.err
    assert list(home.iterdir()) == []


@pytest.mark.slow
def test_a_map_is_written_beside_the_data(command: Command, home: Path) -> None:
    ran = command("changes", VAMP, "--json", "--out", "map.svg")
    assert (ran.status, ran.err) == (0, "written to map.svg\n")
    assert json.loads(ran.out)["format"] == "halfstep-changes"
    assert ElementTree.parse(home / "map.svg").getroot().get("width") == "210mm"
    assert command("changes", VAMP, "--out", "MAP.PDF").out == "written to MAP.PDF\n"
    assert (home / "MAP.PDF").read_bytes().startswith(b"%PDF")


def test_what_was_not_certain_is_said_with_every_form(command: Command) -> None:
    assert any("△ is read as maj7" in line for line in table_of(command, "| C△ | F |"))
    assert "△ is read as maj7" in data_of(command, "| C△ | F |")["notices"][0]
    assert "△ is read as maj7" in command("changes", "| C△ | F |", "--out", "m.svg").err


def test_readings_are_settled_as_for_a_chart(command: Command) -> None:
    chords = data_of(command, "| C2 | B7 |", "--reading", "C2=Csus2, B=Bb")["chords"]
    assert [chord["symbol"] for chord in chords] == ["Csus2", "Bb7"]


@pytest.mark.parametrize(
    "chart",
    [
        "| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7 | Gm7 | C7 | F7 D7 | Gm7 C7 |",
        "| Cm7 | Fm7 | Cm7 | C7 | Fm7 | Fm7 | Cm7 | Cm7 | Ab7 | G7 | Cm7 | G7 |",
        "| Ebm7 | Dm7 | Ebm7 | Dm7 | Cdim7 | C#dim7 | Cdim7 | G7alt |",
    ],
)
def test_why_a_chord_has_its_scale_is_said_once_on_a_page(command: Command, chart: str) -> None:
    reasons = [
        line.strip().partition(" · ")[2] for line in table_of(command, chart) if " · " in line[9:]
    ]
    full = [reason for reason in reasons[1:] if not reason.startswith("as for ")]
    assert len(full) > 2
    assert len(full) == len(set(full)), full
