"""How loud is the backing in the take, and what is left without it?

Once it is known where the backing lies (`backing_delay`), how it reaches the microphone is
one filter, found by least squares; what the filter makes of the backing can be taken away. A
stretch is freed by what the minute up to its end shows, so that it is freed alike of a take that
still grows.

Conventions
-----------
- Sounds are mono float32 at `spectra.RATE`, shape (samples,).

Source: averaged periodograms, Welch 1967, from memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.audio import BlockSource, Stretches
from halfstep.listen.backing_delay import BackingDelay
from halfstep.listen.spectra import RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Complex = npt.NDArray[np.complex64]

FILTER = 4096
"""Samples of the filter from backing to microphone: a quarter of a second."""
LEAD_S = 0.016
"""How much too early the backing is laid, since the delay may be a little wrong."""


SHORT = 5 * FILTER
"""Samples that are freed at once: 1.3 seconds."""
FIRST = 16
"""So many stretches at the beginning are freed by what all of them show."""
MINUTE = 48
"""A stretch is freed by itself and those before it, so many in all."""
CANCELLED_DB = -17.0
"""A backing that is louder than this against the player is taken away."""
OVER_LEAK = 6.0
"""Where the backing is too soft to be taken away, a note has at least so much more power."""
LEFT_OF_LEAK = 0.5
"""What is quieter than this share of the backing that was taken away is taken for its rest."""
_HOP, _SIZE = FILTER, 2 * FILTER
_LAID = 64
"""Samples: four milliseconds, of which the filter takes care."""


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


@dataclass(frozen=True, slots=True)
class _Likeness:
    """What frames of take and backing have in common, summed up.

    Attributes
    ----------
    backing_power, take_power : float array, shape (FILTER + 1,)
        By frequency.
    cross : complex array, shape (FILTER + 1,)
    frames : int
    """

    backing_power: npt.NDArray[np.float64]
    take_power: npt.NDArray[np.float64]
    cross: npt.NDArray[np.complex128]
    frames: int


def _likeness(take: Floats, under: Floats, frames: int) -> _Likeness:
    """Of so many frames, each half over the one before; silence follows where there is no more."""
    window = np.sqrt(np.hanning(_SIZE)).astype(np.float32)
    backing_power = np.zeros(FILTER + 1)
    take_power = np.zeros(FILTER + 1)
    cross = np.zeros(FILTER + 1, dtype=np.complex128)
    for start in range(0, frames * _HOP, _HOP):
        mic = np.fft.rfft(take[start : start + _SIZE] * window[: len(take) - start], _SIZE)
        band = np.fft.rfft(under[start : start + _SIZE] * window[: len(under) - start], _SIZE)
        backing_power += np.abs(band) ** 2
        take_power += np.abs(mic) ** 2
        cross += mic * np.conj(band)
    return _Likeness(backing_power, take_power, cross, frames)


def _leak(parts: Sequence[_Likeness]) -> Leak:
    """The filter from backing to microphone that explains some parts of a take best."""
    backing_power = 1e-9 + sum(part.backing_power for part in parts)
    take_power = 1e-9 + sum(part.take_power for part in parts)
    cross = sum((part.cross for part in parts), np.zeros(FILTER + 1, dtype=np.complex128))
    coherence = np.abs(cross) ** 2 / (backing_power * take_power)
    chance = 1 / max(1, sum(part.frames for part in parts))
    sure = np.clip((coherence - chance) / np.maximum(coherence * (1 - chance), 1e-9), 0, 1)
    response = cross / backing_power * sure
    share = float(np.sum(coherence * sure * take_power) / np.sum(take_power))
    impulse = np.fft.irfft(response, _SIZE)
    impulse[FILTER:] = 0
    return Leak(np.fft.rfft(impulse).astype(np.complex64), share)


def laid_under(place: BackingDelay, sample: int) -> int:
    """The backing's sample that is laid under one of the take's.

    It is laid to the nearest of `_LAID`, so that who finds its place by a part of the take lays it
    as by the whole.
    """
    late = round((place.delay_s - LEAD_S) * RATE / _LAID) * _LAID
    return round(sample / place.clock_ratio) - late


@dataclass(frozen=True, slots=True, eq=False)
class FreedSound:
    """A stretch of a take without its backing.

    Attributes
    ----------
    sound : float32 array, shape (samples,)
        The take; without the backing, where that is loud enough to be known.
    covering : float32 array, shape (samples,)
        What is no louder than this is the backing, or its rest.
    leak_db : float or None
        The backing against the player; None where there is no backing.
    """

    sound: Floats
    covering: Floats
    leak_db: float | None = None


class Freeing:
    """Frees a take of its backing, stretch by stretch as it comes.

    Parameters
    ----------
    under : callable
        The backing as it lies under some samples of the take, `LEAD_S` early: told the first of
        them and how many. It is asked in order.
    """

    def __init__(self, under: Callable[[int, int], Floats]) -> None:
        self._under = under
        self._rest = np.zeros(0, dtype=np.float32)
        self._first = 0
        self._before = np.zeros((2, 0), dtype=np.float32)
        self._parts: deque[_Likeness] = deque(maxlen=MINUTE)
        self._waiting: list[tuple[Floats, Floats]] = []
        self._ringing = np.zeros(_SIZE, dtype=np.float32)

    def freed(self, sound: Floats) -> Iterator[FreedSound]:
        """Take in what follows, and give what can be freed by now."""
        self._rest = np.concatenate([self._rest, sound])
        while len(self._rest) >= SHORT:
            yield from self._take_in(SHORT)

    def rest(self) -> Iterator[FreedSound]:
        """What is left, once no more follows."""
        if len(self._rest):
            yield from self._take_in(len(self._rest))
        yield from self._free_waiting()

    def parts(self, blocks: Iterable[Floats]) -> Iterator[FreedSound]:
        """All of a take, whose blocks these are."""
        for block in blocks:
            yield from self.freed(block)
        yield from self.rest()

    def _take_in(self, samples: int) -> Iterator[FreedSound]:
        sound, self._rest = self._rest[:samples], self._rest[samples:]
        under = self._under(self._first, samples)
        self._first += samples
        pair = np.concatenate([self._before, np.stack([sound, under])], axis=1)
        frames = (pair.shape[1] - _HOP) // _HOP
        if frames > 0 or not self._parts:
            self._parts.append(_likeness(pair[0], pair[1], max(1, frames)))
        self._before = pair[:, -_HOP:]
        self._waiting.append((sound, under))
        if self._first >= FIRST * SHORT:
            yield from self._free_waiting()

    def _free_waiting(self) -> Iterator[FreedSound]:
        if not self._waiting:
            return
        leak = _leak(self._parts)
        for sound, under in self._waiting:
            yield self._freed(sound, under, leak)
        self._waiting.clear()

    def _freed(self, sound: Floats, under: Floats, leak: Leak) -> FreedSound:
        """A stretch without its backing, where that is loud enough to be known."""
        leaked = self._leaked(under, leak)
        if not leaked.any():
            return FreedSound(sound, leaked)
        if leak.db > CANCELLED_DB:
            return FreedSound(sound - leaked, np.sqrt(LEFT_OF_LEAK) * leaked, leak.db)
        return FreedSound(sound, np.sqrt(OVER_LEAK) * leaked, leak.db)

    def _leaked(self, under: Floats, leak: Leak) -> Floats:
        """What the filter makes of the backing: as much of the take as is not the player's."""
        sound = np.zeros(len(under) + _SIZE, dtype=np.float32)
        sound[:_SIZE] = self._ringing
        for start in range(0, len(under), _HOP):
            piece = np.fft.rfft(under[start : start + _HOP], _SIZE)
            sound[start : start + _SIZE] += np.fft.irfft(piece * leak.response, _SIZE)
        self._ringing = sound[len(under) :]
        return sound[: len(under)]


def freeing(backing: BlockSource, place: BackingDelay) -> Freeing:
    """What frees a take of a backing that lies there."""
    stretches = Stretches(backing)
    return Freeing(lambda sample, samples: stretches.stretch(laid_under(place, sample), samples))
