"""ABC notation: cases 22, 52 to 54, 74 and 76 to 78, real files, damaged files.

Values are those of the ABC music standard 2.1, from memory, unless a test says otherwise.
"""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Feel, Meter
from halfstep.pitch import Interval, parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import played
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations.abc_reader import read_abc_text
from halfstep.progression.notations.abc_writer import abc_losses, write_abc
from halfstep.progression.quality import DEFAULT, Reading
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import parse_symbol
from strategies import keys, meters, symbol_texts

C_AT_ONE = ChordAt(parse_symbol("C"), Fraction(0))


def tune(
    body: str, *, key: str = "C", meter: str = "4/4", unit: str = "1/4", more: str = ""
) -> str:
    """A tune with a header."""
    return f"X:1\nT:Evening Class\n{more}M:{meter}\nL:{unit}\nK:{key}\n{body}\n"


def read(body: str, **header: str) -> LeadSheet:
    return read_abc_text(tune(body, **header))


def chords(sheet: LeadSheet) -> list[list[tuple[str, float]]]:
    return [[(c.symbol.ascii, float(c.at)) for c in bar.chords] for bar in sheet.bars]


def melody(sheet: LeadSheet) -> list[str]:
    return [note.pitch.ascii for bar in sheet.bars for note in bar.notes]


def lengths(sheet: LeadSheet) -> list[Fraction]:
    return [note.beats for bar in sheet.bars for note in bar.notes]


def order(sheet: LeadSheet) -> list[int]:
    return [bar.written for bar in played(sheet).bars]


# The cases


def test_a_digit_after_the_slash_is_a_degree() -> None:
    """Case 22."""
    assert chords(read('"E7/b9"c4|"G/b"c4|'))[0] == [("E7b9", 0)]
    assert chords(read('"E7/b9"c4|"G/b"c4|'))[1] == [("G/B", 0)]


def test_a_natural_holds_to_the_end_of_the_bar() -> None:
    """Case 52: both are B natural, and B flat again after the bar line."""
    assert melody(read('"G"=B B z2|B4|', key="Cm")) == ["B4", "B4", "Bb4"]


def test_accidentals_of_the_key_field_change_its_signature() -> None:
    """Case 53: D Phrygian has two flats; F is sharp besides."""
    sheet = read('"D"D E F B|', key="Dphr ^f")
    assert melody(sheet) == ["D4", "Eb4", "F#4", "Bb4"]
    assert sheet.key == parse_key("D phrygian")


@pytest.mark.parametrize("field", ["Bb clef=treble", " Bb clef=bass transpose=-2", "Bb maj"])
def test_properties_of_the_clef_are_no_part_of_the_key(field: str) -> None:
    """Case 54."""
    assert read('"Bb"B4|', key=field).key == parse_key("Bb")


@pytest.mark.parametrize(
    "words", ["^slowly", "Fine", "D.C.", "Coda", "Ad lib", "Continue", "<C", ">G7", "_F", "@A"]
)
def test_text_is_no_chord(words: str) -> None:
    """Case 74."""
    assert chords(read(f'"C"c2 "{words}"d2|')) == [[("C", 0)]]


def test_text_is_kept_as_a_notice() -> None:
    assert any("Ad lib" in said for said in read('"C"c2 "Ad lib"d2|').notices)


def test_a_small_letter_alone_is_a_bass_under_the_chord_before() -> None:
    """Case 76."""
    sheet = read('"C#m/G#" E4 | "D"c2 "f#"c2|')
    assert chords(sheet) == [[("C#m/G#", 0)], [("D", 0), ("D/F#", 2)]]


def test_a_small_letter_without_a_chord_before_is_text() -> None:
    assert chords(read('"f#"c2 "D"c2|')) == [[("D", 2)]]


def test_plus_is_sharp_in_one_dialect_and_is_found_out() -> None:
    """Case 77."""
    sheet = read('"D/f+"c4|"A7/c+"c4|"Ca"c4|"Cd"c4|')
    assert chords(sheet) == [[("D/F#", 0)], [("A7/C#", 0)], [("C+", 0)], [("Cdim", 0)]]


def test_the_dialect_can_be_turned_off_and_on() -> None:
    off = read_abc_text(tune('"D/f+"c4|"G"c4|'), plus_is_sharp=False)
    assert chords(off) == [[], [("G", 0)]]
    assert chords(read_abc_text(tune('"Ca"c4|'), plus_is_sharp=True)) == [[("C+", 0)]]
    with pytest.raises(ReadError):
        read_abc_text(tune('"Ca"c4|'))


def test_every_bar_has_its_own_length_and_the_parts_their_order(reference_data: Path) -> None:
    """Case 78: A A B A B, with 6/4, 4/4 and 5/4 as the page has them."""
    chart = played(load_sheet_file(reference_data / "abc" / "lark-in-the-clear-air.abc"))
    part_a, part_b = [6, 6, 4, 6, 6, 6, 5, 5], [4, 4, 4, 4, 6, 6, 5, 5]
    assert [bar.beats for bar in chart.form] == part_a * 2 + part_b + part_a + part_b
    assert chart.pickup_beats == 2


def roots(body: str, reading: Reading = DEFAULT) -> str:
    sheet = read_abc_text(tune(body), reading=reading)
    return " ".join(c.symbol.ascii for bar in sheet.bars for c in bar.chords)


def test_a_book_may_write_h_for_b_and_minor_chords_in_small_letters() -> None:
    """Cases 26 and 27."""
    body = '"H7"c2 "Hm/D"c2|"D/H"c2 "e7"c2|"e/H"c2 "d"c2|'
    assert roots(body, Reading(h="german", small_is_minor=True)) == "B7 Bm/D D/B Em7 Em/B Dm"
    assert roots('"C"c2 "H7"c2|"B"c4|', Reading(h="german")) == "C B7 Bb"


def test_h_beside_b_flat_is_settled_by_the_tune_itself() -> None:
    """Case 26; text such as *Hold* is no H."""
    sheet = read('"H7"c2 "Bb"c2|"B"c4|"^Hold"d4|')
    assert roots('"H7"c2 "Bb"c2|"B"c4|') == "B7 Bb B"
    assert any("H stands beside B flat" in said for said in sheet.notices)
    assert not any("H is" in said for said in read('"C"c2 "Hold"c2|').notices)


# Keys


def keys_of(sheet: LeadSheet) -> list[str]:
    """The key of the sheet, and then what the bars say."""
    return [str(sheet.key), *(str(bar.key) if bar.key else "" for bar in sheet.bars)]


def test_a_key_inside_the_tune_begins_with_its_bar() -> None:
    sheet = read('"C"f4|[K:G]"G"f4|f4|\nK:Bb\n"Bb"b4|\nK:G\n')
    assert keys_of(sheet) == ["C major", "", "G major", "", "B♭ major"]
    assert melody(sheet) == ["F5", "F#5", "F#5", "Bb5"]


def test_a_key_inside_a_bar_is_that_of_the_next() -> None:
    sheet = read('"C"f2 [K:G]f2|"G"f4|')
    assert keys_of(sheet) == ["C major", "", "G major"]
    assert melody(sheet) == ["F5", "F#5", "F#5"]


def test_the_last_key_before_the_music_is_the_key() -> None:
    sheet = read('K:F\n"F"b4|', key="D")
    assert (keys_of(sheet), melody(sheet)) == (["F major", ""], ["Bb5"])
    assert sheet.notices == ()


def test_a_part_played_again_has_its_key_again() -> None:
    body = 'P:A\n"C"f4|\nP:B\n[K:G]"G"f4|'
    assert keys_of(read(body, more="P:ABA\n")) == ["C major", "", "G major", "C major"]


def test_a_key_inside_the_tune_that_is_none_says_so() -> None:
    sheet = read('"G"f4|[K:none]f4|', key="G")
    assert (keys_of(sheet), melody(sheet)) == (["G major", "", ""], ["F#5", "F5"])
    assert any("read for its notes only" in said for said in sheet.notices)


def test_keys_move_with_the_sheet_and_come_back() -> None:
    sheet = read('"C"f4|[K:Bb]"Bb"b4|')
    moved = sheet.moved(Interval(1, 2))
    assert keys_of(moved) == ["D major", "", "C major"]
    assert moved.moved(Interval(-1, -2)) == sheet
    assert keys_of(read_abc_text(write_abc(moved))) == keys_of(moved)


def test_a_key_that_needs_more_than_seven_signs_is_written_as_its_neighbour() -> None:
    moved = read('"C"f4|[K:B]"B"f4|').moved(Interval(2, 4))
    assert keys_of(moved) == ["E major", "", "D♯ major"]
    assert "\nK:Eb\n" in write_abc(moved)


def test_real_keys_inside_tunes(reference_data: Path) -> None:
    """From the K: fields of the files, by eye; the last one states D and then F."""
    ninepins = load_sheet_file(reference_data / "abc" / "ninepins-key-changes.abc")
    assert [key for key in keys_of(ninepins) if key] == ["D major", "A major", "D major"]
    happy = load_sheet_file(reference_data / "abc" / "e7-slash-b9.abc")
    assert [(bar.number, str(bar.key)) for bar in happy.bars if bar.key] == [("33", "G major")]
    holly = load_sheet_file(reference_data / "abc" / "xmas-collection.abc", tune=6)
    assert set(keys_of(holly)) == {"F major", ""}


def test_a_playback_transposition_is_said_to_be_left_out() -> None:
    sheet = read('"Bb"B4|', key="Bb clef=bass transpose=-2")
    assert any("transpose= is left out" in said for said in sheet.notices)


# Notes and lengths


@pytest.mark.parametrize(
    ("text", "beats"),
    [
        ("c2 c/2 c/ c3/2 c//", ["2", "1/2", "1/2", "3/2", "1/4"]),
        ("c>d e<f", ["3/2", "1/2", "1/2", "3/2"]),
        ("c>>d", ["7/4", "1/4"]),
        ("(3cde f", ["2/3", "2/3", "2/3", "1"]),
        ("(3:2:2c2d e", ["4/3", "2/3", "1"]),
        ("(5:4:5ccccc", ["4/5"] * 5),
        ("(11:8:2cc", ["8/11"] * 2),
        ("(3::2cc d", ["2/3", "2/3", "1"]),
        ("[ceg]2 [c2e2]", ["2", "2"]),
        ("{gab}c (d e) ~f", ["1"] * 4),
    ],
)
def test_lengths(text: str, beats: list[str]) -> None:
    assert lengths(read(f'"C"{text}|')) == [Fraction(beat) for beat in beats]


def test_octaves() -> None:
    assert melody(read('"C"C c c\' C,|')) == ["C4", "C5", "C6", "C3"]
    assert melody(read("\"C\"C,,,, c'''|")) == ["C0", "C8"]


def test_of_a_stack_the_top_note_is_the_melody() -> None:
    assert melody(read('"C"[ceg] [gec] [C,^f]2|')) == ["G5", "G5", "F#5"]


def test_a_tie_carries_the_accidental_over_the_bar_line() -> None:
    sheet = read('"D7"^f4-|f2 f2|')
    assert melody(sheet) == ["F#5", "F#5", "F5"]
    assert [note.tied for bar in sheet.bars for note in bar.notes] == [True, False, False]


def test_a_tie_to_another_pitch_is_none() -> None:
    assert not any(n.tied for bar in read('"C"c2-d2|').bars for n in bar.notes)


def test_the_unit_follows_the_metre_where_it_is_not_stated() -> None:
    """Sixteenths below 3/4, eighths from there on."""
    assert lengths(read_abc_text('X:1\nM:2/4\nK:C\n"C"c')) == [Fraction(1, 4)]
    assert lengths(read_abc_text('X:1\nM:3/4\nK:C\n"C"c')) == [Fraction(1, 2)]


def test_comments_lyrics_directives_and_other_voices_are_left_out() -> None:
    body = '%%score 1 2\nV:1\n"C"c4|% a "G" comment\nw: some "F" words\nV:2\n"F"f4|\nV:1\n"G"g4|'
    assert chords(read(body)) == [[("C", 0)], [("G", 0)]]


def test_a_line_may_go_on_in_the_next() -> None:
    sheet = read('"C"c2 \\\nM:3/4\n"G"g2|\\\n"F"f3|')
    assert chords(sheet) == [[("C", 0), ("G", 2)], [("F", 0)]]
    assert [bar.meter for bar in sheet.bars] == [Meter(4, 4), Meter(3, 4)]


def test_metre_key_and_part_may_change_inside_a_line() -> None:
    sheet = read('"C"f4|[P:B][M:3/4][K:G]"G"f3|')
    assert melody(sheet) == ["F5", "F#5"]
    assert [(bar.section, bar.meter.count) for bar in sheet.bars] == [("", 4), ("B", 3)]


@pytest.mark.parametrize(
    ("field", "key", "pitch"),
    [
        ("Ddor", "D dorian", "F5"), ("D Mixolydian", "D mixolydian", "F#5"), ("Am", "Am", "F5"),
        ("F#m", "F#m", "F#5"), ("Flyd", "F lydian", "F5"), ("D exp _e", "D", "F5"),
        ("GM", "G", "F#5"), ("E minor", "Em", "F#5"), ("A aeolian", "Am", "F5"),
    ],
)  # fmt: skip
def test_modes(field: str, key: str, pitch: str) -> None:
    sheet = read('"C"f4|', key=field)
    assert (sheet.key, melody(sheet)) == (parse_key(key), [pitch])


@pytest.mark.parametrize("field", ["none", ""])
def test_a_tune_may_state_no_key(field: str) -> None:
    assert read('"C"f4|', key=field).key is None


@pytest.mark.parametrize(
    ("field", "meter", "bpm"),
    [
        ("1/4=90", "4/4", 90), ("3/8=80", "6/8", 80), ('"Slow" 1/2=60', "4/4", 120),
        ("240", "4/4", 240), ("1/4=9000", "4/4", None), ("soon", "4/4", None),
    ],
)  # fmt: skip
def test_tempo_in_pulses(field: str, meter: str, bpm: float | None) -> None:
    assert read('"C"f4|', meter=meter, more=f"Q:{field}\n").tempo_bpm == bpm


# Bars and their order


def test_chords_in_a_bar_without_notes_share_it() -> None:
    assert chords(read('"C" "G"|"F"|')) == [[("C", 0), ("G", 2)], [("F", 0)]]


def test_two_chords_before_one_note_share_it_with_a_notice() -> None:
    """As in MusicXML; common practice, no source."""
    sheet = read('"D""Bm"f2 z2|')
    assert chords(sheet) == [[("D", 0), ("Bm", 1)]]
    assert any("share" in said for said in sheet.notices)


@pytest.mark.parametrize(
    ("body", "bars"),
    [
        ('|:"C"c4|d4:|e4|', [1, 2, 1, 2, 3]),
        ('"C"c4|d4::e4:|', [1, 2, 1, 2, 3, 3]),
        ('|:"C"c4|1d4:|2e4|]', [1, 2, 1, 3]),
        ('|:"C"c4|[1,2d4:|[3e4||f4|', [1, 2, 1, 2, 1, 3, 4]),
        ('|::"C"c4::|d4|', [1, 1, 1, 2]),
        ('"C"c4|"Fine"d4|"D.C. al Fine"e4|', [1, 2, 3, 1, 2]),
        ('"C"c4|!segno!d4|!dacoda!e4|!D.S.!f4|!coda!g4|', [1, 2, 3, 4, 2, 3, 5]),
        ('"C"Z3|d4|', [1, 2, 3, 4]),
    ],
)
def test_order_of_playing(body: str, bars: list[int]) -> None:
    assert order(read(body)) == bars


def test_an_upbeat_inside_the_tune_completes_the_bar_before_it() -> None:
    sheet = read('G|"C"c4|"G"g3:|e|"C"c4|"G"g3:|')
    chart = played(sheet)
    assert chart.pickup_beats == 1
    assert [bar.beats for bar in chart.form] == [4] * 8


def test_the_bar_before_a_repeat_with_an_upbeat_has_the_chords_of_it() -> None:
    """The first ending holds half a bar, and the upbeat is the other half."""
    chart = played(read('"C"c2|"G7"e2|:"C"c4|[1"F"c2:|[2"C"c4|]'))
    assert [[(c.symbol.ascii, c.at) for c in bar.chords] for bar in chart.bars] == [
        [("C", 0), ("G7", 2)], [("C", 0)], [("F", 0), ("G7", 2)], [("C", 0)], [("C", 0)]
    ]  # fmt: skip


def test_a_play_order_may_nest() -> None:
    body = 'P:A\n"C"c4|\nP:B\n"G"g4|\nP:C\n"F"f4|'
    sheet = read(body, more="P:A(BC)2A\n")
    assert [bar.section for bar in sheet.bars] == ["A", "B", "C", "B", "C", "A"]


def test_an_order_that_doubles_a_part_counts_its_repeat() -> None:
    body = 'P:A\n|:"C"c4:|\nP:B\n|:"G"g4:|'
    assert [b.section for b in read(body, more="P:AAB\n").bars] == ["A", "B"]
    assert order(read(body, more="P:AAB\n")) == [1, 1, 2]
    assert order(read(body, more="P:AB\n")) == [1, 1, 2, 2]


def test_of_several_tunes_the_first_with_chords_is_read_or_the_one_asked_for() -> None:
    text = (
        "X:1\nK:C\ncdef|\n\n" + tune('"G"g4|').replace("X:1", "X:7") + "\nX:8\nK:C\n" + '"F"f8|\n'
    )
    sheet = read_abc_text(text)
    assert chords(sheet) == [[("G", 0)]]
    assert "3 tunes" in sheet.notices[0]
    assert chords(read_abc_text(text, tune=8)) == [[("F", 0)]]
    with pytest.raises(ReadError, match="no tune 9"):
        read_abc_text(text, tune=9)


# Errors


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        (tune('"C"c2 "G'), 6, 7),
        (tune('"C"c2 {g'), 6, 7),
        (tune('"C"c4', meter="6/7"), 3, 3),
        (tune('"C"c/999'), 6, 4),
        (tune('"C"c4[L:x]'), 6, 9),
    ],
)
def test_errors_name_their_place(text: str, line: int, column: int) -> None:
    with pytest.raises(ReadError) as error:
        read_abc_text(text, source="x.abc")
    assert (error.value.source, error.value.line, error.value.column) == ("x.abc", line, column)


@pytest.mark.sampled
@pytest.mark.parametrize(
    "text",
    [
        "", "Dm7 | G7", tune("cdef|"), tune('"C"c4|' * 2001), tune('"C"' * 17 + "c"),
        tune('"C"c' * 501),
        tune('P:A\n"C"c4|', more="P:(((A999)99)99)\n"), tune(('"C"' + "c" * 499 + "|") * 41),
        "X:1\nK:C\n" + "c" * 1_000_001,
    ],
)  # fmt: skip
def test_what_is_no_tune_with_chords_or_too_much_is_refused(text: str) -> None:
    with pytest.raises(ReadError):
        read_abc_text(text)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    big = tmp_path / "big.abc"
    big.write_bytes(b"%" * 1_000_001)
    for path in (tmp_path, tmp_path / "none.abc", big):
        with pytest.raises(ReadError):
            load_sheet_file(path)


def test_a_file_in_latin_1_is_read_with_a_notice(tmp_path: Path) -> None:
    path = tmp_path / "old.abc"
    path.write_bytes(tune('"C"c4|').replace("Evening", "Fr\xfche").encode("latin-1"))
    assert load_sheet_file(path).title == "Fr\xfche Class"
    assert "Latin-1" in load_sheet_file(path).notices[0]


# Real files and the way back


def real_tunes(folder: Path) -> list[tuple[str, LeadSheet]]:
    """All tunes of the reference files."""
    found = []
    for path in sorted((folder / "abc").glob("*.abc")):
        text = path.read_text("utf-8")
        numbers = [int(line[2:]) for line in text.splitlines() if line.startswith("X:")]
        found += [(path.name, read_abc_text(text, tune=number)) for number in numbers]
    return found


@pytest.mark.slow
def test_every_reference_tune_is_read(reference_data: Path) -> None:
    tunes = real_tunes(reference_data)
    assert len(tunes) == 25
    assert all(sheet.key and sheet.has_melody and played(sheet).form for _, sheet in tunes)


@pytest.mark.parametrize(
    ("name", "bars"),
    [("beaux-of-oakhill", 32), ("king-of-the-fairies", 32), ("ninepins-key-changes", 32)],
)
def test_reference_tunes_have_the_form_they_have(
    reference_data: Path, name: str, bars: int
) -> None:
    """Two eights twice, or as the order says; counted by hand."""
    assert len(played(load_sheet_file(reference_data / "abc" / f"{name}.abc")).form) == bars


@pytest.mark.slow
def test_reference_tunes_are_what_music21_reads(reference_data: Path) -> None:
    """The pitches of the melody as music21 reads them.

    Tunes whose accidentals hold to a bar's end are left out: it forgets some (case 52).
    """
    converter = pytest.importorskip("music21.converter")
    for name in ("blaydon-races", "hundred-pipers", "beaux-of-oakhill", "off-she-goes"):
        path = reference_data / "abc" / f"{name}.abc"
        score = converter.parse(path, format="abc")
        theirs = [note.pitch.midi for note in score.recurse().notes if note.isNote]
        ours = [note.pitch.midi for bar in load_sheet_file(path).bars for note in bar.notes]
        assert ours == theirs, name


@pytest.mark.slow
def test_what_is_written_is_what_music21_reads(reference_data: Path) -> None:
    """Pitches and lengths of the reference tunes, written by us and read by music21.

    Tied notes are one, since it cuts some by itself. Left out are three tunes in which it
    forgets an accidental that holds to the bar's end (case 52).
    """
    converter = pytest.importorskip("music21.converter")
    forgets = {"dashing-white-sergeant.abc", "e7-slash-b9.abc", "rocky-road-9-8.abc"}
    compared = [(name, sheet) for name, sheet in real_tunes(reference_data) if name not in forgets]
    for name, sheet in compared:
        score = converter.parseData(write_abc(sheet), format="abc").stripTies()
        theirs = [(n.pitch.midi, n.quarterLength) for n in score.recurse().notes if n.isNote]
        assert untied(sheet) == theirs, (name, sheet.title)
    assert len(compared) == 22


def untied(sheet: LeadSheet) -> list[tuple[int, Fraction]]:
    """MIDI numbers and lengths of the melody, tied notes as one."""
    found: list[tuple[int, Fraction]] = []
    held = False
    for note in (note for bar in sheet.bars for note in bar.notes):
        if held:
            found[-1] = (found[-1][0], found[-1][1] + note.beats)
        else:
            found.append((note.pitch.midi, note.beats))
        held = note.tied
    return found


@pytest.mark.slow
def test_reference_tunes_come_back_as_they_were(reference_data: Path) -> None:
    """All but a note held over a change of chord, which is written as two."""
    for name, sheet in real_tunes(reference_data):
        again = read_abc_text(write_abc(sheet))
        assert (again.title, again.key) == (sheet.title, sheet.key), name
        assert played(again).bars == played(sheet).bars, name
        if not abc_losses(sheet):
            assert again.bars == sheet.bars, name


@st.composite
def sheets(draw: st.DrawFn) -> LeadSheet:
    """Sheets that ABC notation can hold: whole bars, chords at notes or rests."""
    meter = draw(meters())
    bars = []
    repeat = draw(st.sampled_from([(), (Marks(forward=True), Marks(backward=2))]))
    for number in range(1, draw(st.integers(2, 5)) + 1):
        notes, starts, now = [], [Fraction(0)], Fraction(0)
        while now < meter.bar_beats:
            beats = draw(
                st.sampled_from([Fraction(1, 3), Fraction(1, 2), Fraction(3, 4), Fraction(2)])
            )
            beats = min(beats, meter.bar_beats - now)
            text = draw(st.sampled_from(["Eb4", "F#5", "G3", "B4", "Bb4", "C##6", ""]))
            if text:
                notes.append(SheetNote(now, beats, parse_pitch(text)))
            starts.append(now)
            now += beats
        places = sorted(draw(st.sets(st.sampled_from(starts), max_size=3)) | {Fraction(0)})
        held = tuple(ChordAt(parse_symbol(draw(symbol_texts())), at) for at in places)
        marks = repeat[number - 1] if number <= len(repeat) else Marks()
        bars.append(
            WrittenBar(str(number), meter, meter.bar_beats, held, marks, notes=tuple(notes))
        )
    bars[0] = bars[0]._replace(section=draw(st.sampled_from(["", "A", "Bridge 100%"])))
    tempo = draw(st.sampled_from([None, 40.0, 96.0, 132.5]))
    return LeadSheet("Room 2 \\ 50%", tuple(bars), draw(keys()), tempo, draw(st.sampled_from(Feel)))


@pytest.mark.slow
@given(sheets())
def test_what_is_written_reads_back(sheet: LeadSheet) -> None:
    again = read_abc_text(write_abc(sheet))
    assert again.bars == sheet.bars
    assert (again.title, again.key, again.tempo_bpm, again.feel) == (
        sheet.title,
        sheet.key,
        sheet.tempo_bpm,
        sheet.feel,
    )


def test_endings_and_jumps_come_back() -> None:
    sheet = read('|:"C"c4|1d4:|2!segno!e4||!dacoda!f4|!D.S.!g4|!coda!a4|"F"f4|]')
    again = read_abc_text(write_abc(sheet))
    assert again.bars == sheet.bars


def test_an_ending_that_is_never_closed_is_written_as_it_is_played() -> None:
    """One bar long, which players read and `played` says."""
    bars = [WrittenBar(str(n), Meter(), Fraction(4), (C_AT_ONE,)) for n in range(1, 5)]
    bars[1] = bars[1]._replace(marks=Marks(ending=(2,)))
    sheet = LeadSheet("Evening Class", tuple(bars))
    assert order(sheet) == order(read_abc_text(write_abc(sheet))) == [1, 3, 4]
    assert abc_losses(sheet) == ("endings: bar 2",)


def test_notes_are_beamed_in_the_groups_of_the_metre() -> None:
    lines = write_abc(read('"C"efed c4|"C"edcd e2e2|"G"g3f (3gfe d2|', unit="1/8")).splitlines()
    assert lines[-1] == '"C"efed c4 | "C"edcd e2 e2 | "G"g3 f (3gfe d2 |]'


def test_a_repeat_sign_is_the_bar_line() -> None:
    assert '"C"c8 |: "G"g8 :|' in write_abc(read('"C"c4|:"G"g4:|'))


def test_a_chord_chart_without_a_melody_comes_back_as_it_is_played() -> None:
    bars = tuple(
        WrittenBar(str(n), Meter(), Fraction(0), (ChordAt(parse_symbol(text), Fraction(0)),))
        for n, text in enumerate(["Dm7", "G7b9", "C6/9", "N.C."], 1)
    )
    sheet = LeadSheet("Evening Class", bars)
    again = read_abc_text(write_abc(sheet))
    assert [b.chords for b in played(again).bars] == [b.chords for b in played(sheet).bars]
    assert not again.has_melody


def test_a_note_held_over_a_change_is_said_to_be_lost() -> None:
    sheet = read('"D""Bm"f4|')
    assert any("tied" in loss for loss in abc_losses(sheet))
    assert lengths(read_abc_text(write_abc(sheet))) == [2, 2]


# Damaged files


@pytest.mark.slow
@settings(max_examples=150)
@given(st.text("ABCcdeg\"|:[]()123/-><{}!^_=zZ&\n\\ VKMLPQ%,'+~.", max_size=80))
def test_any_text_is_read_or_refused(body: str) -> None:
    with suppress(ReadError):
        played(read_abc_text(tune('"C"c4|' + body)))


@pytest.mark.slow
def test_a_damaged_file_is_read_or_refused(reference_data: Path) -> None:
    """Each real file cut short and with a stretch taken out, at many places."""
    for path in sorted((reference_data / "abc").glob("*.abc")):
        text = path.read_text("utf-8")
        for place in range(0, min(len(text), 800), 29):
            for damaged in (text[:place], text[:place] + text[place + 11 :]):
                with suppress(ReadError):
                    played(read_abc_text(damaged))
