"""How does a sound look to the network? Three log spectra, ten milliseconds apart.

Two spectra on a scale of three bins a semitone, from a long and a shorter window, and one
of broad bands from a brief window that shows attacks. `harmonics` lays the first two so
that a note's partials stand behind its own bin. The level of the take is taken out, and
the scale can be tuned to the player.

Conventions
-----------
- Sound is mono float32 at `RATE`, shape (samples,).
- Frame i is centred on sample ``i * HOP``; what lies outside the sound is silence.
- Spectra are float32, shape (frames, bins): 0 sixty decibels under a sine as loud as the
  take's level, 1 at it.

Sources: the discrete Fourier transform and the Hann window, from any handbook; the mel
scale as in O'Shaughnessy 1987, from memory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

RATE = 16_000
"""Samples a second."""
HOP = 160
"""Samples between frames."""
LOW, SEMITONES = 36, 61
"""The lowest note that is heard, C2, and how many there are, up to C7."""
BINS_A_SEMITONE = 3
LONG, SHORT, BRIEF = 2048, 1024, 400
"""Lengths of the three windows in samples: 128, 64 and 25 ms."""
BANDS = 48
OVERTONES = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0)
"""Multiples of its pitch that are laid behind a note, in the long spectrum."""
SHORT_OVERTONES = (1.0, 2.0, 3.0, 4.0)
FLOOR_DB = 60.0

_OCTAVE = 12 * BINS_A_SEMITONE
_BELOW = _OCTAVE
_BINS = _BELOW + BINS_A_SEMITONE * SEMITONES + round(_OCTAVE * float(np.log2(OVERTONES[-1])))
_TOP_HZ = 7800.0
_LOWEST_BAND_HZ = 60.0


def bin_hz(tuning_cents: float = 0.0) -> npt.NDArray[np.float64]:
    """The middle of each bin of the log spectra; every third lies on a note."""
    semitones = LOW - 12 + (np.arange(_BINS) - 1) / BINS_A_SEMITONE + tuning_cents / 100
    return np.asarray(440.0 * np.exp2((semitones - 69) / 12), dtype=np.float64)


@lru_cache(maxsize=16)
def pitch_bank(window: int, tuning_cents: float = 0.0) -> Floats:
    """Weights from the Fourier bins of a window, padded to twice its length, to log bins.

    Returns
    -------
    float32 array, shape (window + 1, bins)
    """
    spacing = RATE / (2 * window)
    middle = bin_hz(tuning_cents)
    wide = np.maximum(middle * (2 ** (1 / _OCTAVE) - 1), spacing)
    hz = np.arange(window + 1) * spacing
    weights = np.clip(1 - np.abs(hz[:, None] - middle) / wide, 0, None)
    weights /= np.maximum(weights.sum(axis=0), 1e-9)
    weights[:, middle > _TOP_HZ] = 0
    return weights.astype(np.float32)


@lru_cache(maxsize=1)
def band_bank() -> Floats:
    """Weights from the Fourier bins of the brief window, padded to 512, to mel bands."""
    top = 2595 * np.log10(1 + _TOP_HZ / 700)
    low = 2595 * np.log10(1 + _LOWEST_BAND_HZ / 700)
    edges = 700 * (10 ** (np.linspace(low, top, BANDS + 2) / 2595) - 1)
    hz = np.arange(257) * RATE / 512
    rise = (hz[:, None] - edges[:-2]) / np.diff(edges)[:-1]
    fall = (edges[2:] - hz[:, None]) / np.diff(edges)[1:]
    weights = np.clip(np.minimum(rise, fall), 0, None)
    weights /= np.maximum(weights.sum(axis=0), 1e-9)
    return weights.astype(np.float32)


def harmonic_places() -> tuple[tuple[int, ...], tuple[int, ...]]:
    """First bin of each overtone's slice in the long and the short log spectrum."""
    return _places(OVERTONES), _places(SHORT_OVERTONES)


def _places(overtones: tuple[float, ...]) -> tuple[int, ...]:
    return tuple(_BELOW + round(_OCTAVE * float(np.log2(overtone))) for overtone in overtones)


def windows() -> tuple[tuple[int, int], ...]:
    """Each window in samples, and the length that it is padded to."""
    return (LONG, 2 * LONG), (SHORT, 2 * SHORT), (BRIEF, 512)


@lru_cache(maxsize=4)
def hann(window: int) -> Floats:
    """A Hann window whose sum is two, so that a sine of amplitude 1 has magnitude 1."""
    rise = np.sin(np.pi * (np.arange(window) + 0.5) / window) ** 2
    return np.asarray(2 * rise / rise.sum(), dtype=np.float32)


def level_of(sound: Floats) -> float:
    """The loudness of a take: the 95th percentile of the RMS of its frames of 25 ms."""
    return float(np.percentile(frame_levels(sound), 95)) if len(sound) else 0.0


def frame_levels(sound: Floats) -> Floats:
    """RMS of each 25 ms that follow each other."""
    whole = sound[: len(sound) // BRIEF * BRIEF] if len(sound) >= BRIEF else sound
    frames = whole.reshape(-1, min(BRIEF, max(1, len(whole))))
    return np.asarray(np.sqrt(np.mean(np.square(frames), axis=1)))


def over_floor(magnitudes: Any, level: Any, np: Any = np) -> Any:
    """Magnitudes as decibels over the floor, 1 at the level of the take."""
    peak = 1.4142 * level
    return 1 + np.log10(np.square(magnitudes / peak) + 10 ** (-FLOOR_DB / 10)) * (10 / FLOOR_DB)


def spectra(
    sound: Floats, level: float, *, first: int, frames: int, tuning_cents: float = 0.0
) -> tuple[Floats, Floats]:
    """What the network sees of some frames.

    Parameters
    ----------
    sound : float32 array, shape (samples,)
    level : float
        As `level_of` gives it, over 0.
    first, frames : int
        Which frames.
    tuning_cents : float
        How far the player's A lies from 440 Hz.

    Returns
    -------
    harmonics : float32 array, shape (frames, 183, 12)
        The overtones of three bins a semitone.
    bands : float32 array, shape (frames, 48)
    """
    halves = LONG // 2
    begin = first * HOP - halves
    piece = sound[max(0, begin) : first * HOP + (frames - 1) * HOP + halves]
    piece = np.pad(piece, (max(0, -begin), 0))
    piece = np.pad(piece, (0, (frames - 1) * HOP + LONG - len(piece)))
    banks = (pitch_bank(LONG, tuning_cents), pitch_bank(SHORT, tuning_cents), band_bank())
    scales = []
    for (window, length), bank in zip(windows(), banks, strict=True):
        start = halves - window // 2
        framed = np.lib.stride_tricks.sliding_window_view(piece[start:], window)[::HOP][:frames]
        magnitudes = np.abs(np.fft.rfft(framed * hann(window), length))
        scales.append(over_floor(magnitudes.astype(np.float32) @ bank, level).astype(np.float32))
    return stacked_overtones(scales[0], scales[1]), scales[2]


def stacked_overtones(long: Any, short: Any, np: Any = np) -> Any:
    """Overtones behind their note: the last axis of the result, shape (..., 183, 12)."""
    width = BINS_A_SEMITONE * SEMITONES
    places = harmonic_places()
    slices = [
        spectrum[..., place : place + width]
        for spectrum, start in zip((long, short), places, strict=True)
        for place in start
    ]
    return np.stack(slices, axis=-1)
