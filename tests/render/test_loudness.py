"""Loudness against the standard's own figures and against pyloudnorm.

Source: ITU-R BS.1770-4 (from memory); pyloudnorm, another program's reading of it.
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.render import loudness
from halfstep.render.loudness import loudness_lufs

RATE = 44_100
TIME_S = np.arange(10 * RATE) / RATE
NOISE = np.random.default_rng(7).normal(size=len(TIME_S)) * 0.1
SILENT = float("-inf")


def sine(hz: float, level: float = 1.0) -> np.ndarray:
    return level * np.sin(2 * np.pi * hz * TIME_S)


def stereo(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    return np.stack([left, right], axis=1).astype(np.float32)


def both(mono: np.ndarray) -> np.ndarray:
    return stereo(mono, mono)


def test_a_full_scale_sine_in_one_channel_is_three_below_zero() -> None:
    """ITU-R BS.1770-4: 997 Hz at 0 dBFS in the left channel reads −3.01 (from memory)."""
    assert loudness_lufs(stereo(sine(997), sine(997, 0))) == pytest.approx(-3.01, abs=0.05)


def test_it_does_not_matter_which_channel_it_is() -> None:
    left = loudness_lufs(stereo(sine(997), sine(997, 0)))
    assert loudness_lufs(stereo(sine(997, 0), sine(997))) == pytest.approx(left, abs=1e-6)


def test_two_channels_are_three_louder_than_one() -> None:
    """Powers add: 10 log10 of 2."""
    single = loudness_lufs(stereo(sine(997), sine(997, 0)))
    assert loudness_lufs(both(sine(997))) - single == pytest.approx(3.01, abs=0.01)


@pytest.mark.parametrize("decibels", [-6.0, -20.0, -40.0, 6.0])
def test_a_gain_is_a_difference_in_loudness(decibels: float) -> None:
    sound = both(NOISE)
    softer = sound * np.float32(10 ** (decibels / 20))
    assert loudness_lufs(softer) - loudness_lufs(sound) == pytest.approx(decibels, abs=0.01)


@pytest.mark.parametrize(
    "mono",
    [
        sine(80, 0.3), sine(300, 0.3), sine(1000, 0.3), sine(5000, 0.3), sine(12_000, 0.3),
        NOISE, NOISE * (TIME_S % 2 < 0.5), NOISE * (1 - TIME_S / 10),
    ],
    ids=["80", "300", "1000", "5000", "12000", "noise", "bursts", "fading"],
)  # fmt: skip
def test_it_agrees_with_pyloudnorm(mono: np.ndarray) -> None:
    sound = stereo(mono, 0.5 * mono)
    expected = pyloudnorm.Meter(RATE).integrated_loudness(sound)
    assert loudness_lufs(sound) == pytest.approx(expected, abs=0.3)


@pytest.mark.slow
@settings(max_examples=12)
@given(st.integers(0, 10_000), st.floats(0.5, 9.5), st.floats(-30, 0))
def test_it_agrees_with_pyloudnorm_on_any_noise(
    seed: int, length_s: float, level_db: float
) -> None:
    """Two noises of different colour, one after the other at another level."""
    noise = np.random.default_rng(seed).normal(size=(len(TIME_S), 2)) * 0.1
    noise[1:] += 0.8 * noise[:-1]
    noise[round(length_s * RATE) :] *= 10 ** (level_db / 20)
    expected = pyloudnorm.Meter(RATE).integrated_loudness(noise)
    assert loudness_lufs(noise.astype(np.float32)) == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize("hz", [20, 40, 60, 100, 300, 2000, 5000, 10_000, 18_000])
def test_the_weighting_is_that_of_pyloudnorms_filters(hz: float) -> None:
    """Low tones weigh less than 1000 Hz, and high ones about 3 dB more."""
    bins = np.fft.rfftfreq(loudness.STEP, 1 / RATE)
    near, middle = (np.abs(bins - place).argmin() for place in (hz, 1000.0))
    turn = np.exp(-2j * np.pi * bins[[near, middle]] / RATE)
    gains = np.ones(2)
    for stage in pyloudnorm.Meter(RATE)._filters.values():
        upper, lower = (np.polyval(part[::-1], turn) for part in (stage.b, stage.a))
        gains *= np.abs(upper / lower)
    weights = loudness._weights()
    ours = 10 * np.log10(weights[near] / weights[middle])
    assert ours == pytest.approx(20 * np.log10(gains[0] / gains[1]), abs=0.05)
    assert (ours > 2) == (hz > 1500)
    assert (ours < -1) == (hz < 200)


# Gates


def test_silence_has_none() -> None:
    assert loudness_lufs(np.zeros((RATE, 2), np.float32)) == SILENT


def test_no_sound_at_all_has_none() -> None:
    assert loudness_lufs(np.zeros((0, 2), np.float32)) == SILENT


def test_what_is_under_minus_seventy_is_silence() -> None:
    """The absolute gate."""
    just_over, just_under = (both(sine(997, 10 ** (db / 20))) for db in (-68, -72))
    assert loudness_lufs(just_over) == pytest.approx(-68, abs=0.1)
    assert loudness_lufs(just_under) == SILENT


def test_rests_do_not_count() -> None:
    """The absolute gate leaves out what is silent: half of it makes nothing softer."""
    whole = both(sine(997, 0.3))
    halved = whole * (TIME_S < 5)[:, None]
    assert loudness_lufs(halved) == pytest.approx(loudness_lufs(whole), abs=0.2)


def test_what_is_much_softer_than_the_rest_does_not_count() -> None:
    """The relative gate, ten under: 20 dB softer is left out, 6 dB softer is not."""
    loud = loudness_lufs(both(sine(997, 0.3)))
    levels = {db: np.where(TIME_S < 5, 1, 10 ** (db / 20))[:, None] for db in (-20, -6)}
    much, little = (loudness_lufs(both(sine(997, 0.3)) * levels[db]) for db in (-20, -6))
    assert much == pytest.approx(loud, abs=0.3)
    mean = 10 * np.log10((1 + 10**-0.6) / 2)
    assert little == pytest.approx(loud + mean, abs=0.2)


# Lengths


@pytest.mark.parametrize("frames", [500, 4410, 17_640, 20_000, 40_000])
def test_a_short_sound_is_measured_as_it_is(frames: int) -> None:
    """Less than a tenth of a second is one with silence behind it."""
    sound = both(sine(997, 0.3))[:frames]
    full = loudness_lufs(both(sine(997, 0.3)))
    share = min(1.0, frames / loudness.STEP)
    assert loudness_lufs(sound) == pytest.approx(full + 10 * np.log10(share), abs=0.3)


def test_a_long_sound_is_as_loud_as_its_pieces() -> None:
    """A minute of the same noise is as loud as ten seconds of it."""
    ten = both(NOISE)
    assert loudness_lufs(np.tile(ten, (6, 1))) == pytest.approx(loudness_lufs(ten), abs=0.05)


def test_a_steady_offset_is_not_heard() -> None:
    assert loudness_lufs(np.full((RATE, 2), 0.5, np.float32)) == SILENT
