"""Harte labels against mir_eval, label files, and bar grids of labels."""

from __future__ import annotations

import re
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import mir_eval
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.harmony.tones import chord_tones
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations.harte_labels import parse_harte
from halfstep.progression.notations.harte_reader import read_grid_text, read_lab_text
from halfstep.progression.quality import Family
from halfstep.progression.symbol import parse_symbol

LEFT_OUT = {"11": 4, "maj11": 4, "13": 5, "maj13": 5, "min13": 5}
"""Exceptions: semitones that mir_eval stacks and players leave out of the symbol of that
name: the third under a natural eleventh, the eleventh under a thirteenth (common practice,
no source)."""

SHORTHANDS = sorted(q for q in mir_eval.chord.QUALITIES if q)


def ours(label: str) -> tuple[set[int], int]:
    """Pitch classes with the bass, and the bass."""
    symbol = parse_harte(label)
    bass = (symbol.bass or symbol.root).pitch_class
    return {tone.name.pitch_class for tone in chord_tones(symbol)} | {bass}, bass


def theirs(label: str) -> tuple[set[int], int]:
    """The same from mir_eval, less what `LEFT_OUT` names."""
    root, bitmap, bass = mir_eval.chord.encode(label, reduce_extended_chords=True)
    sounding = {place for place, sounds in enumerate(bitmap) if sounds}
    quality, edits = re.fullmatch(r"[^:(/]+(?::(\w*))?(\(.*?\))?.*", label).groups()  # type: ignore[union-attr]
    if not edits and quality in LEFT_OUT and bass != LEFT_OUT[quality]:
        sounding.discard(LEFT_OUT[quality])
    return {(root + place) % 12 for place in sounding}, (root + bass) % 12


def labels_of(text: str) -> set[str]:
    return {word for word in re.split(r"[\s|]+", text) if re.match(r"[A-G][b#]*:", word)}


def test_every_label_of_the_bar_grids_has_the_notes_mir_eval_gives(reference_data: Path) -> None:
    """Source: mir_eval.chord.encode over the labels of 40 annotated songs (CC0)."""
    files = sorted((reference_data / "mcgill-billboard-cc0").glob("*.txt"))
    labels = set().union(*(labels_of(path.read_text("utf-8")) for path in files))
    assert len(labels) > 200
    assert {label: ours(label) for label in labels} == {label: theirs(label) for label in labels}


def test_every_label_of_the_label_files_has_the_notes_mir_eval_gives(reference_data: Path) -> None:
    """Source: mir_eval.chord.encode over its own reference and estimate files (MIT)."""
    files = sorted((reference_data / "mir_eval-chord").glob("*.lab"))
    lines = [line.split() for path in files for line in path.read_text("utf-8").splitlines()]
    labels = {line[2] for line in lines if line and line[0] != "#"} - {"N", "X"}
    assert len(labels) > 60
    assert {label: ours(label) for label in labels} == {label: theirs(label) for label in labels}


@st.composite
def harte_labels(draw: st.DrawFn) -> str:
    """Any label of the grammar, degrees up to 13."""
    degree = st.builds(str.__add__, st.sampled_from(["", "b", "#"]), st.integers(2, 13).map(str))
    edit = st.builds(str.__add__, st.sampled_from(["", "", "*"]), degree)
    root = draw(st.sampled_from(["C", "Eb", "F#", "Bb", "A"]))
    shorthand = draw(st.sampled_from(SHORTHANDS))
    edits = draw(st.lists(edit, max_size=3, unique=True))
    bass = draw(st.one_of(st.just(""), degree.map("/{}".format)))
    return f"{root}:{shorthand}" + (f"({','.join(edits)})" if edits else "") + bass


@pytest.mark.slow
@given(harte_labels())
def test_any_label_reads_and_its_symbol_reads_back(label: str) -> None:
    symbol = parse_harte(label)
    assert parse_symbol(symbol.ascii) == symbol
    assert parse_symbol(str(symbol)) == symbol


@pytest.mark.sampled
@pytest.mark.parametrize("shorthand", SHORTHANDS)
@pytest.mark.parametrize("degree", [
    "b2", "2", "#2", "b3", "3", "4", "#4", "b5", "5", "#5", "b6", "6", "b7", "7", "b9", "9",
    "#9", "11", "#11", "b13", "13",
])  # fmt: skip
def test_every_shorthand_with_an_added_degree_has_the_notes_mir_eval_gives(
    shorthand: str, degree: str
) -> None:
    """Source: mir_eval.chord.encode; 13 with a degree keeps its eleventh out."""
    label = f"C:{shorthand}({degree})"
    root, bitmap, _ = mir_eval.chord.encode(label, reduce_extended_chords=True)
    expected = {place for place, sounds in enumerate(bitmap) if sounds}
    if shorthand.endswith("13") and degree not in {"4", "11"}:
        expected.discard(5)
    assert root == 0
    assert ours(label)[0] == expected


@pytest.mark.parametrize(
    ("label", "symbol"),
    [
        ("C:maj7", "Cmaj7"), ("Bb:min7/b3", "Bbm7/Db"), ("C:7(#9)", "C7(#9)"),
        ("C:maj(9)", "Cadd9"), ("C:sus4(b7)", "C7sus4"), ("C", "C"), ("G:min(*b3)", "G5"),
        ("C:5(b7)", "C5(7)"), ("C:min7(2,*b3,4)", "C9sus4"), ("D:(1,4)", "Dsus4no5"),
    ],
)  # fmt: skip
def test_labels_read_as_the_symbols_players_write(label: str, symbol: str) -> None:
    assert parse_harte(label) == parse_symbol(symbol)


@pytest.mark.parametrize("label", ["C:hdim7", "C:(b3,b5,b7)"], ids=["case 46", "case 46 degrees"])
def test_the_half_diminished_keeps_its_flat_fifth(label: str) -> None:
    tones = [tone.name.ascii for tone in chord_tones(parse_harte(label))]
    assert tones == ["C", "Eb", "Gb", "Bb"]


def test_no_chord_is_silent_and_an_unlabelled_one_says_so() -> None:
    assert parse_harte("N").silent
    assert parse_harte("X").family is Family.SILENT
    assert "without a label" in parse_harte("X").notices[0]


@pytest.mark.parametrize("label", ["", "H:maj", "C:maj7/", "C:(", "C:foo", "C:maj(14)", "c:maj"])
def test_what_is_no_label_is_refused(label: str) -> None:
    with pytest.raises(ReadError, match="no Harte label"):
        parse_harte(label)


@pytest.mark.slow
def test_all_bar_grids_read_and_play(reference_data: Path) -> None:
    files = sorted((reference_data / "mcgill-billboard-cc0").glob("*.txt"))
    sheets = {path.name: load_sheet_file(path) for path in files}
    assert len(sheets) == 40
    assert all(sheet.key and played(sheet).bars for sheet in sheets.values())
    assert all(any(bar.section for bar in sheet.bars) for sheet in sheets.values())
    # counted with another tool: as many bars as stretches between bar lines
    counted = {
        path.name: sum(max(line.count("|") - 1, 0) for line in path.read_text("utf-8").splitlines())
        for path in files
    }
    written = {name: len(sheet.bars) for name, sheet in sheets.items()}
    assert sum(counted.values()) - sum(written.values()) <= 3  # one line ends without its bar line
    assert all(abs(counted[name] - written[name]) <= 1 for name in counted)


def test_all_label_files_read(reference_data: Path) -> None:
    files = sorted((reference_data / "mir_eval-chord").glob("*.lab"))
    assert len(files) == 20
    for path in files:
        sheet = load_sheet_file(path)
        lines = path.read_text("utf-8").splitlines()
        assert len(sheet.bars) == sum(bool(line) and line[0] != "#" for line in lines)
        assert "one label is read for each bar" in sheet.notices[0]


GRID = """# title: Evening Class
# metre: 4/4
# tonic: D
0.0\tsilence
0.5\tA', verse, | D:min | G:7 . . C:7 | (2/4) F:maj | x3, (voice
9.5\t| A:7 D:min | &pause | * |, voice)
20.0\tend
"""


def test_a_grid_gives_places_metres_sections_and_repeats() -> None:
    sheet = read_grid_text(GRID)
    first, second, third = sheet.bars[:3]
    assert (sheet.title, str(sheet.key)) == ("Evening Class", "D minor")
    assert (first.section, first.marks.forward, third.marks.backward) == ("A' verse", True, 3)
    assert [chord.at for chord in second.chords] == [0, 3]
    assert (str(third.meter), third.beats) == ("2/4", 2)
    assert [chord.at for chord in sheet.bars[3].chords] == [0, 2]
    assert sheet.bars[4].chords == ()
    assert sheet.bars[5].chords[0].symbol.silent
    assert len(played(sheet).bars) == 12


def test_a_fault_in_a_grid_is_placed() -> None:
    with pytest.raises(ReadError) as caught:
        read_grid_text("# metre: 4/4\n0.5\t| C:maj | foo |", source="grid.txt")
    assert (caught.value.source, caught.value.line) == ("grid.txt", 2)


@pytest.mark.parametrize("text", ["0 1", "1 0 C", "a b C", "", "0 1 foo"])
def test_a_damaged_label_file_is_refused(text: str) -> None:
    with pytest.raises(ReadError):
        read_lab_text(text)


def test_a_label_file_has_a_bar_for_each_label() -> None:
    bars = read_lab_text("0 1.5 C:maj\n1.5 3 G:7/3\n").bars
    assert [(str(b.chords[0].symbol), b.chords[0].at) for b in bars] == [
        ("C", Fraction(0)), ("G7/B", Fraction(0)),
    ]  # fmt: skip


@given(st.text(alphabet="ACG:majin7()*,b#/|.x0123456789 \n\t&pause#metre:", max_size=120))
def test_any_text_reads_or_is_refused(text: str) -> None:
    for read in (read_grid_text, read_lab_text):
        with suppress(ReadError):
            assert played(read(text)).bars


def test_another_tonic_is_the_key_from_there_on(reference_data: Path) -> None:
    """The file states A, and B flat before the third chorus: bar 33 counted by hand."""
    sheet = load_sheet_file(reference_data / "mcgill-billboard-cc0" / "0220.txt")
    assert str(sheet.key) == "A major"
    assert [(bar.number, str(bar.key)) for bar in sheet.bars if bar.key] == [("33", "B♭ major")]


def test_each_tonic_has_the_mode_of_the_chords_on_it() -> None:
    text = "# tonic: C\n| C:min | C:maj C:min |\n# tonic: F\n# tonic: G\n| G:maj | C:min |"
    sheet = read_grid_text(text)
    assert [str(sheet.key), *(str(bar.key) for bar in sheet.bars if bar.key)] == [
        "C minor", "G major"
    ]  # fmt: skip
