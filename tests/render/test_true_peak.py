"""Peaks between samples, held against scipy's resampler, and how they are lowered."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly

from halfstep.render.true_peak import needed_gain, smoothed, true_peak

RATE = 44_100


def struck(level: float = 1.0, frames: int = 40_000) -> np.ndarray:
    """Two channels of seeded noise that dies away from three strokes."""
    chance = np.random.default_rng(7)
    fall = np.exp(-(np.arange(frames) % (frames // 3)) / 2000)
    return (level * chance.normal(size=(2, frames)) * fall / 4).astype(np.float32)


def by_scipy(sound: np.ndarray) -> float:
    return float(np.abs(resample_poly(sound, 4, 1, axis=1)).max())


def test_a_tone_at_a_quarter_of_the_rate_rises_three_decibels_over_its_samples() -> None:
    """Sampled at 45 degrees: the samples are at .707 of the peak (by construction)."""
    angle = np.pi / 2 * np.arange(2000) + np.pi / 4
    sound = (np.hanning(2000) * np.sin(angle)).astype(np.float32)[None]
    assert np.abs(sound).max() == pytest.approx(0.707, abs=0.001)
    assert true_peak(sound) == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("level", [0.01, 1.0])
def test_the_peak_is_that_of_another_resampler(level: float) -> None:
    sound = struck(level)
    assert true_peak(sound) == pytest.approx(by_scipy(sound), rel=0.03)
    assert true_peak(sound) >= np.abs(sound).max()


def test_silence_has_no_peak() -> None:
    assert true_peak(np.zeros((2, 100), np.float32)) == 0.0
    assert needed_gain(np.zeros((2, 100), np.float32), 0.5) is None


def test_a_sound_under_the_ceiling_is_left_alone() -> None:
    assert needed_gain(struck(0.1), 0.5) is None


def test_a_sound_over_the_ceiling_is_lowered_under_it_and_elsewhere_left() -> None:
    sound = struck()
    ceiling = 0.6 * true_peak(sound)
    needed = needed_gain(sound, ceiling)
    assert needed is not None
    gain = smoothed(needed)
    assert (gain <= needed + 1e-6).all()
    assert by_scipy(sound * gain) <= 1.03 * ceiling
    assert (gain == 1.0).mean() > 0.2
    assert np.abs(np.diff(gain)).max() < 0.002


@pytest.mark.parametrize("place", [0, 1, 5000, 9999])
def test_a_stroke_at_either_end_is_lowered_too(place: int) -> None:
    sound = np.zeros((2, 10_000), np.float32)
    sound[0, place] = 0.9
    needed = needed_gain(sound, 0.45)
    assert needed is not None
    assert smoothed(needed)[place] == pytest.approx(0.5, abs=0.02)
