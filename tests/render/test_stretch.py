"""Does a stretch of a part begin on its beat, and ring on behind its bars?"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from halfstep.backing import STYLES, click_part, make_backing
from halfstep.meter import Clock, clock_for
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.form import played
from halfstep.progression.load import typed_sheet
from halfstep.render.known_banks import SHIPPED_BANK
from halfstep.render.loudness import lufs_of, step_powers
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.stretch import LEAD, PACKET, LevelledPart, held_in, levelled, stretch_sound

SWING = next(style for style in STYLES if style.name == "swing")
CHART = played(typed_sheet("| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 |"))


def part_in_time(part: PlayedPart, tempo_bpm: float) -> LevelledPart:
    clock = clock_for(CHART.meter, tempo_bpm)
    return levelled(part, clock, Fraction(CHART.beats), SHIPPED_BANK)


@pytest.mark.parametrize("tempo_bpm", [40, 113, 300])
def test_every_click_is_on_the_frame_of_its_beat(tempo_bpm: float) -> None:
    played = part_in_time(click_part(CHART), tempo_bpm)
    alone = stretch_sound(played, Fraction(0), Fraction(1))
    assert alone is not None
    onset = _loud_at(alone[:, 0])
    for start in (4, 28):
        sound = stretch_sound(played, Fraction(start), Fraction(start + 1))
        assert sound is not None
        exact = played.clock.seconds(start) * FRAME_RATE
        assert abs(round(exact) - exact) <= 0.5
        assert abs(_loud_at(sound[:, 0]) - onset) <= 2, "the same click, by its own stretch"
    assert LEAD <= onset < LEAD + 100


def _loud_at(samples: np.ndarray) -> int:
    return int(np.argmax(np.abs(samples) > 0.2 * np.abs(samples).max()))


def test_a_stretch_rings_on_and_ends_in_silence_in_whole_packets() -> None:
    note = PlayedNote(Fraction(3), Fraction(2), 48, 90)
    played = part_in_time(PlayedPart("bass", 32, False, (note,)), 120)
    sound = stretch_sound(played, Fraction(0), Fraction(4))
    assert sound is not None
    assert len(sound) % PACKET == 0
    assert len(sound) > LEAD + 2.2 * FRAME_RATE, "the note is held over the bar line"
    assert not sound[-1].any()
    assert not sound[: LEAD + FRAME_RATE].any()


def test_a_stretch_in_which_nothing_begins_is_none() -> None:
    note = PlayedNote(Fraction(3), Fraction(2), 48, 90)
    played = part_in_time(PlayedPart("bass", 32, False, (note,)), 120)
    assert stretch_sound(played, Fraction(4), Fraction(8)) is None
    nobody = part_in_time(PlayedPart("bass", 32, False, ()), 120)
    assert stretch_sound(nobody, Fraction(0), Fraction(8)) is None


def test_what_is_held_over_the_edges_sounds_in_each_stretch() -> None:
    note = PlayedNote(Fraction(0), Fraction(32), 50, 64)
    drone = PlayedPart("drone", 71, False, (note,))
    (held,) = held_in(drone, Fraction(12), Fraction(16)).notes
    assert (held.onset, held.beats) == (12, 4)
    assert not held_in(drone, Fraction(32), Fraction(36)).notes


@pytest.mark.slow
def test_the_band_together_is_as_loud_as_a_mix() -> None:
    band = make_backing(CHART, style=SWING, seed=1, tempo_bpm=120)
    clock = Clock(120.0, 2.0)
    parts = [levelled(part, clock, Fraction(CHART.beats), SHIPPED_BANK) for part in band]
    sounds = [stretch_sound(part, Fraction(0), Fraction(32)) for part in parts]
    mix = np.zeros((2, max(len(sound) for sound in sounds if sound is not None)), np.float32)
    for sound in sounds:
        assert sound is not None
        mix[:, : len(sound)] += sound.T / 32768
    assert abs(lufs_of(step_powers(mix)) + 20) < 2
    assert np.abs(mix).max() < 1
