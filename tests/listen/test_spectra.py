"""What the network is shown: where a tone appears, and that pieces join."""

from __future__ import annotations

import numpy as np
import pytest
from tones import hertz

from halfstep.listen import spectra
from halfstep.listen.spectra import BINS_A_SEMITONE, HOP, LOW, RATE


def sine(midi: float, length_s: float, amplitude: float = 0.5) -> np.ndarray:
    time = np.arange(round(length_s * RATE)) / RATE
    return np.asarray(amplitude * np.sin(2 * np.pi * hertz(midi) * time), dtype=np.float32)


@pytest.mark.parametrize("midi", [57, 69, 81, 93])
def test_a_sine_stands_in_the_bin_of_its_note_at_the_level_of_the_take(midi: int) -> None:
    """By construction: its RMS is the level, so it nearly reaches 1."""
    sound = sine(midi, 1.0)
    harmonics, bands = spectra.spectra(sound, spectra.level_of(sound), first=20, frames=50)
    own = harmonics[:, :, 1]
    assert set(own.argmax(axis=1)) == {BINS_A_SEMITONE * (midi - LOW) + 1}
    assert 0.85 < own.max() < 1.03
    assert bands.shape == (50, spectra.BANDS)


def test_a_tuned_scale_follows_the_player() -> None:
    sound = sine(69.4, 1.0)
    level = spectra.level_of(sound)
    tuned, _ = spectra.spectra(sound, level, first=20, frames=10, tuning_cents=40)
    assert set(tuned[:, :, 1].argmax(axis=1)) == {BINS_A_SEMITONE * (69 - LOW) + 1}


def test_overtones_stand_behind_their_note() -> None:
    for place, overtone in enumerate(spectra.OVERTONES):
        sound = sine(60, 1.0) if overtone == 1 else sine(60 + 12 * np.log2(overtone), 1.0)
        shown, _ = spectra.spectra(sound, spectra.level_of(sound), first=20, frames=10)
        assert shown[:, BINS_A_SEMITONE * (60 - LOW) + 1, place].min() > 0.8


def test_loudness_is_taken_out() -> None:
    loud, quiet = sine(69, 1.0), sine(69, 1.0, 0.005)
    one = spectra.spectra(loud, spectra.level_of(loud), first=0, frames=100)
    other = spectra.spectra(quiet, spectra.level_of(quiet), first=0, frames=100)
    for here, there in zip(one, other, strict=True):
        assert np.allclose(here, there, atol=1e-3)


def test_frames_are_the_same_however_the_sound_is_cut() -> None:
    sound = np.random.default_rng(0).normal(size=2 * RATE).astype(np.float32)
    whole, _ = spectra.spectra(sound, 1.0, first=0, frames=2 * RATE // HOP)
    for first, frames in ((0, 7), (50, 20), (190, 10)):
        part, _ = spectra.spectra(sound, 1.0, first=first, frames=frames)
        assert np.allclose(part, whole[first : first + frames], atol=1e-5)
