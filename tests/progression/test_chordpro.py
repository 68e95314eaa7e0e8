"""ChordPro songs: grids, chords in and over words, transposition, and the way back."""

from __future__ import annotations

import re
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Feel, Meter
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import played
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations.chordpro_reader import read_chordpro_text
from halfstep.progression.notations.chordpro_writer import chordpro_losses, write_chordpro
from halfstep.progression.quality import Reading
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import parse_symbol

Places = list[list[tuple[str, Fraction]]]


def grid(*lines: str, head: str = "") -> str:
    return "\n".join([head, "{start_of_grid}", *lines, "{end_of_grid}"])


def places(sheet: LeadSheet) -> Places:
    """Each bar's symbols in ASCII with their beats."""
    return [[(c.symbol.ascii, c.at) for c in bar.chords] for bar in sheet.bars]


def roots(sheet: LeadSheet) -> str:
    return " ".join(c.symbol.ascii for bar in sheet.bars for c in bar.chords)


def test_a_cell_is_a_beat_and_an_unknown_suffix_is_kept_as_its_root() -> None:
    """Case 81."""
    sheet = read_chordpro_text(grid("| D . . . | D' . . . | A . G . |"))
    assert places(sheet) == [[("D", 0)], [("D", 0)], [("A", 0), ("G", 2)]]
    assert any("D' has a suffix that is not known; read as D" in n for n in sheet.notices)
    assert sheet.bars[1].chords[0].symbol.typed == "D'"


def test_the_head_of_a_song_is_read() -> None:
    head = "{t: Evening Class}\n{key: Bbm}\n{time: 6/8}\n{meta: tempo 96}\n{define: C frets 1}"
    sheet = read_chordpro_text(grid("| Bbm . | Gb . . . . F7 |", head=head))
    assert (sheet.title, sheet.key, sheet.tempo_bpm) == ("Evening Class", parse_key("Bbm"), 96)
    assert places(sheet) == [[("Bbm", 0)], [("Gb", 0), ("F7", Fraction(5, 2))]]


def test_margins_repeats_endings_and_repeat_signs_in_a_grid() -> None:
    sheet = read_chordpro_text(
        grid("Intro A |: C . F . | % . |1 G7 . . . :|2 C . . . || twice", "B | %% . | . . | Am |")
    )
    assert roots(sheet) == "C F C F G7 C G7 C Am"
    assert [bar.marks.ending for bar in sheet.bars[:4]] == [(), (), (1,), (2,)]
    assert sheet.bars[3].marks.ending_stops
    chart = played(sheet)
    assert [bar.written for bar in chart.bars] == [1, 2, 3, 1, 2, 4, 5, 6, 7]


def test_a_line_or_the_repeat_that_ends_it_is_played_so_often() -> None:
    sheet = read_chordpro_text(grid("| C . . . |: F . . . :| x3", "| G . . . | C . . . | 2x"))
    assert [bar.marks.backward for bar in sheet.bars] == [0, 3, 0, 2]
    assert [bar.marks.forward for bar in sheet.bars] == [False, True, True, False]
    assert read_chordpro_text(write_chordpro(sheet)).bars == sheet.bars


def test_rows_of_strums_are_left_out() -> None:
    sheet = read_chordpro_text(grid("| C . G . |", "|S dn up dn up |", "| F . . . |"))
    assert places(sheet) == [[("C", 0), ("G", 2)], [("F", 0)]]


def test_three_cells_without_a_stated_time_are_three_four() -> None:
    sheet = read_chordpro_text(grid("| C . . | G . C |"))
    assert {bar.meter for bar in sheet.bars} == {Meter(3, 4)}
    assert any("3/4" in notice for notice in sheet.notices)


def test_chords_in_one_cell_share_it() -> None:
    assert places(read_chordpro_text(grid("| C~G . Am . |"))) == [
        [("C", 0), ("G", Fraction(1, 2)), ("Am", 2)]
    ]


def test_chords_in_words_are_a_bar_each_and_say_so() -> None:
    sheet = read_chordpro_text(
        "{soc}\nOne [D]room [G]upstairs\n[*Coda] [Fine] [C’?]end\n{eoc}\n[Verse 2]\n[Em]x\n{chorus}"
    )
    assert roots(sheet) == "D G C Em D G C"
    assert [bar.section for bar in sheet.bars] == ["Chorus", "", "", "Verse 2", "Chorus", "", ""]
    assert "one chord is read for each bar" in sheet.notices[0]


def test_blocks_of_other_languages_are_skipped() -> None:
    text = "{start_of_abc}\n[C]abc\n{end_of_abc}\n{sot}\n|-[D]-3|\n{eot}\n# [E]\n{c: [F]}\n[G]la"
    assert roots(read_chordpro_text(text)) == "G"


def test_transpositions_add_up_and_are_taken_back() -> None:
    text = "{key: D}\n[D]a\n{transpose: 2}\n[D]b\n{transpose: +1}\n[D/F#]c\n{transpose}\n[D]d"
    text += "\n{transpose}\n[D]e\n{transpose}\n[D]f"
    sheet = read_chordpro_text(text)
    assert roots(sheet) == "D E F/A E D D"
    assert str(sheet.key) == "D major"


def test_a_key_under_a_transposition_moves_with_the_chords() -> None:
    sheet = read_chordpro_text("{transpose: 1}\n{key: Db}\n[Db]a [Gb]b [Ab7]c")
    assert (str(sheet.key), roots(sheet)) == ("D major", "D G A7")


def keys_of(sheet: LeadSheet) -> list[str]:
    """The key of the sheet, and then what the bars say."""
    return [str(sheet.key), *(str(bar.key) if bar.key else "" for bar in sheet.bars)]


def test_the_key_changes_where_it_is_stated_again_or_the_chords_are_transposed() -> None:
    text = "{key: C}\n[C]a\n{key: F}\n[F]b [C]c\n{transpose: 2}\n[F]d"
    sheet = read_chordpro_text(text)
    assert keys_of(sheet) == ["C major", "", "F major", "", "G major"]
    assert keys_of(read_chordpro_text(write_chordpro(sheet))) == keys_of(sheet)


def test_a_key_of_seven_sharps_stays_with_its_chords() -> None:
    sheet = read_chordpro_text("{key: C#}\n[C#]a [F#]b")
    assert (str(sheet.key), roots(sheet)) == ("C♯ major", "C# F#")


def test_real_transpositions_move_the_key(reference_data: Path) -> None:
    sheet = load_sheet_file(reference_data / "chordpro" / "transpose-stack.cho")
    assert [key for key in keys_of(sheet) if key] == [
        "D major", "E major", "F♯ major", "E major", "D major"
    ]  # fmt: skip


def test_a_comment_may_name_a_section_and_is_kept_otherwise() -> None:
    sheet = read_chordpro_text("{c: Verse 2}\n[C]a\n{comment: softly}\n[G]b\n{chorus: Last}")
    assert [bar.section for bar in sheet.bars] == ["Verse 2", ""]
    assert "comment before bar 2: 'softly'" in sheet.notices


def test_a_chorus_played_again_may_have_a_name() -> None:
    sheet = read_chordpro_text("{soc}\n[C]a\n{eoc}\n{chorus: Last time}")
    assert [bar.section for bar in sheet.bars] == ["Chorus", "Last time"]


TUNE = '{start_of_abc}\nX:1\nM:3/4\nL:1/4\nK:G\n"G"g3|"D7"a3|\n{end_of_abc}\n'


def test_a_tune_in_abc_notation_has_the_bars_of_the_song() -> None:
    sheet = read_chordpro_text("{t: Air}\n{transpose: 2}\n" + TUNE + "[G]la")
    assert places(sheet) == [[("A", 0)], [("E7", 0)]]
    assert (sheet.title, keys_of(sheet)) == ("Air", ["A major", "", ""])
    assert [note.pitch.ascii for bar in sheet.bars for note in bar.notes] == ["A5", "B5"]
    assert any("tune in ABC notation has the bars" in said for said in sheet.notices)


def test_a_tune_in_abc_notation_without_chords_leaves_the_words() -> None:
    sheet = read_chordpro_text(TUNE.replace('"', "!") + "[G]la")
    assert places(sheet) == [[("G", 0)]]


def test_a_real_song_with_a_tune_has_its_bars_and_pickup(reference_data: Path) -> None:
    """Three beats to a bar, 16 and 8 of them, counted in the file."""
    sheet = load_sheet_file(reference_data / "chordpro" / "molly-malone.cho")
    chart = played(sheet)
    assert (str(chart.meter), chart.pickup_beats, len(chart.form)) == ("3/4", 1, 24)
    assert str(sheet.key) == "G major"


GERMAN = Reading(h="german", small_is_minor=True)


@pytest.mark.parametrize(
    "text",
    ["[H7]a [B]b [e]c [d/H]d", grid("| H7 | B | e | d/H |"), "H7 B\nla\ne d/H\nla"],
)
def test_german_songs_are_read(text: str) -> None:
    """Cases 26 and 27."""
    sheet = read_chordpro_text("{key: Hm}\n" + text, reading=GERMAN)
    assert (str(sheet.key), roots(sheet)) == ("B minor", "B7 Bb Em Dm/B")


def test_h_beside_b_flat_is_settled_by_the_song_itself() -> None:
    """Case 26; what is only in the words does not count."""
    for text in ("[H7]a [Bb]b", grid("| H7 | Bb |"), "H7 Bb\nHm, he said\n"):
        sheet = read_chordpro_text(text)
        assert roots(sheet) == "B7 Bb"
        assert any("H stands beside B flat" in said for said in sheet.notices)
    assert not any("H " in said for said in read_chordpro_text("H he said\n[C]x").notices)


def test_lines_of_chords_over_words_are_found() -> None:
    text = "Verse 1:\n  Am   D7(II)  G\nA word or two of text\n(C)  G/B\nAm I to go\n| C | F G |\n"
    sheet = read_chordpro_text(text)
    assert places(sheet)[:5] == [[(name, 0)] for name in ("Am", "D7", "G", "C", "G/B")]
    assert places(sheet)[5:] == [[("C", 0)], [("F", 0), ("G", 2)]]
    assert sheet.bars[0].section == "Verse 1"


def test_what_cannot_be_read_of_the_head_is_left_out_with_a_notice() -> None:
    sheet = read_chordpro_text("{key: H}\n{time: fast}\n{tempo: 9}\n{capo: 3}\n[C]la")
    said = " ".join(sheet.notices)
    assert sheet.key is None
    assert all(word in said for word in ("key is left out", "time is", "tempo is", "capo 3"))


def test_the_first_song_with_chords_is_read() -> None:
    sheet = read_chordpro_text("{t: One}\nwords\n{ns}\n{t: Two}\n[C]la\n{ns}\n[D]la")
    assert (sheet.title, roots(sheet)) == ("Two", "C")
    assert "3 songs" in sheet.notices[-1]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no chords"),
        ("{title: x}\nonly words", "no chords"),
        (grid("| % |"), "no bar before"),
        (grid("|" + " C" * 40 + " |"), "cells in a bar"),
        ("[C]" * 2001, "more than 2000 bars"),
        ("x" * 1_000_001, "longer than 1 MB"),
    ],
)  # fmt: skip
def test_what_is_no_song_is_refused(text: str, said: str) -> None:
    with pytest.raises(ReadError, match=said):
        read_chordpro_text(text, source="song.cho")


def test_a_fault_is_placed() -> None:
    with pytest.raises(ReadError) as caught:
        read_chordpro_text(grid("| % |", head="{t: x}"), source="song.cho")
    assert (caught.value.source, caught.value.line) == ("song.cho", 3)


READS = {
    "chords-over-words-noise.crd": 6, "molly-malone.cho": 25, "nashville-roman.cho": 2,
    "odd-suffixes-and-grid.cho": 8, "swing-low.cho": 27, "transpose-stack.cho": 33,
}  # fmt: skip
"""Bars in each file of the collection, counted by hand; source: the ChordPro project."""


def test_every_file_of_the_collection_reads_or_has_no_chords(reference_data: Path) -> None:
    for path in sorted((reference_data / "chordpro").iterdir()):
        if path.name in READS:
            assert len(played(load_sheet_file(path)).bars) == READS[path.name], path.name
        else:
            with pytest.raises(ReadError, match="no chords"):  # a list of fingerings
                load_sheet_file(path)


def test_a_real_stack_of_transpositions_comes_back_to_its_key(reference_data: Path) -> None:
    sheet = load_sheet_file(reference_data / "chordpro" / "transpose-stack.cho")
    starts = [bar.chords[0].symbol.ascii for bar in sheet.bars if bar.section == "Chorus"]
    assert starts == ["D", "D", "E", "F#", "E", "D"]


PLUS_AND_MINUS = {
    "A7+9": "A7#9", "A-9": "Am9", "Am+7": "Am(maj7)", "A6/7/9": "A13", "A7/9+5": "A9#5",
    "Bm7-5": "Bm7b5", "A7+5": "A7#5", "F7-9": "F7b9", "E+": "Eaug", "CM7/9": "Cmaj9",
}  # fmt: skip


def test_old_plus_and_minus_spellings_of_a_real_list_are_read(reference_data: Path) -> None:
    """Cases 14 and 18 to 21, as chords in words; the meanings are common practice, no source."""
    text = (reference_data / "chordpro" / "old-style-chord-names.crd").read_text("utf-8")
    listed = set(re.findall(r"^(\S+)=", text, re.M))
    for old, plain in PLUS_AND_MINUS.items():
        assert old in listed
        assert roots(read_chordpro_text(f"[{old}]la")) == parse_symbol(plain).ascii


METERS = [Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4), Meter(2, 2), Meter(12, 8)]
SYMBOLS = [parse_symbol(text) for text in ("Dm7", "G7(b9)", "Cmaj7/E", "N.C.", "F#m7b5", "Bb+")]


@st.composite
def sheets(draw: st.DrawFn) -> LeadSheet:
    """Sheets that the format can hold: chords on pulses or their halves or thirds."""
    bars = []
    for number in range(1, draw(st.integers(1, 9)) + 1):
        meter = draw(st.sampled_from(METERS)) if number % 4 == 1 else bars[-1].meter
        step = meter.pulse_beats / (3 if meter.compound else 2)
        steps = st.integers(0, int(meter.bar_beats / step) - 1)
        starts = sorted(draw(st.sets(steps, max_size=3)) | ({0} if number == 1 else set()))
        chords = tuple(ChordAt(draw(st.sampled_from(SYMBOLS)), n * step) for n in starts)
        marks = Marks(forward=draw(st.booleans()), backward=draw(st.sampled_from([0, 0, 2])))
        section = draw(st.sampled_from(["", "", "A", "Last time"]))
        bar = WrittenBar(str(number), meter, meter.bar_beats, chords, marks, section=section)
        bars.append(bar)
    key = draw(st.sampled_from([None, parse_key("Eb"), parse_key("F#m")]))
    return LeadSheet("Evening Class", tuple(bars), key, draw(st.sampled_from([None, 120.0])))


@pytest.mark.slow
@given(sheets())
def test_what_is_written_reads_back_to_the_same_sheet(sheet: LeadSheet) -> None:
    again = read_chordpro_text(write_chordpro(sheet))
    assert chordpro_losses(sheet) == ()
    assert again.bars == sheet.bars
    assert (again.title, again.key, again.tempo_bpm) == (sheet.title, sheet.key, sheet.tempo_bpm)


@pytest.mark.slow
def test_real_bar_grids_keep_chords_metres_and_sections(reference_data: Path) -> None:
    """Source: 40 annotated songs (CC0); none of their chords stands off the cells."""
    files = sorted((reference_data / "mcgill-billboard-cc0").glob("*.txt"))
    for sheet in map(load_sheet_file, files):
        again = read_chordpro_text(write_chordpro(sheet))
        assert chordpro_losses(sheet) == ()
        assert again.bars == sheet.bars
        assert again.key == sheet.key
    assert len(files) == 40


def test_endings_are_written_and_read_back() -> None:
    sheet = read_chordpro_text(grid("|: C . . . |1 G7 . . . :|2 C . . . || F . . . ||"))
    again = read_chordpro_text(write_chordpro(sheet))
    assert [bar.marks for bar in again.bars] == [bar.marks for bar in sheet.bars]


def test_what_cannot_be_written_is_named() -> None:
    whole = Fraction(4)
    note = SheetNote(Fraction(0), whole, parse_pitch("C4"))
    chords = (ChordAt(parse_symbol("C"), Fraction(1, 3)),)
    bars = (
        WrittenBar("0", Meter(), Fraction(1)),
        WrittenBar("1", Meter(), whole, chords, Marks(ending=(1, 2)), notes=(note,)),
        WrittenBar("2", Meter(7, 4, (2, 2, 3)), Fraction(7), (), Marks(da_capo=True)),
    )
    losses = " ".join(chordpro_losses(LeadSheet("x", bars, feel=Feel.SWING)))
    for word in ("melody", "pickup", "feel", "jumps", "endings", "grouped", "places of chords"):
        assert word in losses
    assert len(read_chordpro_text(write_chordpro(LeadSheet("x", bars))).bars) == 2


@given(st.text(alphabet="ACG#bm7|:.%12 []{}\n~*'sogetrnpd+-/", max_size=150))
def test_any_text_reads_or_is_refused(text: str) -> None:
    for each in (text, "{sog}\n" + text, "[C]x\n" + text):
        with suppress(ReadError):
            assert played(read_chordpro_text(each)).bars
