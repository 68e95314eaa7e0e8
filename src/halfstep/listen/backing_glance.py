"""Might a backing be in a take? What a glance at excerpts of it shows.

Take and excerpts are laid over each other at every lag, as `backing_delay` does it with the
whole, at half the rate. What is loud for a moment only, as a drum is, counts no more than
the rest: with so little to compare, two strokes would pass for an agreement. Where nothing
stands out, the whole would not be clear either, and need not be read.

Conventions: sounds at `SPARSE_RATE`, shape (samples,).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.backing_delay import (
    CLOCK_S,
    CLOCKS,
    OVERLAP_S,
    RATE_MORE_S,
    RATE_S,
    RATES,
)
from halfstep.listen.excerpts import SPARSE_RATE
from halfstep.listen.thin_sound import BY_HALF, WHOLLY, ThinSound, flattened, stretches

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Halves = npt.NDArray[np.float16]

AT_FIRST, CLOSELY = 5.5, 6.2
"""So many standard deviations of the lags near by an agreement stands out that may not be
chance, by an eighth of the backing and by a quarter; the softest reach 5.5 and 8."""
_FRAME = 512
_MOST_LOUD = 2.0
"""A sample is at most so many times as loud as the mean."""
_LEAST_SIZE = 1 << 16
_SHARED = round(OVERLAP_S * SPARSE_RATE)
_NEAR_S = 5
_HALVING_TAPS = 33


def may_be_in(take: ThinSound, sparse: Halves, declared: int, *, least: float) -> bool:
    """False where excerpts of a backing show that it is not in the take, at any rate.

    Parameters
    ----------
    sparse : float16 array
        As `halfstep.listen.excerpts` gives them.
    declared : int
        Samples a second, as the take's file has it.
    least : float
        How far an agreement must stand out.
    """
    whole = [_white(_halved(part.sound), WHOLLY) for part in stretches(take, 2 * len(sparse))]
    most_s = RATE_S * max(declared, *RATES) / declared
    beginning = _white(_halved(take.cut(0.0, most_s)), WHOLLY)
    return _stands_out([*whole, *_at_other_clocks(take)], sparse, least) or _stands_out(
        list(_at_other_rates(beginning, declared)),
        sparse[: min(len(beginning), _samples(RATE_S)) + _samples(RATE_MORE_S)],
        least,
    )


def _samples(length_s: float) -> int:
    return round(length_s * SPARSE_RATE)


def _at_other_clocks(take: ThinSound) -> Iterator[Floats]:
    """The middle of a take by each clock that it may have been recorded by; none of a short one."""
    if take.length_s >= CLOCK_S:
        middle = take.cut((take.length_s - CLOCK_S) / 2, CLOCK_S)
        white = _white(_halved(middle), WHOLLY)
        yield from (_at_rate(white, ratio) for ratio in CLOCKS)


def _at_other_rates(beginning: Floats, declared: int) -> Iterator[Floats]:
    """The beginning of a take at each of `RATES` but the declared one."""
    for ratio in (rate / declared for rate in RATES if rate != declared):
        yield _at_rate(beginning[: _samples(RATE_S * ratio)], ratio)


def _at_rate(white: Floats, ratio: float) -> Floats:
    """On straight lines between samples, as it is when its true rate is so many times its own."""
    places = np.arange(0, len(white) - 1, ratio)
    return np.asarray(np.interp(places, np.arange(len(white)), white), dtype=np.float32)


def _stands_out(whites: Sequence[Floats], sparse: Halves, least: float) -> bool:
    """True where one of several sounds and the sparse one agree at some lag beyond chance."""
    longest = max(map(len, whites))
    size = max(_LEAST_SIZE, 1 << (2 * longest).bit_length())
    lags = (size - longest) // SPARSE_RATE * SPARSE_RATE
    spectra = [np.conj(np.fft.rfft(white, size)) for white in whites]
    last = len(sparse) - _SHARED
    for start in range(_SHARED - longest, last, lags):
        spectrum = np.fft.rfft(_white(_piece(sparse, start, size), BY_HALF))
        products = (spectrum * other for other in spectra)
        if _is_clear(products, size, min(lags, last + SPARSE_RATE - start), least):
            return True
    return False


def _is_clear(
    spectra: Iterable[npt.NDArray[np.complexfloating]], size: int, lags: int, least: float
) -> bool:
    seconds = lags // SPARSE_RATE
    for spectrum in spectra:
        values = np.fft.irfft(spectrum, size)[: seconds * SPARSE_RATE]
        powers = np.square(values, dtype=np.float32).reshape(seconds, SPARSE_RATE)
        if (powers.max(axis=1) > least**2 * _near_by(powers.mean(axis=1))).any():
            return True
    return False


def _near_by(powers: Floats) -> Floats:
    """The mean of each second and those around it."""
    around = np.ones(_NEAR_S)
    counts = np.convolve(np.ones(len(powers)), around)
    sums = np.convolve(powers, around) / counts
    first = _NEAR_S // 2
    return np.asarray(sums[first : first + len(powers)] + 1e-18, dtype=np.float32)


def _white(sound: Floats, power: float) -> Floats:
    """Sound whose frequencies and moments are all about as loud."""
    half = _FRAME // 2
    length = -(-len(sound) // half) * half
    white = flattened(np.pad(sound, (half, half + length - len(sound))), _FRAME, power)
    sounding = np.count_nonzero(white)
    most = _MOST_LOUD * float(np.sqrt(np.sum(np.square(white)) / max(1, sounding)))
    return np.asarray(np.clip(white, -most, most))


def _piece(sparse: Halves, first: int, samples: int) -> Floats:
    """Samples from ``first`` on, silence where there are none."""
    begin, end = max(0, first), min(len(sparse), first + samples)
    sound = np.zeros(samples, dtype=np.float32)
    sound[begin - first : end - first] = sparse[begin:end]
    return sound


def _halved(sound: ThinSound) -> Floats:
    """Every second sample of a sound without its upper half."""
    place = np.arange(_HALVING_TAPS) - _HALVING_TAPS // 2
    taps = (np.sinc(place / 2) * np.hamming(_HALVING_TAPS)).astype(np.float32)
    samples = sound.piece(-(_HALVING_TAPS // 2), len(sound) + _HALVING_TAPS - 1)
    windows = np.lib.stride_tricks.sliding_window_view(samples, _HALVING_TAPS)[::2]
    return np.asarray(windows @ (taps / taps.sum()))
