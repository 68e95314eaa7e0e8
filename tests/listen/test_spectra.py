"""What the network is shown: where a tone appears, and that pieces join."""

from __future__ import annotations

import json
from types import ModuleType

import numpy as np
import onnxruntime
import pytest
from tones import hertz

from halfstep.listen import spectra
from halfstep.listen.network import MODEL
from halfstep.listen.spectra import BINS_A_SEMITONE, HOP, LOW, RATE


def sine(midi: float, length_s: float, amplitude: float = 0.5) -> np.ndarray:
    time = np.arange(round(length_s * RATE)) / RATE
    return np.asarray(amplitude * np.sin(2 * np.pi * hertz(midi) * time), dtype=np.float32)


@pytest.mark.parametrize("midi", [57, 69, 81, 93])
def test_a_sine_stands_in_the_bin_of_its_note_at_the_level_of_the_take(midi: int) -> None:
    """By construction: its RMS is the level, so it nearly reaches 1."""
    sound = sine(midi, 1.0)
    harmonics, bands = spectra.spectra(sound, spectra.level_of(sound), first=10, pairs=25)
    own = harmonics[:, :, 1]
    assert set(own.argmax(axis=1)) == {BINS_A_SEMITONE * (midi - LOW) + 1}
    assert 0.85 < own.max() < 1.03
    assert bands.shape == (25, 2 * spectra.BANDS)


def test_a_tuned_scale_follows_the_player() -> None:
    sound = sine(69.4, 1.0)
    level = spectra.level_of(sound)
    tuned, _ = spectra.spectra(sound, level, first=10, pairs=5, tuning_cents=40)
    assert set(tuned[:, :, 1].argmax(axis=1)) == {BINS_A_SEMITONE * (69 - LOW) + 1}


BEHIND = ((0.5, 1, 2, 3, 4, 5, 6, 7), (1, 2, 3, 4))
"""What stands behind a note: multiples of its pitch, in the long window and in the short."""


@pytest.mark.parametrize("midi", [48, 60, 69])
def test_overtones_stand_behind_their_note(midi: int) -> None:
    """A sine at each multiple of a note's pitch, by the harmonic series: its slice and no other.

    A slice of the same multiple in the other window sees it too.
    """
    multiples = [multiple for window in BEHIND for multiple in window]
    for multiple in multiples:
        sound = sine(midi + 12 * np.log2(multiple), 1.0)
        shown, _ = spectra.spectra(sound, spectra.level_of(sound), first=10, pairs=5)
        behind = shown[:, BINS_A_SEMITONE * (midi - LOW) + 1]
        sees = np.array(multiples) == multiple
        assert behind[:, sees].min() > 0.8
        assert behind[:, ~sees].max() < 0.7


@pytest.mark.parametrize("window", [spectra.LONG, spectra.SHORT])
def test_a_bank_in_parts_is_the_bank(window: int) -> None:
    """The parts put together, where the rest of the bank is empty."""
    whole = np.zeros_like(spectra.pitch_bank(window, 20))
    for part in spectra.pitch_parts(window, 20):
        whole[part.rows, part.columns] = part.weights
    assert np.array_equal(whole, spectra.pitch_bank(window, 20))


def test_the_network_is_shown_what_it_was_taught_with(fingerprint: ModuleType) -> None:
    """The model carries the spectra of a sweep as they were when it was trained."""
    taught = onnxruntime.InferenceSession(MODEL.read_bytes()).get_modelmeta()
    shown = json.loads(taught.custom_metadata_map["fingerprint"])
    assert fingerprint.fingerprint() == pytest.approx(shown, abs=2e-3)


def test_loudness_is_taken_out() -> None:
    loud, quiet = sine(69, 1.0), sine(69, 1.0, 0.005)
    one = spectra.spectra(loud, spectra.level_of(loud), first=0, pairs=50)
    other = spectra.spectra(quiet, spectra.level_of(quiet), first=0, pairs=50)
    for here, there in zip(one, other, strict=True):
        assert np.allclose(here, there, atol=1e-3)


def test_frames_are_the_same_however_the_sound_is_cut() -> None:
    sound = np.random.default_rng(0).normal(size=2 * RATE).astype(np.float32)
    whole, _ = spectra.spectra(sound, 1.0, first=0, pairs=RATE // HOP)
    for first, pairs in ((0, 7), (25, 20), (90, 10)):
        part, _ = spectra.spectra(sound, 1.0, first=first, pairs=pairs)
        assert np.allclose(part, whole[first : first + pairs], atol=1e-5)
