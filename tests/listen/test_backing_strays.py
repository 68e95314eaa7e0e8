"""A recording that jumps, by construction: seen in what it holds of its backing."""

from __future__ import annotations

import numpy as np
import pytest
from tones import RATE, Sound, band, played

from halfstep.listen.backing_strays import PART_S, backing_strays
from halfstep.listen.thin_sound import ThinSound, thin_sound

LAG_S, LENGTH_S = 0.37, 24.0
BAND = band(LENGTH_S)
LINE = played([(0.4 * i + 0.1, 0.35, 60 + 5 * i % 13) for i in range(58)], LENGTH_S)
THIN_BAND = thin_sound([BAND.astype(np.float32)])


def take_of(level_db: float, *moves: tuple[float, float]) -> ThinSound:
    """A player with the band under it, which from some seconds on lies later by so much."""
    size = min(len(LINE), len(BAND))
    sound: Sound = LINE[:size] + 1e-4 * np.random.default_rng(5).normal(size=size)
    gain = 10 ** (level_db / 20) * np.sqrt(np.mean(LINE**2) / np.mean(BAND**2))
    late = np.full(size, round(LAG_S * RATE))
    for at_s, by_s in moves:
        late[round(at_s * RATE) :] += round(by_s * RATE)
    places = np.arange(size) - late
    inside = (places >= 0) & (places < len(BAND))
    sound[inside] += gain * BAND[places[inside]]
    return thin_sound([sound.astype(np.float32)])


@pytest.mark.parametrize("level_db", [0, -15, -30])
def test_a_backing_that_lies_where_it_should_is_nowhere_else(level_db: float) -> None:
    assert backing_strays(take_of(level_db), THIN_BAND, LAG_S) == ()


@pytest.mark.parametrize("level_db", [0, -15, -30])
@pytest.mark.parametrize("jump_s", [-0.044, 0.005, 0.09])
def test_a_jump_is_seen_when_it_comes_and_by_its_size(level_db: float, jump_s: float) -> None:
    strays = backing_strays(take_of(level_db, (11.0, jump_s)), THIN_BAND, LAG_S)
    assert strays[0].at_s == pytest.approx(11.0, abs=2 * PART_S)
    assert strays[-1].late_s == pytest.approx(jump_s, abs=3e-4)


def test_a_jump_that_comes_back_is_seen() -> None:
    strays = backing_strays(take_of(-15, (9.0, 0.03), (16.0, -0.03)), THIN_BAND, LAG_S)
    assert {round(stray.late_s, 3) for stray in strays} == {0.03}
    assert all(7.0 < stray.at_s < 16.0 for stray in strays)


def test_a_small_jump_that_comes_back_soon_is_seen() -> None:
    strays = backing_strays(take_of(-15, (9.0, 0.003), (12.0, -0.003)), THIN_BAND, LAG_S)
    assert {round(stray.late_s, 3) for stray in strays} == {0.003}


def test_a_take_without_its_backing_tells_nothing() -> None:
    alone = thin_sound([LINE.astype(np.float32)])
    assert backing_strays(alone, THIN_BAND, LAG_S) == ()
