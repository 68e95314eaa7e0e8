"""The page of a lead sheet: its melody, its short bars, and moving it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given

from halfstep.meter import Meter
from halfstep.pitch import Interval, Pitch, parse_name, parse_pitch
from halfstep.progression.form import played
from halfstep.progression.key import parse_key
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.sheet import LeadSheet, SheetNote, WrittenBar
from name_intervals import ascending
from strategies import pitches

SECOND_UP = ascending(parse_name("C"), parse_name("D"))


def with_note(pitch: Pitch) -> LeadSheet:
    sheet = read_sheet_text("key: F\n|: F7 | Bb7/D :|")
    note = SheetNote(Fraction(1), Fraction(1, 2), pitch)
    return replace(sheet, bars=(sheet.bars[0]._replace(notes=(note,)), *sheet.bars[1:]))


def test_a_sheet_has_a_melody_when_any_bar_has_notes() -> None:
    sheet = with_note(parse_pitch("A4"))
    assert sheet.has_melody
    assert not read_sheet_text("| C |").has_melody


def test_key_chords_and_melody_move_together() -> None:
    moved = with_note(parse_pitch("A4")).moved(SECOND_UP)
    assert moved.key == parse_key("G")
    assert [c.symbol.ascii for bar in moved.bars for c in bar.chords] == ["G7", "C7/E"]
    assert moved.bars[0].notes[0].pitch == parse_pitch("B4")


@given(pitches())
def test_moving_there_and_back_changes_nothing(pitch: Pitch) -> None:
    sheet = with_note(pitch)
    assert sheet.moved(SECOND_UP).moved(-SECOND_UP) == sheet


def test_a_moved_page_is_played_as_the_moved_chart() -> None:
    sheet = read_sheet_text("key: Bb\n|: Cm7 |1. F7 :|2. Bb6 ||")
    up = Interval(2, 3)
    assert played(sheet.moved(up)) == played(sheet).moved(up)


@pytest.mark.parametrize(("beats", "short"), [(0, False), (1, True), (4, False), (5, False)])
def test_a_bar_is_short_when_its_notes_fill_part_of_it(beats: int, short: bool) -> None:
    assert WrittenBar("1", Meter(4, 4), Fraction(beats)).short is short
