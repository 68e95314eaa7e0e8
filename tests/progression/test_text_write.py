"""Pages as plain text: what is read, what is written, and what is lost."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Feel, Meter
from halfstep.pitch import parse_name, parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import played
from halfstep.progression.key import Key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.losses import what_is_lost
from halfstep.progression.notations import text_reader as text_module
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.notations.text_writer import text_losses, write_sheet_text
from halfstep.progression.shares import shares_of_bar
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import parse_symbol
from reference_files import DATA
from strategies import keys, meters, symbols
from typed_charts import read_chart_text

EVENING = """\
title: Evening Class
key: F
meter: 4/4
tempo: 120
feel: swing

{pickup 1} C7
[A]
|: F7 | Bb7 |1. F7 | Cm7 F7 :|
2. F7 {to coda} ||
[Bridge]
|: {segno} Bb7 | % | {7/4 2+2+3} F7 . . . D7 . . :|x3
{2/4} C7 | {4/4} F7 {D.S. al coda} || {coda} Bb7 | F7 {fine} |]
"""


def sheet_of(*bars: WrittenBar) -> LeadSheet:
    return LeadSheet("Tuesday", bars)


def bar(
    number: int | str, *chords: tuple[str, float | Fraction], beats: int = 4, **rest: object
) -> WrittenBar:
    """A bar of 4/4 with chords at beats counted from 0."""
    placed = tuple(ChordAt(parse_symbol(text), Fraction(at)) for text, at in chords)
    plain = WrittenBar(str(number), Meter(), Fraction(beats), placed)
    return plain._replace(**rest)  # type: ignore[arg-type]


def test_every_mark_of_the_syntax_is_read() -> None:
    """Marks, metres, sections and the pickup of one page; the bars are numbered from 0."""
    sheet = read_sheet_text(EVENING)
    assert [b.number for b in sheet.bars] == [str(n) for n in range(13)]
    assert [b.section for b in sheet.bars] == ["", "A", "", "", "", "", "Bridge", *[""] * 6]
    assert [b.marks for b in sheet.bars] == [
        Marks(),
        Marks(forward=True),
        Marks(),
        Marks(ending=(1,)),
        Marks(backward=2, ending_stops=True),
        Marks(ending=(2,), ending_stops=True, to_coda=True),
        Marks(forward=True, segno=True),
        Marks(),
        Marks(backward=3),
        Marks(),
        Marks(dal_segno=True),
        Marks(coda=True),
        Marks(fine=True),
    ]
    assert (sheet.bars[0].beats, sheet.bars[0].irregular) == (1, True)
    assert [str(b.meter) for b in sheet.bars[7:11]] == ["4/4", "7/4", "2/4", "4/4"]
    assert sheet.bars[8].meter.grouping == (2, 2, 3)
    assert [c.at for c in sheet.bars[8].chords] == [0, 4]


def test_the_page_is_played_in_the_order_that_it_says() -> None:
    """Pickup once, 1. and 2. ending, three times, then D.S.; its to coda lies before the segno."""
    chart = read_chart_text(EVENING)
    assert chart.pickup_beats == 1
    assert [b.written for b in chart.bars] == [
        *(0, 1, 2, 3, 4, 1, 2, 5, 6, 7, 8, 6, 7, 8, 6, 7, 8, 9, 10, 6, 7, 8, 9, 10, 11, 12)
    ]


def test_the_header_takes_a_metre_with_its_grouping() -> None:
    sheet = read_sheet_text("meter: 7/4 2+2+3\n| C . . . F . . |")
    assert sheet.bars[0].meter == Meter(7, 4, (2, 2, 3))


@pytest.mark.parametrize(
    "text",
    [
        "|: C |1. F :|2. G || A |",
        "|: C |1.\nF :|\n2. G || A |]",
        "|:C|1.F:|2.G||A",
        "[| C |1. F:| 2. G |] A",
    ],
)
def test_an_ending_may_be_written_tight_or_wide(text: str) -> None:
    sheet = read_sheet_text(text)
    assert [b.marks.ending for b in sheet.bars] == [(), (1,), (2,), ()]
    assert [b.marks.ending_stops for b in sheet.bars] == [False, True, True, False]
    chords = [c.symbol.ascii for b in played(sheet).bars for c in b.chords]
    assert chords == ["C", "F", "C", "G", "A"]


def test_an_ending_of_several_passes_is_played_on_each() -> None:
    chart = read_chart_text("|: C |1.2. F :|3. G |")
    assert [c.symbol.ascii for b in chart.bars for c in b.chords] == list("CFCFCG")


@pytest.mark.parametrize("text", ["| C | F | {D.C. al fine}", "| C | F {DC} |", "C F {d.c.}"])
def test_a_jump_may_stand_in_the_last_bar_or_after_it(text: str) -> None:
    assert [b.marks.da_capo for b in read_sheet_text(text).bars] == [False, True]


@pytest.mark.parametrize("text", ["[A]\n| C | F |", "| [A] C | F |", "|[A]C|F|", "[A] C F"])
def test_a_section_may_stand_on_its_own_line_or_in_its_bar(text: str) -> None:
    assert [b.section for b in read_sheet_text(text).bars] == ["A", ""]


def test_a_section_after_the_last_bar_is_said_to_be_left_out() -> None:
    assert read_sheet_text("| C |\n[B]").notices == ("[B] stands after the last bar; left out",)


def test_a_bar_that_is_played_again_in_a_shorter_metre_keeps_what_fits() -> None:
    assert [c.at for c in read_sheet_text("| C F | {2/4} % |").bars[1].chords] == [0]


@pytest.mark.parametrize(
    ("text", "column", "words"),
    [
        ("| C {3/4} |", 5, "at the start of a bar"),
        ("| C [A] |", 5, "at the start of a bar"),
        ("| C 1. |", 5, "at the start of a bar"),
        ("| {loud} C |", 3, "write {segno}, {coda}"),
        ("| {3/5} C |", 3, "no meter"),
        ("| C | {pickup 1} F |", 7, "only the first bar"),
        ("| {pickup 4} F |", 3, "under 4"),
        ("| {pickup one} F |", 3, "such as {pickup 1}"),
        ("| {pickup 2} F . . |", 14, "a bar has 2"),
        ("|: C :|x1 F |", 8, "2 to 99 times"),
        ("|: C |0. F :|", 7, "counted from 1"),
        ("| C{ |", 4, "stops making sense"),
    ],
)
def test_an_error_in_a_mark_says_where(text: str, column: int, words: str) -> None:
    with pytest.raises(ReadError, match="sheet") as caught:
        read_sheet_text(text, source="sheet")
    assert words in caught.value.message
    assert (caught.value.line, caught.value.column) == (1, column)


def test_a_page_is_written_four_bars_a_line() -> None:
    """Own text, compared whole; `%` is written as the chord, a held bar with holds."""
    assert (
        write_sheet_text(read_sheet_text(EVENING))
        == """\
title: Evening Class
key: F
meter: 4/4
tempo: 120
feel: swing

| {pickup 1} C7 |
[A]
|: F7 | Bb7 | 1. F7 | Cm7 F7 :|
| 2. F7 {to coda} ||
[Bridge]
|: {segno} Bb7 | Bb7 | {7/4 2+2+3} F7 . . . D7 . . :|x3 {2/4} C7 |
| {4/4} F7 {D.S. al coda} | {coda} Bb7 | F7 {fine} |]
"""
    )


MELODY = (SheetNote(Fraction(0), Fraction(4), parse_pitch("C5")),)


@pytest.mark.parametrize(
    ("sheet", "loss"),
    [
        (sheet_of(bar(1, ("C", 0), notes=MELODY)), "the melody is left out"),
        (sheet_of(bar(1, ("C", -1))), "bar 1: a chord before the bar is moved to its start"),
        (sheet_of(bar("bar seven", ("C", 0))), "the bars are numbered anew"),
        (sheet_of(bar(1, ("C", 0), section="A|[b]")), "the section 'A|[b]' becomes 'A/(b)'"),
        (sheet_of(bar(1, ("C", 0), meter=Meter(7, 64))), "7/64 is written as 2/16"),
        (sheet_of(bar(1, ("C", 0), marks=Marks(ending_stops=True))), "signs are simplified"),
        (sheet_of(bar(1)), "does not read back: the chart has no chords"),
        (replace(sheet_of(bar(1, ("C", 0))), tempo_bpm=20.0), "the tempo of 20 is left out"),
        (replace(sheet_of(bar(1, ("C", 0))), tempo_bpm=100 / 3 * 2), "written as 66.667"),
        (replace(sheet_of(bar(1, ("C", 0))), title="a\nb"), "the title becomes 'a b'"),
        (
            replace(sheet_of(bar(1, ("C", 0))), key=Key(parse_name("D#"))),
            "the key of D♯ major is written as E♭ major",
        ),
    ],
)
def test_what_is_lost_is_said(sheet: LeadSheet, loss: str) -> None:
    assert any(loss in said for said in text_losses(sheet)), text_losses(sheet)


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        (sheet_of(bar(1, ("C", 0), ("F", 2.5))), "| C F {beat 3.5} |]"),
        (sheet_of(bar(1, ("C", 0.5))), "| C {beat 1.5} |]"),
        (sheet_of(bar(1, ("C", 0), ("F", Fraction(4, 3)))), "| C F {beat 2+1/3} |]"),
        (sheet_of(bar(1, ("C", 0), ("F", 0.25), ("G", 0.25))),
         "| C F {beat 1.25} G {beat 1.25} |]"),
        (sheet_of(bar(1, ("C", 0), ("F", 5))), "| C F {beat 6} |]"),
        (sheet_of(bar(7, ("C", 0)), bar(8, ("F", 0))), "| {bar 7} C | F |]"),
        (sheet_of(bar(0, ("C", 0)), bar(1, ("F", 0))), "| {bar 0} C | F |]"),
        (sheet_of(bar(1, ("C", 0), beats=1), bar(2, ("F", 0))), "| {lasts 1} C | F |]"),
        (sheet_of(bar(1, ("C", 0)), bar(2, ("F", 0), beats=2)), "| C | {lasts 2} F |]"),
        (sheet_of(bar(1, ("C", 0), beats=5), bar(2, ("F", 0))), "| {lasts 5} C | F |]"),
        (sheet_of(bar(1, ("C", 0), beats=3), bar("X2", ("F", 0), beats=1, irregular=True),
                  bar(2, ("G", 0))), "| {lasts 3} C | {part 1} {bar X2} F | G |]"),
    ],
)  # fmt: skip
def test_what_is_off_the_pulse_or_not_whole_is_written_and_read(
    sheet: LeadSheet, words: str
) -> None:
    text = write_sheet_text(sheet)
    assert text.splitlines()[-1] == words
    assert read_sheet_text(text).bars == sheet.bars
    assert text_losses(sheet) == ()


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("| C F {beat 0.5} |", r"column 7: \{beat 0\.5\} is no place; .* such as \{beat 2\.5\}"),
        ("| C {beat two} |", r"column 5: \{beat two\} is no place"),
        ("| {beat 2} C |", r"column 3: \{beat 2\} stands right after its chord"),
        ("| C F G {beat 3} |", r"column 5: F has no place; .* needs it, such as D7 \{beat 3\.5\}"),
        ("| C . F {beat 3} . |", r"column 5: \. has no place"),
        ("| C {beat 3} F {beat 2} |", r"column 14: F stands before the chord on its left"),
        ("| C | {part 4} F |", r"column 7: \{part 4\} is no part of a bar; .* under 4"),
        ("| {lasts 0} C |", r"column 3: \{lasts 0\} is no length of a bar; .* under 1000"),
    ],
)
def test_a_place_or_a_length_that_is_none_is_told_with_its_place(text: str, error: str) -> None:
    with pytest.raises(ReadError, match=error):
        read_sheet_text(text)


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("{segno} | Bb | F {D.S.} |", ["1", "2"]),
        ("[A] {key F} | Bb | F |", ["1", "2"]),
        ("{pickup 1} | G7 | C |", ["0", "1"]),
    ],
)
def test_what_stands_before_the_first_bar_line_belongs_to_the_first_bar(
    text: str, bars: list[str]
) -> None:
    sheet = read_sheet_text(text)
    assert [bar.number for bar in sheet.bars] == bars
    assert all(bar.chords for bar in sheet.bars)


REAL = [path for folder in ("musicxml", "abc", "chordpro")
        for path in sorted((DATA / folder).rglob("*"))
        if path.suffix in {".mxl", ".xml", ".musicxml", ".abc", ".cho", ".crd"}]  # fmt: skip


@pytest.mark.sampled
@pytest.mark.skipif(not REAL, reason="the reference data is not beside the repository")
@pytest.mark.parametrize("path", REAL, ids=lambda path: path.name)
def test_the_chords_of_a_real_sheet_are_the_same_after_our_text(path: Path) -> None:
    """Source: lead sheets, ABC tunes and songs of others beside the repository (SOURCES.md)."""
    try:
        sheet = load_sheet_file(path)
    except ReadError as error:
        pytest.skip(f"no chart: {error.message}")
    bare = replace(sheet, bars=tuple(b._replace(notes=()) for b in sheet.bars))
    assert what_is_lost(bare, lambda: read_sheet_text(write_sheet_text(bare))) == ()


def test_nothing_is_said_to_be_lost_where_nothing_is() -> None:
    assert text_losses(read_sheet_text(EVENING)) == ()


@st.composite
def chords_in(draw: st.DrawFn, meter: Meter, beats: Fraction) -> tuple[ChordAt, ...]:
    """None, some that share the bar evenly, or some on its pulses."""
    found = draw(st.lists(symbols(), max_size=4))
    if not found:
        return ()
    shares, even = shares_of_bar(meter, len(found), beats=beats)
    places = [sum(shares[:turn], Fraction(0)) for turn in range(len(shares))]
    pulses = int(beats / meter.pulse_beats) if beats % meter.pulse_beats == 0 else 0
    if pulses >= len(found) and (not even or draw(st.booleans())):
        chosen = draw(st.permutations(range(pulses)))
        places = [turn * meter.pulse_beats for turn in sorted(chosen[: len(found)])]
    elif not even:
        found, places = found[:1], [Fraction(0)]
    return tuple(ChordAt(s, at) for s, at in zip(found, places, strict=True))


@st.composite
def marks_of_page(draw: st.DrawFn, count: int) -> list[Marks]:
    """Signs at random places; endings close where the text closes them."""
    signs = st.builds(
        Marks,
        forward=st.booleans(),
        backward=st.sampled_from([0, 0, 0, 2, 3, 99]),
        ending=st.sampled_from([(), (), (), (1,), (2,), (1, 3)]),
        **{name: st.sampled_from([False, False, False, True])
           for name in ("segno", "coda", "to_coda", "fine", "da_capo", "dal_segno")},
    )  # fmt: skip
    found = [draw(signs) for _ in range(count)]
    stops = [draw(st.booleans()) for _ in range(count)]
    is_open = False
    for place, mark in enumerate(found):
        is_open = is_open or bool(mark.ending)
        last = place + 1 == count or bool(found[place + 1].ending)
        closes = is_open and (bool(mark.backward) or last or stops[place])
        found[place] = mark._replace(ending_stops=closes)
        is_open = is_open and not closes
    return found


@st.composite
def sheets(draw: st.DrawFn) -> LeadSheet:
    """Pages that the text can hold."""
    count = draw(st.integers(1, 9))
    pickup = count > 1 and draw(st.booleans())
    grouped = st.sampled_from([Meter(7, 4, (2, 2, 3)), Meter(5, 8, (2, 3)), Meter(5, 4, (2, 3))])
    meter = draw(meters())
    marks = draw(marks_of_page(count))
    bars = []
    for place in range(count):
        meter = draw(st.one_of(st.just(meter), st.just(meter), meters(), grouped))
        shorter = [Fraction(1, 2), Fraction(1), Fraction(3, 4), Fraction(1, 3)]
        is_pickup = pickup and place == 0
        beats = draw(st.sampled_from(shorter)) if is_pickup else meter.bar_beats
        chords = draw(chords_in(meter, beats))
        section = draw(st.sampled_from(["", "", "", "A", "B2", "Last time", "1.", "x3", "#"]))
        number = str(place + (not pickup))
        bars.append(WrittenBar(number, meter, beats, chords, marks[place], is_pickup, section))
    if not any(b.chords for b in bars):
        bars[-1] = bars[-1]._replace(chords=(ChordAt(draw(symbols()), Fraction(0)),))
    return LeadSheet(
        draw(st.sampled_from(["Tuesday", "Through the changes", "# | [A] {x}: 1"])),
        tuple(bars),
        draw(st.none() | keys()),
        draw(st.none() | st.integers(40_000, 300_000).map(lambda n: n / 1000)),
        draw(st.sampled_from([None, *Feel])),
    )


@pytest.mark.slow
@settings(max_examples=100)
@given(sheets())
def test_a_page_that_the_text_can_hold_reads_back_equal(sheet: LeadSheet) -> None:
    back = read_sheet_text(write_sheet_text(sheet))
    assert replace(back, notices=()) == sheet  # notices may tell how a chord is read
    assert text_losses(sheet) == ()


@pytest.mark.slow
@given(sheets(), st.integers(0, 8), st.fractions(-1, 9, max_denominator=12))
def test_any_place_is_written_or_said(sheet: LeadSheet, place: int, at: Fraction) -> None:
    """A chord off the grid never breaks the text, and all other bars stay as they are."""
    place %= len(sheet.bars)
    moved = sheet.bars[place]._replace(chords=(ChordAt(parse_symbol("C"), at),))
    bars = (*sheet.bars[:place], moved, *sheet.bars[place + 1 :])
    odd = replace(sheet, bars=bars)
    back = read_sheet_text(write_sheet_text(odd))
    assert [b.chords for n, b in enumerate(back.bars) if n != place] == [
        b.chords for n, b in enumerate(odd.bars) if n != place
    ]
    assert (replace(back, notices=()) == odd) == (text_losses(odd) == ())


RANDOM = st.text(alphabet=st.sampled_from("ACG7 |:.x123[]{}/+\nDSalcofinetp"), max_size=60)
SIGNS = st.lists(
    st.sampled_from(
        [
            *("C ", "G7 ", ". ", "% ", "| ", "|: ", ":| ", ":|x3 ", "|| ", "|] ", "\n"),
            *("1. ", "2. ", "1.2.", "[A] ", "[B]\n", "{segno} ", "{coda} ", "{to coda}"),
            *("{fine} ", "{D.C.} ", "{3/4} ", "{5/8 2+3} ", "{pickup 1} ", "{pickup 1/3} "),
        ]
    ),
    max_size=22,
).map("".join)


def read_or_error(text: str) -> LeadSheet | ReadError:
    try:
        return read_sheet_text(text)
    except ReadError as error:
        return error


@pytest.mark.slow
@settings(max_examples=500)
@given(st.one_of(RANDOM, SIGNS))
def test_random_marks_are_read_or_refused_with_one_line(text: str) -> None:
    """What can be read can be written, and reads back to the same bars."""
    sheet = read_or_error(text)
    if isinstance(sheet, ReadError):
        assert "\n" not in str(sheet)
        return
    again = read_sheet_text(write_sheet_text(sheet))
    assert replace(again, notices=()) == replace(sheet, notices=())


def test_the_example_of_the_module_is_read() -> None:
    """The text in the essay above the code, indented by four."""
    lines = [line[4:] for line in (text_module.__doc__ or "").splitlines() if line[:4] == "    "]
    sheet = read_sheet_text("\n".join(lines))
    assert (sheet.title, len(sheet.bars), sheet.notices) == ("Evening Class", 11, ())


def test_a_key_in_braces_begins_with_its_bar_and_is_written_back() -> None:
    sheet = read_sheet_text("key: C\n| C | {key Eb} Eb | {key Eb} Bb7 | {key D dorian} Dm |")
    assert [str(b.key) if b.key else "" for b in sheet.bars] == ["", "E♭ major", "", "D dorian"]
    assert replace(read_sheet_text(write_sheet_text(sheet)), notices=()) == sheet
    assert text_losses(sheet) == ()


def test_a_bad_key_in_braces_is_told_with_its_place() -> None:
    with pytest.raises(ReadError, match=r"line 1, column 7: .*write it as E"):
        read_sheet_text("| C | {key Fb} E |")


def test_a_bracket_after_a_blank_belongs_to_its_chord() -> None:
    sheet = read_sheet_text("| Cm (maj7) G7 (b9, #11) | C (add9) | F (#11) (no3) |")
    assert [[c.symbol.ascii for c in b.chords] for b in sheet.bars] == [
        ["Cm(maj7)", "G7b9#11"], ["Cadd9"], ["F(#11no3)"],
    ]  # fmt: skip


def test_chords_in_brackets_are_read_with_a_notice() -> None:
    sheet = read_sheet_text("| Dm7 (G7) | (C7(b9) F7) | (Bb) |")
    assert [[c.symbol.ascii for c in b.chords] for b in sheet.bars] == [
        ["Dm7", "G7"], ["C7b9", "F7"], ["Bb"],
    ]  # fmt: skip
    assert sheet.notices == ("chords in brackets are read like any other",)
    with pytest.raises(ReadError, match="line 1, column 5: "):
        read_sheet_text("| (Gq) |")
