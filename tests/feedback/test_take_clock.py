"""Are heard seconds counted in the beats that were meant? Held against made-up players.

Source: that a saxophonist's note on the beat comes late by a tenth of it where eighths swing
was counted on 12,619 pairs of eighths in tables of transcribed solos (MIT); Nelias et al. 2022
have 30 ms, 9 % at 150 bpm.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.feedback.take_clock import TakeClock, clocked_notes
from halfstep.meter import Feel
from made_takes import Player, meant_places, played

BARS = 16
TEMPI = (40, 60, 90, 120, 160, 200, 240, 300)


def share_right(player: Player, seed: int = 0, feel: Feel = Feel.SWING) -> float:
    """The share of notes that stand on the place they were meant on."""
    places = meant_places(player, BARS, seed)
    clock = TakeClock(player.quarter_s, 2.0, is_offset_known=True)
    notes = clocked_notes(played(player, places, seed), clock, form=player.form, feel=feel)
    assert len(notes) == len(places)
    return sum(note.place == place for note, place in zip(notes, places, strict=True)) / len(places)


@pytest.mark.parametrize("bpm", TEMPI)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8", "7/8"])
def test_every_note_of_a_good_player_gets_its_place(meter: str, bpm: int) -> None:
    assert share_right(Player(bpm=bpm, meter=meter)) >= 0.97


@pytest.mark.parametrize("half", [0.5, 0.57, 0.62, 0.667])
@pytest.mark.parametrize("bpm", TEMPI)
def test_eighths_are_eighths_however_they_swing(bpm: int, half: float) -> None:
    assert share_right(Player(bpm=bpm, half=half)) >= 0.97


@pytest.mark.parametrize("half", [0.5, 0.58, 0.66])
@pytest.mark.parametrize("bpm", [80, 120, 200])
def test_triplets_of_quarters_stand_on_their_thirds(bpm: int, half: float) -> None:
    """Two bars of eighths, and a bar of two such triplets; neither is read for the other."""
    player = Player(bpm=bpm, half=half)
    triplets = [Fraction(2 * place, 3) for place in range(6)]
    bars = [[Fraction(place, 2) for place in range(8)]] * 2 + [triplets]
    places = [4 * bar + place for bar in range(12) for place in bars[bar % 3]]
    clock = TakeClock(player.quarter_s, 2.0, is_offset_known=True)
    notes = clocked_notes(played(player, places, bpm), clock, form=player.form, feel=Feel.SWING)
    right = sum(note.place == place for note, place in zip(notes, places, strict=True))
    assert right >= 0.98 * len(places)


@pytest.mark.parametrize("late_s", [-0.03, 0.08])
def test_a_player_who_is_late_throughout_is_read_right(late_s: float) -> None:
    assert share_right(Player(bpm=120, late_s=late_s)) == 1


def test_a_take_without_a_note_has_no_note() -> None:
    player = Player()
    clock = TakeClock(player.quarter_s, 2.0, is_offset_known=True)
    assert clocked_notes([], clock, form=player.form, feel=Feel.SWING) == ()
