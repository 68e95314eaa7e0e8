"""Loudness against the standard's own figure and against pyloudnorm."""

import numpy as np
import pyloudnorm
import pytest

from halfstep.render.loudness import loudness_lufs

TIME_S = np.arange(10 * 44100) / 44100
NOISE = np.random.default_rng(7).normal(size=len(TIME_S)) * 0.1


def stereo(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    return np.stack([left, right], axis=1).astype(np.float32)


def test_a_full_scale_sine_in_one_channel_is_three_below_zero() -> None:
    """ITU-R BS.1770-4: 997 Hz at 0 dBFS in the left channel reads −3.01 (from memory)."""
    sine = np.sin(2 * np.pi * 997 * TIME_S)
    assert loudness_lufs(stereo(sine, 0 * sine)) == pytest.approx(-3.01, abs=0.05)


@pytest.mark.parametrize(
    "mono",
    [
        0.3 * np.sin(2 * np.pi * 80 * TIME_S),
        0.3 * np.sin(2 * np.pi * 5000 * TIME_S),
        NOISE,
        NOISE * (TIME_S % 2 < 0.5),
    ],
    ids=["low", "high", "noise", "bursts"],
)
def test_it_agrees_with_pyloudnorm(mono: np.ndarray) -> None:
    sound = stereo(mono, 0.5 * mono)
    expected = pyloudnorm.Meter(44100).integrated_loudness(sound)
    assert loudness_lufs(sound) == pytest.approx(expected, abs=0.3)


def test_silence_has_none() -> None:
    assert loudness_lufs(np.zeros((44100, 2), np.float32)) == float("-inf")
