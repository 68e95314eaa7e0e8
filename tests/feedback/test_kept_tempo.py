"""Is the tempo of a player alone found, and a recording at a wrong speed put right?

Source: 48 kHz read as 44.1 kHz is 12·log2(48/44.1) = 1.467 semitones, 8.8 % (arithmetic).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halfstep.feedback.kept_tempo import at_true_speed, kept_quarter_s, speed_of
from halfstep.listen.heard_take import HeardNote, HeardTake
from made_takes import Player, meant_places, played


def kept(player: Player, seed: int = 0, bars: int = 24) -> float:
    """Times as fast as was said."""
    notes = played(player, meant_places(player, bars, seed), seed)
    onsets_s = [note.onset_s for note in notes]
    return player.quarter_s / kept_quarter_s(onsets_s, player.quarter_s, player.form.cell)


@pytest.mark.parametrize("tempo", [0.85, 112 / 120, 1.09, 1.2])
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8"])
@pytest.mark.parametrize("bpm", [60, 120, 180])
def test_a_player_alone_is_counted_at_the_tempo_that_is_played(
    bpm: int, meter: str, tempo: float
) -> None:
    player = Player(bpm=bpm, meter=meter, tempo=tempo)
    assert kept(player) == pytest.approx(tempo, rel=0.01)


@pytest.mark.parametrize("half", [0.5, 0.6, 0.667])
@pytest.mark.parametrize("bpm", [50, 100, 160, 240, 300])
def test_the_tempo_that_was_said_is_kept_where_it_is_played(bpm: int, half: float) -> None:
    assert kept(Player(bpm=bpm, half=half, spread_s=0.03, wander_s=0.02)) == 1
    assert kept(Player(bpm=bpm, half=half, faster=0.04)) == 1


def test_too_few_notes_say_no_tempo() -> None:
    assert kept_quarter_s([0.0, 0.4, 0.8], 0.5, Fraction(1)) == 0.5
    assert kept_quarter_s([], 0.5, Fraction(1)) == 0.5


@pytest.mark.parametrize("speed", [48 / 44.1, 44.1 / 48])
def test_a_take_at_a_wrong_sampling_rate_is_put_right(speed: float) -> None:
    player = Player(bpm=110)
    true = played(player, meant_places(player, 24, 0), 0)
    fast = HeardTake(tuple(_at_speed(note, speed) for note in true), 60.0).named(
        -47.0 if speed < 1 else 47.0
    )
    onsets_s = [note.onset_s for note in fast.notes]
    kept_s = kept_quarter_s(onsets_s, player.quarter_s, Fraction(1))
    assert speed_of(fast, player.quarter_s, kept_s) == pytest.approx(speed)
    right = at_true_speed(fast, speed)
    assert [note.midi for note in right.notes] == [note.midi for note in true]
    assert right.notes[-1].onset_s == pytest.approx(true[-1].onset_s)
    assert abs(right.tuning_cents) < 1


def test_a_player_who_is_only_slower_has_a_recording_at_the_right_speed() -> None:
    take = HeardTake((), 60.0, tuning_cents=3.0)
    assert speed_of(take, 0.5, 0.5 * 48 / 44.1) == 1


def _at_speed(note: HeardNote, speed: float) -> HeardNote:
    rise = 100 * (1.467 if speed > 1 else -1.467)
    return replace(
        note,
        onset_s=note.onset_s / speed,
        offset_s=note.offset_s / speed,
        pitch_midi=note.pitch_midi + rise / 100,
    )
