"""Might a backing be in a take? What a glance at excerpts of it shows, or at its print.

Take and excerpts are laid over each other at every lag, as `backing_delay` does it with the
whole, at half the rate; take and print at a quarter of it. Where nothing stands out, the whole
would not be clear either, and need not be read.

Conventions: the sparse sound of excerpts is at `SPARSE_RATE`, shape (samples,).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
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
from halfstep.listen.even_sound import even, halved
from halfstep.listen.excerpts import SPARSE_RATE
from halfstep.listen.sound_print import PRINT_RATE, SoundPrint
from halfstep.listen.thin_sound import BY_HALF, THIN_RATE, WHOLLY, ThinSound, stretches

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Halves = npt.NDArray[np.float16]

AT_FIRST, CLOSELY = 5.5, 6.2
"""So many standard deviations of the lags near by an agreement stands out that may not be
chance, by an eighth of the backing and by a quarter; the softest reach 5.5 and 8."""
BY_PRINT = 5.2
"""The same by a print."""
_LEAST_SIZE = 1 << 16
_NEAR_S = 5


@dataclass(frozen=True, slots=True, eq=False)
class _Partner:
    """What a take is laid over.

    Attributes
    ----------
    samples : float16 or int8 array, shape (samples,)
    rate : int
        Its samples a second.
    is_even : bool
        Its frequencies and moments are all about as loud already.
    """

    samples: Halves | npt.NDArray[np.int8]
    rate: int
    is_even: bool

    def beginning(self, length_s: float) -> _Partner:
        """So much of it."""
        return replace(self, samples=self.samples[: round(length_s * self.rate)])

    def piece(self, first: int, samples: int) -> Floats:
        """Samples from ``first`` on, evened, silence where there are none."""
        begin, end = max(0, first), min(len(self.samples), first + samples)
        sound = np.zeros(samples, dtype=np.float32)
        sound[begin - first : end - first] = self.samples[begin:end]
        return sound if self.is_even else even(sound, self.rate, BY_HALF)

    def evened(self, take: ThinSound) -> Floats:
        """A take as it is laid over this."""
        sound = take.piece(0, len(take))
        for _ in range((THIN_RATE // self.rate).bit_length() - 1):
            sound = halved(sound)
        return even(sound, self.rate, WHOLLY)


def may_be_in(take: ThinSound, sparse: Halves, declared: int, *, least: float) -> bool:
    """False where excerpts of a backing show that it is not in the take, at any rate.

    Parameters
    ----------
    take : ThinSound
    sparse : float16 array
        As `halfstep.listen.excerpts` gives them.
    declared : int
        Samples a second, as the take's file has it.
    least : float
        How far an agreement must stand out.
    """
    return _may_be_in(take, _Partner(sparse, SPARSE_RATE, False), declared, least)


def may_be_by_print(take: ThinSound, print_: SoundPrint, declared: int) -> bool:
    """False where the print of a backing shows that it is not in the take, at any rate.

    Parameters
    ----------
    take : ThinSound
    print_ : SoundPrint
    declared : int
        As in `may_be_in`.
    """
    return _may_be_in(take, _Partner(print_.signs, PRINT_RATE, True), declared, BY_PRINT)


def _may_be_in(take: ThinSound, partner: _Partner, declared: int, least: float) -> bool:
    thin_length = len(partner.samples) * (THIN_RATE // partner.rate)
    whole = [partner.evened(part.sound) for part in stretches(take, thin_length)]
    most_s = RATE_S * max(declared, *RATES) / declared
    beginning = partner.evened(take.cut(0.0, most_s))
    more_s = min(len(beginning) / partner.rate, RATE_S) + RATE_MORE_S
    return _stands_out([*whole, *_at_other_clocks(take, partner)], partner, least) or _stands_out(
        list(_at_other_rates(beginning, declared, partner.rate)), partner.beginning(more_s), least
    )


def _at_other_clocks(take: ThinSound, partner: _Partner) -> Iterator[Floats]:
    """The middle of a take by each clock that it may have been recorded by; none of a short one."""
    if take.length_s >= CLOCK_S:
        middle = partner.evened(take.cut((take.length_s - CLOCK_S) / 2, CLOCK_S))
        yield from (_at_rate(middle, ratio) for ratio in CLOCKS)


def _at_other_rates(beginning: Floats, declared: int, rate: int) -> Iterator[Floats]:
    """The beginning of a take at each of `RATES` but the declared one."""
    for ratio in (true_rate / declared for true_rate in RATES if true_rate != declared):
        yield _at_rate(beginning[: round(RATE_S * ratio * rate)], ratio)


def _at_rate(flat: Floats, ratio: float) -> Floats:
    """On straight lines between samples, as it is when its true rate is so many times its own."""
    places = np.arange(0, len(flat) - 1, ratio)
    return np.asarray(np.interp(places, np.arange(len(flat)), flat), dtype=np.float32)


def _stands_out(sounds: Sequence[Floats], partner: _Partner, least: float) -> bool:
    """True where one of several sounds and their partner agree at some lag beyond chance."""
    longest = max(map(len, sounds))
    size = max(_LEAST_SIZE, 1 << (2 * longest).bit_length())
    rate = partner.rate
    lags = (size - longest) // rate * rate
    spectra = [np.conj(np.fft.rfft(sound, size)) for sound in sounds]
    shared = round(OVERLAP_S * rate)
    last = len(partner.samples) - shared
    for start in range(shared - longest, last, lags):
        spectrum = np.fft.rfft(partner.piece(start, size))
        products = (spectrum * other for other in spectra)
        if _is_clear(products, size, (min(lags, last + rate - start) // rate, rate), least):
            return True
    return False


def _is_clear(
    spectra: Iterable[npt.NDArray[np.complexfloating]],
    size: int,
    shape: tuple[int, int],
    least: float,
) -> bool:
    """True where a value stands out, of so many seconds at a rate."""
    for spectrum in spectra:
        values = np.fft.irfft(spectrum, size)[: shape[0] * shape[1]]
        powers = np.square(values, dtype=np.float32).reshape(shape)
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
