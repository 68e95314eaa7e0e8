"""Charts that leave their key, in twelve keys and for every instrument: names a player reads.

Source: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from halfstep.data.lesson_json import lesson_data
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.chord_in_key import falls_a_fifth, is_dominant, is_minor
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.make import make_lesson
from halfstep.lesson.map_page import chart_map
from halfstep.level import Level
from halfstep.part.lead_sheet import sheet_for
from halfstep.part.spelling import near_key, turns_near
from halfstep.part.transposed_part import Part, part_for
from halfstep.part.transposition import in_key
from halfstep.pitch import Name, parse_name, parse_pitch
from halfstep.progression.chart import spans
from halfstep.progression.form import played
from halfstep.progression.key import Key, key_of, parse_key
from halfstep.progression.load import typed_sheet
from halfstep.progression.sheet import LeadSheet, SheetNote
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.services.explain_chart import ExplainChart, explain_chart
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from halfstep.services.read_chart import ReadChart, read_chart
from lesson.moved_charts import CHARTS, MAJOR_KEYS, MINOR_KEYS

ODD = {"E#", "B#", "Fb", "Cb"}


@cache
def in_every_key(name: str) -> list[tuple[LeadSheet, Analysis]]:
    """The chart in the eleven keys that it is not typed in."""
    sheet = typed_sheet(CHARTS[name])
    minor = sheet.key is not None and sheet.key.minor
    keys = [parse_key(key) for key in (MINOR_KEYS if minor else MAJOR_KEYS)]
    moved = [in_key(sheet, key) for key in keys if key != sheet.key]
    return [(sheet, analyse(played(sheet))) for sheet in moved]


TRANSPOSING = {instrument.rise: instrument for instrument in INSTRUMENTS.values()}.values()
"""An instrument for each transposition: those that share one read the same names."""


@cache
def parts(name: str) -> list[Part]:
    """The chart in every key for every transposition."""
    analyses = [analysis for _, analysis in in_every_key(name)]
    return [part_for(analysis, player) for analysis in analyses for player in TRANSPOSING]


def symbols(part: Part) -> list[ChordSymbol]:
    return [part.symbol(index) for index in range(len(part.analysis.chords))]


def cadences(part: Part) -> Iterator[list[ChordSymbol]]:
    """Each ii-V of a part, with its goal where V falls a fifth."""
    chords = symbols(part)
    for two, five, goal in zip(chords, chords[1:], [*chords[2:], chords[0]], strict=False):
        if is_minor(two) and is_dominant(five) and falls_a_fifth(two, five):
            yield [two, five, goal] if falls_a_fifth(five, goal) else [two, five]


each_chart = pytest.mark.parametrize("name", CHARTS)


def odd_names(roots: Sequence[Name], key: Key) -> list[Name]:
    """Roots with two signs, and E♯, B♯, F♭ or C♭ that the signature lacks."""
    signature = range(key.fifths - 1, key.fifths + 6)
    odd = [root for root in roots if root.ascii in ODD and root.fifths not in signature]
    return odd + [root for root in roots if abs(root.alteration) > 1]


@pytest.mark.slow
@each_chart
def test_no_root_is_odd_unless_the_signature_has_it(name: str) -> None:
    for part in parts(name):
        roots = [symbol.root for symbol in symbols(part)]
        shown = f"{part.key} {part.instrument.key}: {' '.join(map(str, roots))}"
        assert odd_names(roots, part.key) == [], shown


@pytest.mark.slow
@pytest.mark.sampled
@each_chart
def test_two_five_one_stands_on_one_side(name: str) -> None:
    for part in parts(name):
        for cadence in cadences(part):
            signs = {symbol.root.alteration for symbol in cadence}
            assert not {-1, 1} <= signs, f"{part.key}: {' '.join(map(str, cadence))}"


@pytest.mark.sampled
@each_chart
def test_two_five_one_falls_in_fifths_on_the_page(name: str) -> None:
    """Only E♯ in front of A♯, where what follows must stay in sharps, is written F."""
    for part in parts(name):
        for cadence in cadences(part):
            falls = [new.root.fifths - old.root.fifths for old, new in pairwise(cadence)]
            shown = " ".join(str(symbol.root) for symbol in cadence)
            assert set(falls) == {-1} or shown == "F A♯ D♯", f"{part.key}: {shown}"


@pytest.mark.slow
@each_chart
def test_sheet_and_explanation_have_the_same_names(name: str) -> None:
    sheets = [sheet for sheet, _ in in_every_key(name) for _ in TRANSPOSING]
    for sheet, part in zip(sheets, parts(name), strict=True):
        written, _ = sheet_for(sheet, part.instrument)
        on_page = [span.symbol.ascii for span in spans(played(written))]
        assert on_page == [symbol.ascii for symbol in symbols(part)]


@each_chart
def test_a_local_key_is_named_as_its_tonic_is(name: str) -> None:
    for part in parts(name):
        for symbol, key in zip(symbols(part), part.local_keys, strict=True):
            if symbol.root.pitch_class == key.tonic.pitch_class:
                assert symbol.root == key.tonic
            assert abs(key.fifths) <= 7


@pytest.mark.sampled
@pytest.mark.parametrize("instrument", ["alto-sax", "trumpet"])
@pytest.mark.parametrize("place", range(0, len(CHARTS), 3))
def test_a_part_reads_back_in_concert_names(place: int, instrument: str, tmp_path: Path) -> None:
    """Its MusicXML, opened as a chart, sounds as it did and has no odd root of the part's."""
    name = [*CHARTS][place]
    for sheet, analysis in in_every_key(name)[place % 4 :: 4]:
        path = tmp_path / "part.musicxml"
        path.write_text(
            read_chart(ReadChart(sheet, instrument=instrument)).written("musicxml").text
        )
        back = read_chart(ReadChart(path)).sheet
        roots = [symbol.root for symbol in chord_symbols(back)]
        assert odd_names(roots, analysis.home) == []
        assert [root.pitch_class for root in roots] == [
            symbol.root.pitch_class for symbol in chord_symbols(sheet)
        ]
        assert back.key == sheet.key


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "key"), list(zip(CHARTS, [*MAJOR_KEYS, *MINOR_KEYS], strict=False))
)
def test_the_data_of_a_lesson_have_names_that_read(name: str, key: str) -> None:
    """In ``lesson.json`` concert chords and those of each player, by their own signatures."""
    instruments = tuple(INSTRUMENTS)[len(key) :: 4]
    request = MakeLesson(
        CHARTS[name], Path(), instruments=instruments, steps="guide-tones", key=key
    )
    data = lesson_data(make_lesson(lesson_brief(request)))
    chords = {"concert": (data["analysis"]["key_fifths"], data["analysis"]["chords"])} | {
        player["instrument"]: (player["written_key_fifths"], player["chords"])
        for player in data["players"]
    }
    for reader, (fifths, symbols_read) in chords.items():
        roots = [parse_symbol(chord["symbol"]).root for chord in symbols_read]
        assert odd_names(roots, key_of(fifths)) == [], reader


@pytest.mark.parametrize("name", ["side-slip", "major thirds", "chromatic twos"])
@pytest.mark.parametrize("instrument", ["alto-sax", "tenor-sax", "trombone"])
def test_every_face_has_the_same_names(name: str, instrument: str) -> None:
    """The sheet and its MusicXML, the explanation, its sentences and data, and the map."""
    reply = read_chart(ReadChart(CHARTS[name], key="D", instrument=instrument))
    on_page = [chord.symbol for bar in reply.sheet.bars for chord in bar.chords]
    concert = read_chart(ReadChart(CHARTS[name], key="D")).sheet
    explanation = explain_chart(ExplainChart(concert, instrument=instrument))
    assert symbols(explanation.part) == on_page
    assert [chord["symbol"] for chord in explanation.data()["chords"]] == [
        symbol.ascii for symbol in on_page
    ]
    described = chart_map(explanation.part, level=Level.INTERMEDIATE).description
    assert re.findall(r"\S+", re.sub(r".*?bar by bar\. |\d+: |;|\.$", "", described)) == [
        str(symbol) for symbol in on_page
    ]
    assert roots_of_musicxml(reply.written("musicxml").text) == [s.root.ascii for s in on_page]
    for index, chord in enumerate(explanation.data()["chords"]):
        neighbours = {str(on_page[index - 1]), str(on_page[(index + 1) % len(on_page)])}
        named = re.search(r"(?:falls a fifth|falls a half step) to (\S+)", chord["role_in_words"])
        assert named is None or named[1] in neighbours


def roots_of_musicxml(text: str) -> list[str]:
    """The roots of the harmonies in a score."""
    found = re.findall(r"<root-step>(.)</root-step>(?:\s*<root-alter>(-?\d)</root-alter>)?", text)
    return [step + {"-1": "b", "1": "#"}.get(alter, "") for step, alter in found]


@pytest.mark.parametrize(
    "text", ["| Abm7 | Db7 | Gbmaj7 |", "key: G\n| A#m7 | Cb7/Fb | E#m7 B#7 |", "| F##7 | Cb7 |"]
)
@pytest.mark.parametrize("instrument", ["concert", "flute", "guitar", "trombone"])
def test_what_is_typed_stays_where_nothing_moves(text: str, instrument: str) -> None:
    typed = [symbol.ascii for symbol in chord_symbols(typed_sheet(text))]
    reply = read_chart(ReadChart(text, instrument=instrument))
    assert [symbol.ascii for symbol in chord_symbols(reply.sheet)] == typed
    part = explain_chart(ExplainChart(text, instrument=instrument)).part
    assert [symbol.ascii for symbol in symbols(part)] == typed


def test_the_key_that_was_typed_stays_in_a_chart_of_one_region() -> None:
    """A♭m7 in a chart without a key was shown as G♯m7."""
    part = explain_chart(ExplainChart("| Abm7 Db7 | Gbmaj7 | Cmaj7 | Abm7 |")).part
    assert str(part.symbol(0)) == "A♭m7"


def chord_symbols(sheet: LeadSheet) -> list[ChordSymbol]:
    return [chord.symbol for bar in sheet.bars for chord in bar.chords]


@pytest.mark.parametrize(
    ("home", "key", "expected"),
    [
        ("A", "C#", "Db"),  # five signs and not seven
        ("D", "Gb", "F#"),  # six either way: near the home key
        ("F", "F#", "F#"),  # nearly as near: the side it came on
        ("G", "Gb", "Gb"),
        ("Bb", "F#", "Gb"),
        ("C", "Gb", "Gb"),
        ("C#", "C#", "C#"),  # the home key is what it is
        ("Gb", "Ebm", "Ebm"),
    ],
)
def test_a_key_stands_on_the_side_with_fewer_signs(home: str, key: str, expected: str) -> None:
    assert near_key(parse_key(key), parse_key(home)) == parse_key(expected)


def test_a_chord_that_is_never_played_still_has_a_name_that_reads() -> None:
    """The second of two endings that the repeats leave out, and the pickup."""
    assert turns_near(parse_name("E#"), key_of(2)) == 1
    assert turns_near(parse_name("Fb"), key_of(-3)) == -1
    assert turns_near(parse_name("E#"), key_of(6)) == 0
    sheet = typed_sheet("key: F\n{pickup 1}\n| B7 | Emaj7 | Fmaj7 |")
    moved = in_key(sheet, parse_key("D"))
    assert {root.ascii for root in (s.root for s in chord_symbols(moved))}.isdisjoint(ODD)


def test_a_bar_that_is_played_twice_has_one_spelling() -> None:
    """The page has one symbol for both times, and so have explanation and data."""
    text = "key: F\n|: Emaj7 | 1. Fmaj7 C7 :| 2. Gb7 B7 | Fmaj7 |"
    sheet = in_key(typed_sheet(text), parse_key("D"))
    analysis = analyse(played(sheet))
    part = part_for(analysis, INSTRUMENTS["alto-sax"])
    assert len({part.symbol(i) for i, c in enumerate(analysis.chords) if c.span.bar in {1, 3}}) == 1


def test_the_melody_stands_on_the_side_of_its_chords() -> None:
    """In D for alto the visit to concert D♭ is one to B♭: no note with a sharp in it."""
    sheet = typed_sheet(CHARTS["side-slip"])
    notes = tuple(
        SheetNote(Fraction(beat), Fraction(1), parse_pitch(pitch), tied=pitch == "D#4")
        for beat, pitch in enumerate(("G#4", "B4", "E4", "D#4"))
    )
    held = (SheetNote(Fraction(0), Fraction(4), parse_pitch("D#4")),)
    bars = list(sheet.bars)
    bars[2], bars[3] = bars[2]._replace(notes=notes), bars[3]._replace(notes=held)
    moved, _ = sheet_for(
        in_key(replace(sheet, bars=tuple(bars)), parse_key("D")), INSTRUMENTS["alto-sax"]
    )
    assert [note.pitch.ascii for note in moved.bars[2].notes] == ["D5", "F5", "Bb4", "A4"]
    assert moved.bars[3].notes[0].pitch.ascii == "A4"


def test_a_key_change_on_the_page_turns_with_its_chords() -> None:

    sheet = typed_sheet(CHARTS["side-slip"])
    bars = list(sheet.bars)
    bars[1] = bars[1]._replace(key=Key(parse_name("E")))
    moved, _ = sheet_for(
        in_key(replace(sheet, bars=tuple(bars)), parse_key("D")), INSTRUMENTS["concert"]
    )
    assert moved.bars[1].key == parse_key("Db")
