"""How loud is the backing in the take, and what is left without it?

Once it is known where the backing lies (`backing_delay`), how it reaches the microphone is
one filter, found by least squares; what the filter makes of the backing can be taken away.

Conventions
-----------
- Sounds are mono float32 at `spectra.RATE`, shape (samples,).

Source: averaged periodograms, Welch 1967, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Complex = npt.NDArray[np.complex64]

FILTER = 4096
"""Samples of the filter from backing to microphone: a quarter of a second."""
LEAD_S = 0.016
"""How much too early the backing is laid, since the delay may be a little wrong."""


@dataclass(frozen=True, slots=True)
class Leak:
    """What reaches the microphone of the backing.

    Attributes
    ----------
    response : complex array, shape (FILTER + 1,)
        By frequency.
    share : float
        Of the take's power, 0 to 1.
    """

    response: Complex
    share: float

    @property
    def db(self) -> float:
        """The backing against the player, in decibels; -60 where there is none."""
        return float(10 * np.log10(max(self.share, 1e-6) / max(1 - self.share, 1e-6)))


def leak(take: Floats, under: Floats) -> Leak:
    """The filter from backing to microphone that explains a stretch of the take best.

    Parameters
    ----------
    take, under : float32 arrays, shape (samples,)
        The take, and the backing as it lies under it, `LEAD_S` early.
    """
    hop, size = FILTER, 2 * FILTER
    window = np.sqrt(np.hanning(size)).astype(np.float32)
    starts = range(0, max(1, len(take) - size + 1), hop)
    backing_power = np.full(FILTER + 1, 1e-9)
    cross = np.zeros(FILTER + 1, dtype=np.complex128)
    take_power = np.full(FILTER + 1, 1e-9)
    for start in starts:
        mic = np.fft.rfft(take[start : start + size] * window[: len(take) - start], size)
        band = np.fft.rfft(under[start : start + size] * window[: len(under) - start], size)
        backing_power += np.abs(band) ** 2
        take_power += np.abs(mic) ** 2
        cross += mic * np.conj(band)
    coherence = np.abs(cross) ** 2 / (backing_power * take_power)
    chance = 1 / max(len(starts), 1)
    sure = np.clip((coherence - chance) / np.maximum(coherence * (1 - chance), 1e-9), 0, 1)
    response = cross / backing_power * sure
    share = float(np.sum(coherence * sure * take_power) / np.sum(take_power))
    impulse = np.fft.irfft(response, size)
    impulse[FILTER:] = 0
    return Leak(np.fft.rfft(impulse).astype(np.complex64), share)


def leaked_backing(under: Floats, filtered: Leak) -> Floats:
    """What the filter makes of the backing: as much of the take as is not the player's."""
    size = 2 * FILTER
    sound = np.zeros(len(under) + size, dtype=np.float32)
    for start in range(0, len(under), FILTER):
        piece = np.fft.rfft(under[start : start + FILTER], size)
        sound[start : start + size] += np.fft.irfft(piece * filtered.response, size)
    return np.asarray(sound[: len(under)])
