"""Lead sheets moved to other keys and players, and written as MusicXML."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.meter import Feel, Meter
from halfstep.part.lead_sheet import sheet_for
from halfstep.part.sheet_score import score_of_sheet
from halfstep.part.transposition import moved_to
from halfstep.part.written_music import home_key_of
from halfstep.pitch import UNISON, Interval, Name, parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import played
from halfstep.progression.key import Key, key_of, parse_key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import parse_symbol
from halfstep.render.musicxml_writer import write_musicxml
from lesson.lesson_files import musicxml_faults
from name_intervals import ascending
from strategies import modal_keys, names, sheets

FOUR = Meter(4, 4)


def bar(number: int, *chords: str, marks: Marks | None = None, section: str = "") -> WrittenBar:
    """A bar of 4/4 whose chords share it evenly."""
    share = Fraction(4, max(1, len(chords)))
    placed = tuple(ChordAt(parse_symbol(text), share * n) for n, text in enumerate(chords))
    return WrittenBar(str(number), FOUR, Fraction(4), placed, marks or Marks(), section=section)


SHEET = LeadSheet(
    "Room Twelve",
    (
        bar(1, "Dm7", "G7/B", section="A")._replace(
            notes=(
                SheetNote(Fraction(1, 2), Fraction(3, 2), parse_pitch("F4")),
                SheetNote(Fraction(2), Fraction(2), parse_pitch("B4"), tied=True),
            ),
        ),
        bar(2, "Cmaj7", marks=Marks(forward=True))._replace(
            notes=(SheetNote(Fraction(0), Fraction(5, 2), parse_pitch("B4")),),
        ),
        bar(3, "F#m7b5", "B7b9", marks=Marks(ending=(1,), backward=2)),
        bar(4, "Ebdim7", marks=Marks(ending=(2,), ending_stops=True)),
        bar(5, "N.C.", "A7alt", section="B"),
    ),
    parse_key("C"),
    112.0,
    Feel.SWING,
)


def sounds(sheet: LeadSheet, interval: Interval) -> list[object]:
    """Chords and melody as they sound an interval higher, however they are spelled."""
    rise = interval.semitones
    return [
        [
            (c.at, (c.symbol.root.pitch_class + rise) % 12, c.symbol.quality)
            if not c.symbol.silent
            else c.at
            for c in bar.chords
        ]
        + [(n.at, n.beats, n.pitch.midi + rise, n.tied) for n in bar.notes]
        for bar in sheet.bars
    ]


@pytest.mark.slow
@given(sheets(), names(double=True), names(double=True))
def test_a_sheet_moved_by_an_interval_and_back_is_the_same(
    sheet: LeadSheet, low: Name, high: Name
) -> None:
    interval = ascending(low, high)
    assert sheet.moved(interval).moved(-interval) == sheet


@pytest.mark.slow
@given(sheets(), modal_keys(6))
def test_a_sheet_moved_to_a_key_and_back_sounds_the_same(sheet: LeadSheet, key: Key) -> None:
    """Chords, basses and melody move, and sound the same when they have moved back."""
    assert sheet.key is not None
    there = moved_to(sheet, key)
    assert home_key_of(there).fifths == key.fifths
    back = moved_to(there, sheet.key)
    assert back.key == sheet.key
    assert sounds(back, UNISON) == sounds(sheet, UNISON)


@pytest.mark.slow
@given(sheets(), st.sampled_from(list(INSTRUMENTS.values())))
def test_a_part_flips_as_a_whole_and_sounds_as_the_sheet(
    sheet: LeadSheet, instrument: Instrument
) -> None:
    """Six accidentals at most, no root with two signs, and the bass on the root's side."""
    written, interval = sheet_for(sheet, instrument)
    assert abs(home_key_of(written).fifths) <= 6 or interval.fifths == 0
    assert sounds(written, UNISON) == sounds(sheet, interval)
    for mine, theirs in zip(written.bars, sheet.moved(interval).bars, strict=True):
        assert mine.key is None or abs(mine.key.fifths) <= 7
        for ours, plain in zip(mine.chords, theirs.chords, strict=True):
            assert abs(ours.symbol.root.alteration) < 2 or interval.fifths == 0
            turned = ours.symbol.root.fifths - plain.symbol.root.fifths
            if ours.symbol.bass and plain.symbol.bass:
                assert ours.symbol.bass.fifths - plain.symbol.bass.fifths == turned


@pytest.mark.sampled
@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=INSTRUMENTS)
@pytest.mark.parametrize("fifths", range(-6, 7))
def test_a_player_reads_what_sounds_as_written(instrument: Instrument, fifths: int) -> None:
    """Written melody minus the interval is the concert melody; six accidentals at most."""
    concert = moved_to(SHEET, key_of(fifths))
    written, interval = sheet_for(concert, instrument)
    assert abs(home_key_of(written).fifths) <= 6
    for mine, theirs in zip(written.bars, concert.bars, strict=True):
        moved = [n.pitch.midi - interval.semitones for n in mine.notes]
        assert moved == [n.pitch.midi for n in theirs.notes]
        assert all(abs(c.symbol.root.alteration) < 2 for c in mine.chords)


def test_a_teachers_spelling_stays_until_the_sheet_is_moved() -> None:
    """A♯7 written for B♭7 in C; in E♭ it is D♭7, a step below the key and not a half step."""
    sheet = replace(SHEET, bars=(bar(1, "A#7"), bar(2, "Cmaj7")))
    same, moved = moved_to(sheet, parse_key("C")), moved_to(sheet, parse_key("Eb"))
    assert same.bars[0].chords[0].symbol.root.ascii == "A#"
    assert moved.bars[0].chords[0].symbol.root.ascii == "Db"


@pytest.mark.parametrize("key", ["concert", "alto-sax", "trombone", "guitar"])
def test_a_sheet_as_musicxml_is_valid_and_reads_back(key: str, tmp_path: Path) -> None:
    """XSD of MusicXML 4.0 (W3C); repeats, endings, sections, chords and melody come back."""
    written, interval = sheet_for(SHEET, INSTRUMENTS[key])
    score = score_of_sheet(written, INSTRUMENTS[key], interval=interval)
    path = tmp_path / "sheet.musicxml"
    write_musicxml(path, score)
    from lesson.lesson_files import W3C

    if W3C.is_dir():
        assert musicxml_faults(path) == []
    back = load_sheet_file(path)
    assert [bar.section for bar in back.bars] == ["A", "", "", "", "B"]
    assert [[c.symbol for c in b.chords] for b in back.bars] == [
        [c.symbol for c in b.chords] for b in SHEET.bars
    ]
    assert [b.written for b in played(back).bars] == [b.written for b in played(SHEET).bars]
    sounding = [(n.at, n.beats, n.pitch.midi) for b in back.bars for n in b.notes if not n.tied]
    assert sounding[0] == (Fraction(1, 2), Fraction(3, 2), 65)
    assert {n.pitch.midi for b in back.bars for n in b.notes} == {65, 71}
    assert (back.key, back.feel, back.tempo_bpm) == (SHEET.key, SHEET.feel, SHEET.tempo_bpm)


def test_a_sheet_without_a_key_is_given_the_one_that_fits() -> None:
    sheet = replace(SHEET, key=None, bars=(bar(1, "Dm7"), bar(2, "G7"), bar(3, "Cmaj7")))
    assert home_key_of(sheet) == parse_key("C")
    assert sheet_for(sheet, INSTRUMENTS["concert"])[1] == UNISON
