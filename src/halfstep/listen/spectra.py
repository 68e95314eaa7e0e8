"""How does a sound look to the network? Three log spectra.

Two spectra on a scale of three bins a semitone, from a long and a shorter window, every
twenty milliseconds, and one of broad bands from a brief window that shows attacks, every
ten. `harmonics` lays the first two so that a note's partials stand behind its own bin. The
level of the take is taken out, and the scale can be tuned to the player.

Conventions
-----------
- Sound is mono float32 at `RATE`, shape (samples,).
- Frame i is centred on sample ``i * HOP``; what lies outside the sound is silence. Frames
  2 k and 2 k + 1 are pair k, which the two longer windows see from its middle.
- Spectra are float32: 0 sixty decibels under a sine as loud as the take's level, 1 at it.

Sources: the discrete Fourier transform and the Hann window, from any handbook; the mel
scale as in O'Shaughnessy 1987, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
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
PAIR = 2 * HOP
"""Samples between pairs of frames."""
LOW, SEMITONES = 36, 61
"""The lowest note that is heard, C2, and how many there are, up to C7."""
BINS_A_SEMITONE = 3
LONG, SHORT, BRIEF = 2048, 1024, 400
"""Lengths of the three windows in samples: 128, 64 and 25 ms."""
PADDED = 512
"""What the brief window is padded to."""
BANDS = 48
PARTIALS, SHORT_PARTIALS = 7, 4
"""How many partials of a note are laid behind it, from the long and the short spectrum;
before those of the long one stands what sounds an octave below it."""
FLOOR_DB = 60.0

_OCTAVE = 12 * BINS_A_SEMITONE
_BELOW = _OCTAVE
_BINS = _BELOW + BINS_A_SEMITONE * SEMITONES + round(_OCTAVE * float(np.log2(PARTIALS)))
_TOP_HZ = 7800.0
_LOWEST_BAND_HZ = 60.0


def bin_hz(tuning_cents: float = 0.0) -> npt.NDArray[np.float64]:
    """The middle of each bin of the log spectra; every third lies on a note."""
    semitones = LOW - 12 + (np.arange(_BINS) - 1) / BINS_A_SEMITONE + tuning_cents / 100
    return np.asarray(440.0 * np.exp2((semitones - 69) / 12), dtype=np.float64)


@lru_cache(maxsize=16)
def pitch_bank(window: int, tuning_cents: float = 0.0) -> Floats:
    """Weights from the Fourier bins of a window to log bins.

    Returns
    -------
    float32 array, shape (window / 2 + 1, bins)
    """
    spacing = RATE / window
    middle = bin_hz(tuning_cents)
    wide = np.maximum(middle * (2 ** (1 / _OCTAVE) - 1), spacing)
    hz = np.arange(window // 2 + 1) * spacing
    weights = np.clip(1 - np.abs(hz[:, None] - middle) / wide, 0, None)
    weights /= np.maximum(weights.sum(axis=0), 1e-9)
    weights[:, middle > _TOP_HZ] = 0
    return weights.astype(np.float32)


@lru_cache(maxsize=1)
def band_bank() -> Floats:
    """Weights from the Fourier bins of the brief window to mel bands."""
    top = 2595 * np.log10(1 + _TOP_HZ / 700)
    low = 2595 * np.log10(1 + _LOWEST_BAND_HZ / 700)
    edges = 700 * (10 ** (np.linspace(low, top, BANDS + 2) / 2595) - 1)
    hz = np.arange(PADDED // 2 + 1) * RATE / PADDED
    rise = (hz[:, None] - edges[:-2]) / np.diff(edges)[:-1]
    fall = (edges[2:] - hz[:, None]) / np.diff(edges)[1:]
    weights = np.clip(np.minimum(rise, fall), 0, None)
    weights /= np.maximum(weights.sum(axis=0), 1e-9)
    return weights.astype(np.float32)


@dataclass(frozen=True, slots=True)
class BankPart:
    """An octave of a bank: most of a bank is empty, and no time is spent on that.

    Attributes
    ----------
    rows, columns : slice
        Its place in the bank.
    weights : float32 array, shape (rows, columns)
    """

    rows: slice
    columns: slice
    weights: Floats


@lru_cache(maxsize=16)
def pitch_parts(window: int, tuning_cents: float = 0.0) -> tuple[BankPart, ...]:
    """`pitch_bank` in octaves."""
    bank = pitch_bank(window, tuning_cents)
    columns = [slice(start, start + _OCTAVE) for start in range(0, _BINS, _OCTAVE)]
    return tuple(part for octave in columns if (part := _part(bank, octave)).weights.size)


def _part(bank: Floats, columns: slice) -> BankPart:
    used = np.flatnonzero(bank[:, columns].any(axis=1))
    rows = slice(int(used[0]), int(used[-1]) + 1) if len(used) else slice(0, 0)
    return BankPart(rows, columns, np.ascontiguousarray(bank[rows, columns]))


def harmonic_places() -> tuple[tuple[int, ...], tuple[int, ...]]:
    """First bin of each partial's slice in the long and the short log spectrum."""
    return (0, *_places(PARTIALS)), _places(SHORT_PARTIALS)


def _places(count: int) -> tuple[int, ...]:
    numbers = np.arange(1, count + 1)
    return tuple(int(place) for place in _BELOW + np.rint(_OCTAVE * np.log2(numbers)))


@lru_cache(maxsize=4)
def hann(window: int) -> Floats:
    """A Hann window whose sum is two, so that a sine of amplitude 1 has magnitude 1."""
    rise = np.sin(np.pi * (np.arange(window) + 0.5) / window) ** 2
    return np.asarray(2 * rise / rise.sum(), dtype=np.float32)


def level_of(sound: Floats) -> float:
    """The loudness of a take: the 95th percentile of the RMS of its frames of 25 ms."""
    return float(np.percentile(frame_levels(sound), 95)) if len(sound) else 0.0


def stepped_level(level: float) -> float:
    """A level to the next whole decibel.

    So what the network is shown of the beginning of a take stays what it is while the take goes
    on, and its loudness is known ever better; it was made to bear more than half a decibel.
    """
    return float(10 ** (round(20 * np.log10(level)) / 20))


def frame_levels(sound: Floats) -> Floats:
    """RMS of each 25 ms that follow each other."""
    whole = sound[: len(sound) // BRIEF * BRIEF] if len(sound) >= BRIEF else sound
    frames = whole.reshape(-1, min(BRIEF, max(1, len(whole))))
    return np.asarray(np.sqrt(np.mean(np.square(frames), axis=1)))


def over_floor(powers: Any, level: Any, np: Any = np) -> Any:
    """Powers as decibels over the floor, 1 at the level of the take."""
    decade = 10 / (FLOOR_DB * 2.302585)
    return 1 + np.log(powers / (2 * level * level) + 10 ** (-FLOOR_DB / 10)) * decade


def spectra(
    sound: Floats, level: float, *, first: int, pairs: int, tuning_cents: float = 0.0
) -> tuple[Floats, Floats]:
    """What the network sees of some pairs of frames.

    Parameters
    ----------
    sound : float32 array, shape (samples,)
    level : float
        As `level_of` gives it, over 0.
    first, pairs : int
        Which pairs.
    tuning_cents : float
        How far the player's A lies from 440 Hz.

    Returns
    -------
    harmonics : float32 array, shape (pairs, 183, 12)
        The overtones of three bins a semitone.
    bands : float32 array, shape (pairs, 96)
        Of the first frame of each pair, then of the second.
    """
    piece = shown_samples(sound, first, pairs)
    scales = []
    for window in (LONG, SHORT):
        powers = _powers(piece[LONG // 2 - window // 2 :], window, PAIR, pairs)
        scale = np.zeros((pairs, _BINS), dtype=np.float32)
        for part in pitch_parts(window, tuning_cents):
            scale[:, part.columns] = powers[:, part.rows] @ part.weights
        scales.append(over_floor(scale, level))
    before = LONG // 2 - HOP // 2 - BRIEF // 2
    bands = _powers(piece[before:], BRIEF, HOP, 2 * pairs, PADDED) @ band_bank()
    harmonics = stacked_overtones(scales[0], scales[1])
    return harmonics, over_floor(bands, level).reshape(pairs, 2 * BANDS)


def shown_samples(sound: Floats, first: int, pairs: int) -> Floats:
    """The part of a sound that the windows of some pairs reach, silence where there is none."""
    return _piece(sound, first * PAIR + HOP // 2 - LONG // 2, pairs * PAIR + LONG)


def _piece(sound: Floats, begin: int, length: int) -> Floats:
    """Part of a sound, with silence where there is none."""
    kept = sound[max(0, begin) : max(0, begin + length)]
    before = max(0, -begin)
    return np.pad(kept, (before, length - before - len(kept)))


def _powers(piece: Floats, window: int, hop: int, count: int, padded: int | None = None) -> Floats:
    """Power of each Fourier bin of windows that begin a hop apart."""
    framed = np.lib.stride_tricks.sliding_window_view(piece, window)[::hop][:count]
    waves = np.fft.rfft(framed * hann(window), padded or window)
    return np.asarray(np.square(waves.real) + np.square(waves.imag), dtype=np.float32)


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
