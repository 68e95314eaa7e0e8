"""The room: how long it rings, what it leaves out, and that it knows no seam."""

from __future__ import annotations

import numpy as np
import pytest

from halfstep.render.room import MEMORY, Bus, in_room, room_response
from halfstep.render.sampler import FRAME_RATE


def bus_of(*, dry: np.ndarray, send: np.ndarray) -> Bus:
    return Bus(dry.astype(np.float32), send.astype(np.float32))


def noise(frames: int) -> Bus:
    chance = np.random.default_rng(3)
    return bus_of(dry=chance.normal(size=(2, frames)), send=chance.normal(size=frames))


def decay_s(response: np.ndarray) -> float:
    """From the energy that is still to come, between -5 and -25 dB (Schroeder 1965; ISO 3382)."""
    left = np.cumsum(np.square(response)[::-1])[::-1]
    levels_db = 10 * np.log10(left / left[0] + 1e-12)
    start, end = (int(np.argmax(levels_db < level)) for level in (-5, -25))
    return 3 * (end - start) / FRAME_RATE


def test_the_room_is_small() -> None:
    """It rings three to five tenths of a second, as a furnished room; to either ear its own way."""
    left, right = room_response()
    assert 0.3 < decay_s(left) < 0.5
    assert 0.3 < decay_s(right) < 0.5
    assert abs(np.corrcoef(left, right)[0, 1]) < 0.3


def test_the_walls_answer_soon_and_the_ends_are_silent() -> None:
    """The first reflection within ten milliseconds; nothing is cut off."""
    for ear in room_response():
        first = np.flatnonzero(np.abs(ear) > 0.1)[0]
        assert 0.001 < first / FRAME_RATE < 0.01
        assert np.abs(ear[-100:]).max() < 1e-4
        assert np.square(ear).sum() == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("frames", [500, 9000, 60_000])
def test_what_goes_round_is_the_middle_of_many(frames: int) -> None:
    """However short it is against the memory of the room."""
    bus = noise(frames)
    times = 2 + MEMORY // frames
    long = bus_of(dry=np.tile(bus.dry, times + 1), send=np.tile(bus.send, times + 1))
    around = in_room(bus, bus.last(MEMORY))
    assert np.allclose(in_room(long)[:, times * frames :], around, atol=2e-3)


def test_pieces_of_a_long_sound_know_no_seam() -> None:
    whole, half = noise(150_000), 70_000
    second = Bus(whole.dry[:, half:], whole.send[half:])
    assert np.allclose(
        in_room(whole)[:, half:], in_room(second, whole.last(MEMORY, end=half)), atol=2e-3
    )


def tone(hz: float) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(FRAME_RATE) / FRAME_RATE)


@pytest.mark.parametrize(("hz", "kept"), [(60, 0.0), (100, 0.2), (1000, 1.0)])
def test_there_is_no_side_in_the_lows(hz: float, kept: float) -> None:
    sound = in_room(bus_of(dry=np.stack([tone(hz), tone(hz)]), send=0 * tone(hz)))
    middle, side, walls = np.abs(sound[:, FRAME_RATE // 2 :]).max(axis=1)
    assert walls == 0
    assert middle == pytest.approx(1, abs=0.02)
    assert side == pytest.approx(kept, abs=0.06)


def test_what_is_off_the_zero_line_comes_back_to_it() -> None:
    still = np.full((2, FRAME_RATE), 0.5)
    sound = in_room(bus_of(dry=still, send=still[0]))
    assert np.abs(sound[:, FRAME_RATE // 2 :]).max() < 1e-4


def test_silence_stays_silent() -> None:
    assert not in_room(bus_of(dry=np.zeros((2, 1000)), send=np.zeros(1000))).any()
