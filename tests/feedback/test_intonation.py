"""Are written notes told sharp or flat, and only where it can be heard?

Source: 25 cents in a melody are heard (Larrouy-Maestri 2018).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.feedback.findings import Finding
from halfstep.feedback.intonation import tuning_findings
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import laid_take
from made_takes import Player, take_by


def findings(take: JudgedTake) -> list[Finding]:
    return [*tuning_findings(laid_take(take))]


@pytest.mark.parametrize("cents", [-40, -25, 25, 40])
@pytest.mark.parametrize(
    ("instrument", "written"), [("alto-sax", "D5"), ("tenor-sax", "G5"), ("flute", "F4")]
)
def test_a_note_that_is_off_throughout_is_told_by_its_written_name(
    cents: int, instrument: str, written: str
) -> None:
    take = take_by(Player(bpm=90, mistuned=((65, cents),)), instrument=instrument, seed=3)
    (finding,) = findings(take)
    assert finding.kind.value == ("sharp" if cents > 0 else "flat")
    assert str(finding.note) == written
    assert finding.amount == pytest.approx(cents, abs=5)
    assert finding.certainty > 0.95


@pytest.mark.parametrize("cents", [-14, 8, 14])
def test_what_nobody_hears_is_not_told(cents: int) -> None:
    assert findings(take_by(Player(mistuned=((65, cents),), cents=5))) == []


def test_a_player_who_is_out_of_tune_throughout_is_in_tune_with_himself() -> None:
    take = take_by(Player(mistuned=tuple((midi, 30.0) for midi in range(60, 73))))
    assert findings(take) == []


def test_scoops_and_short_notes_are_no_tuning() -> None:
    take = take_by(Player(bpm=90, mistuned=((65, 30),)))
    short = tuple(
        replace(note, sound=replace(note.sound, offset_s=note.sound.onset_s + 0.12))
        for note in take.notes
        if note.sound
    )
    assert findings(replace(take, notes=short)) == []
    assert findings(take_by(Player(bpm=90, cents=35))) == []


def test_a_bent_third_over_a_major_chord_is_no_fault() -> None:
    take = take_by(Player(bpm=90, mistuned=((65, 30),)))
    over_d = tuple(replace(note, midi=63, onset=0.5) for note in take.notes if note.midi == 65)
    others = tuple(note for note in take.notes if note.midi != 65)
    assert findings(replace(take, notes=(*others, *over_d))) == []


def test_a_note_so_far_off_that_it_is_heard_less_surely_is_told() -> None:
    take = take_by(Player(bpm=90, mistuned=((65, 42),)), seed=3)
    unsure = tuple(
        replace(note, sound=replace(note.sound, certainty=0.65 if note.midi == 65 else 0.97))
        for note in take.notes
        if note.sound
    )
    assert [finding.kind.value for finding in findings(replace(take, notes=unsure))] == ["sharp"]


def test_a_note_that_is_off_and_often_played_does_not_move_the_others() -> None:
    take = take_by(Player(bpm=90, mistuned=((65, 30), (67, -10))), seed=3)
    often = [note for note in take.notes if note.midi == 65] * 6
    assert len(often) > len(take.notes) / 2
    told = findings(replace(take, notes=(*take.notes, *often)))
    assert [finding.kind.value for finding in told] == ["sharp"]
