"""How late is the backing in the take, how loud, and what is left without it?

The program rendered the backing, so its sound is known to the sample. Its delay is where
the two agree best over all frequencies; how it reaches the microphone is one filter, found
by least squares; what the filter makes of the backing can then be taken away.

Conventions
-----------
- Sounds are mono float32 at `spectra.RATE`, take and backing from their beginnings.
- Delays are seconds that the take's backing comes after the file's own.

Sources: generalised cross-correlation, Knapp and Carter 1976; averaged periodograms,
Welch 1967; both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.spectra import RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Complex = npt.NDArray[np.complex64]

EARLIEST_S, LATEST_S = -0.05, 0.6
"""Where the delay is looked for."""
CLEAR = 12.0
"""How far the best agreement must stand out, in standard deviations of the others."""
SEGMENT = 1 << 16
FILTER = 4096
"""Samples of the filter from backing to microphone: a quarter of a second."""
LEAD_S = 0.016
"""How much too early the backing is laid, since the delay may be a little wrong."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """The delay at which take and backing agree best.

    Attributes
    ----------
    delay_s : float
    clearness : float
        How far the best stands out from all others, in their standard deviations.
    """

    delay_s: float
    clearness: float

    @property
    def is_clear(self) -> bool:
        """True where the backing is in the take beyond doubt."""
        return self.clearness >= CLEAR


def agreement(take: Floats, backing: Floats) -> Agreement:
    """Where the backing lies in the take.

    Each frequency counts alike, however loud the player is there, so that a backing far
    under the player is still found.
    """
    size = min(len(take), len(backing))
    total = np.zeros(SEGMENT + 1, dtype=np.complex128)
    for start in range(0, max(1, size - SEGMENT // 2), SEGMENT):
        mic = np.fft.rfft(take[start : start + SEGMENT], 2 * SEGMENT)
        band = np.fft.rfft(backing[start : start + SEGMENT], 2 * SEGMENT)
        total += mic / (np.abs(mic) + 1e-9) * np.conj(band) / np.sqrt(np.abs(band) + 1e-9)
    likeness = np.fft.irfft(total)
    near = np.roll(likeness, round(-EARLIEST_S * RATE))[: round((LATEST_S - EARLIEST_S) * RATE)]
    best = int(np.argmax(near))
    around = np.roll(likeness, 2 * RATE)[: 4 * RATE]
    spread = float(np.std(around)) if size > RATE else 0.0
    if spread == 0:
        return Agreement(0.0, 0.0)
    place = best + _between(near, best)
    return Agreement(place / RATE + EARLIEST_S, float(near[best]) / spread)


def _between(values: npt.NDArray[np.float64], best: int) -> float:
    """Where the top of the parabola through three values lies, from the middle one."""
    if not 0 < best < len(values) - 1:
        return 0.0
    before, middle, after = values[best - 1 : best + 2]
    curve = before - 2 * middle + after
    return float((before - after) / (2 * curve)) if curve < 0 else 0.0


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
