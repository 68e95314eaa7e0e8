"""Tones that a test makes itself: known pitch, known time, nothing recorded."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

Sound = npt.NDArray[np.float64]
RATE = 16_000


def hertz(midi: float) -> float:
    return float(440 * 2 ** ((midi - 69) / 12))


def tone(
    midi: float | Sound,
    length_s: float,
    *,
    rate: int = RATE,
    partials: int = 8,
    attack_s: float = 0.01,
) -> Sound:
    """A held tone with overtones that fall 6 dB an octave; ``midi`` may move with time."""
    time = np.arange(round(length_s * rate)) / rate
    pitch = np.broadcast_to(np.asarray(midi, dtype=float), time.shape)
    cycles = np.cumsum(440 * 2 ** ((pitch - 69) / 12)) / rate
    rise = np.clip(time / attack_s, 0, 1) * np.clip((length_s - time) / 0.02, 0, 1)
    numbers = np.arange(1, partials + 1)
    heard = numbers * hertz(float(pitch.max())) < 0.45 * rate
    waves = np.sin(2 * np.pi * cycles[:, None] * numbers) / numbers * heard
    return np.asarray(0.3 * rise * waves.sum(axis=1))


def played(
    notes: Sequence[tuple[float, float, float]], length_s: float, *, rate: int = RATE
) -> Sound:
    """Notes of (onset, length, midi) in a silence."""
    sound = np.zeros(round(length_s * rate))
    for onset_s, held_s, midi in notes:
        begin = round(onset_s * rate)
        note = tone(midi, held_s, rate=rate)[: len(sound) - begin]
        sound[begin : begin + len(note)] += note
    return sound


def band(length_s: float, seed: int = 0) -> Sound:
    """Something like a band: noise bursts on the beat over changing low chords."""
    rng = np.random.default_rng(seed)
    sound = np.zeros(round(length_s * RATE))
    for beat in np.arange(0, length_s - 0.5, 0.5):
        begin = round(float(beat) * RATE)
        burst = rng.normal(size=2400) * np.exp(-np.arange(2400) / 500)
        sound[begin : begin + 2400] += 0.2 * burst
        low = tone(float(rng.integers(33, 48)), 0.45)
        sound[begin : begin + len(low)] += 0.5 * low
    return sound


def write(path: Path, sound: Sound, *, rate: int = RATE, channels: int = 1) -> Path:
    columns = np.repeat(sound[:, None], channels, axis=1)
    soundfile.write(path, columns, rate)
    return path
