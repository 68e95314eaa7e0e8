"""The melody of a lead sheet comes in the order it is played, ties joined."""

from __future__ import annotations

from fractions import Fraction

from halfstep.progression.form import played
from halfstep.progression.melody import played_melody
from halfstep.progression.notations.abc_reader import read_abc_text
from halfstep.progression.sheet import LeadSheet


def sheet_of(music: str) -> LeadSheet:
    return read_abc_text(f"X:1\nM:4/4\nL:1/4\nK:C\n{music}\n")


def notes_of(music: str) -> list[tuple[Fraction, Fraction, int]]:
    return [(note.onset, note.beats, note.midi) for note in played_melody(sheet_of(music))]


def test_a_note_has_its_place_and_its_concert_pitch() -> None:
    assert notes_of('"C"C z ^F2|') == [(0, 1, 60), (2, 2, 66)]


def test_a_pickup_lies_before_bar_one() -> None:
    assert notes_of('G|"C"C4|"F"F4|]') == [(-1, 1, 67), (0, 4, 60), (4, 4, 65)]


def test_repeats_and_endings_are_taken() -> None:
    midis = [midi for *_, midi in notes_of('|:"C"C4|1"F"F4:|2"G"G4|]')]
    assert midis == [60, 65, 60, 67]


def test_the_notes_before_a_repeat_fill_its_last_bar_when_it_goes_back() -> None:
    """Three beats and the upbeat make the bar before the repeat, as the chart has it."""
    music = 'G|"C"C4|"F"F3:|'
    last = notes_of(music)[-2:]
    assert played(sheet_of(music)).beats == 16
    assert [note for note in notes_of(music) if note[0] == 7] == [(7, 1, 67)]
    assert last == [(8, 4, 60), (12, 3, 65)]


def test_a_tied_note_is_one_over_the_bar_line() -> None:
    assert notes_of('"C"C2 E2-|"F"E2 F2|') == [(0, 2, 60), (2, 4, 64), (6, 2, 65)]


def test_every_note_of_a_sheet_without_repeats_is_played_once() -> None:
    sheet = sheet_of('"C"CDEF|"F"z GAB|"G"c4|]')
    assert len(played_melody(sheet)) == sum(len(bar.notes) for bar in sheet.bars)
