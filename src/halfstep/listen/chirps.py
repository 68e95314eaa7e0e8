"""How much later is a sound in a take than it was played? Told by chirps that were played into it.

The delay from a speaker through the air and a microphone into a recording is no constant of a
device: it is another one each time the microphone is connected. So the page plays a short soft
chirp before the count-in and one after the last bar, and both are found again in the take.
Where they tell the same delay it is that of all that lies between them; where they do not, the
recording jumps.

Conventions
-----------
- A chirp is ``PEAK sin²(π x) sin(2π LOW_HZ CHIRP_S (k**x - 1) / ln k)`` with ``x = t / CHIRP_S``
  from 0 to 1 and ``k = HIGH_HZ / LOW_HZ``, from silence to silence: a glide at an even speed in
  octaves, within what the speaker and the microphone of a phone pass on. ``chirp.js`` has the same
  figures.
- A delay is in seconds, later is positive. Clearness counts root mean squares of what lies about.

Sources: pulse compression and the whitened matched filter, from any handbook; the figures below
were chosen on made-up takes in made-up rooms.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.audio import BlockSource, Stretches
from halfstep.listen.spectra import RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Doubles = npt.NDArray[np.float64]
    Complex = npt.NDArray[np.complex128]

CHIRP_S = 0.25
LOW_HZ, HIGH_HZ = 500.0, 6000.0
PEAK = 0.1
"""Of full scale: softer than any band."""
AGREEMENT_S = 0.002
"""Chirps whose delays differ by no more tell one delay."""
CLEAR = 9.0
"""How far a chirp must stand out; among 1,500 stretches without one a stroke of drums reached 8.4,
played notes 6.3, noise 3.8."""
EARLIEST_S, LATEST_S = -0.1, 1.0
"""Between these delays a chirp is looked for."""
MOST_CHIRPS = 8
"""Of a take that are looked for."""
_SMOOTHED_HZ = 12.0
"""Over so much of the spectrum the loudness of a frequency is taken: a held note is narrower."""
_SILENT = 1e-4
"""Frequencies that much under the mean power say nothing."""
_BEFORE_S, _BEHIND_S = 0.005, 0.03
"""What lies so near a peak is the chirp's own, and the echo of a room."""
_ABOUT_S = CHIRP_S / 2
"""What lies so near is what a peak must stand out of: a stroke fills as much, made a chirp."""
_EARLY_S, _EARLY_SHARE = 0.012, 0.5
"""A peak so little before the tallest, and of that share of it, is the straight way to the
microphone, the tallest an echo."""
_ECHO_S = 0.06
"""So much of the echoes of two chirps is laid over each other."""


def chirp(rate: int) -> Floats:
    """The chirp at a rate, from its first silent sample to its last.

    Returns
    -------
    float32 array, shape (samples,)
        1.0 at full scale.

    Examples
    --------
    >>> len(chirp(48_000)), float(abs(chirp(48_000)).max()) < PEAK
    (12001, True)
    """
    along = np.arange(round(CHIRP_S * rate) + 1) / (CHIRP_S * rate)
    ratio = HIGH_HZ / LOW_HZ
    turns = LOW_HZ * CHIRP_S * (ratio**along - 1) / np.log(ratio)
    return np.asarray(PEAK * np.sin(np.pi * along) ** 2 * np.sin(2 * np.pi * turns), np.float32)


@dataclass(frozen=True, slots=True)
class ChirpPlace:
    """A chirp that was found.

    Attributes
    ----------
    delay_s : float
        How much later it is in the take than it was played.
    clearness : float
    """

    delay_s: float
    clearness: float


@dataclass(frozen=True, slots=True)
class ChirpDelays:
    """What the chirps of a take tell.

    Attributes
    ----------
    places : tuple of ChirpPlace or None
        Of each that was played; None where it is not found.
    """

    places: tuple[ChirpPlace | None, ...] = ()

    @property
    def delay_s(self) -> float | None:
        """The delay of the take; None where no two chirps tell it, or two tell different ones."""
        delays_s = self._delays_s
        is_one = len(delays_s) > 1 and max(delays_s) - min(delays_s) <= AGREEMENT_S
        return sum(delays_s) / len(delays_s) if is_one else None

    @property
    def jump_s(self) -> float | None:
        """The greatest change of the delay from one chirp to the next; None where there is none."""
        changes_s = [after - before for before, after in pairwise(self._delays_s)]
        greatest_s = max(changes_s, key=abs, default=0.0)
        return greatest_s if self.delay_s is None and abs(greatest_s) > AGREEMENT_S / 2 else None

    @property
    def _delays_s(self) -> list[float]:
        return [place.delay_s for place in self.places if place is not None]


def chirp_delays(take: BlockSource, played_s: Sequence[float]) -> ChirpDelays:
    """What the chirps of a take tell.

    Parameters
    ----------
    take : BlockSource
    played_s : sequence of float
        When each was played, in order, in seconds of the take without any delay; those behind
        `MOST_CHIRPS` are left alone.

    Raises
    ------
    TakeError
        If the take cannot be read.
    """
    traces = list(_traces(take, played_s[:MOST_CHIRPS]))
    clear = [trace for trace in traces if trace.clearness >= CLEAR]
    if not clear:
        return ChirpDelays((None,) * len(traces))
    first = clear[0]
    way_s = first.way_s
    return ChirpDelays(
        tuple(
            ChirpPlace(way_s + first.lead_s(trace), trace.clearness) if trace in clear else None
            for trace in traces
        )
    )


def _traces(take: BlockSource, played_s: Sequence[float]) -> Iterator[_ChirpTrace]:
    stretches = Stretches(take)
    samples = round((LATEST_S - EARLIEST_S + CHIRP_S) * RATE)
    for at_s in played_s:
        first = round((at_s + EARLIEST_S) * RATE)
        yield _ChirpTrace(_likeness(stretches.stretch(first, samples)), first / RATE - at_s)


@dataclass(frozen=True, slots=True, eq=False)
class _ChirpTrace:
    """How alike a stretch of a take is to the chirp from each of its samples on.

    Attributes
    ----------
    likeness : complex array, shape (samples,)
        Without the half of it that mirrors the other, so that its size has no ripple.
    first_s : float
        The delay that the first sample stands for.
    """

    likeness: Complex
    first_s: float

    @property
    def sizes(self) -> Doubles:
        """How alike, however the phase is turned."""
        return np.abs(self.likeness)

    @property
    def tallest(self) -> int:
        """The sample of the greatest likeness."""
        return int(np.argmax(self.sizes))

    @property
    def clearness(self) -> float:
        """How far the tallest peak stands out of what lies about it."""
        sizes, peak = self.sizes, self.tallest
        about = _near(peak, _ABOUT_S, _ABOUT_S, len(sizes))
        outside = np.ones(len(sizes), dtype=bool)
        outside[_near(peak, _BEFORE_S, _BEHIND_S, len(sizes))] = False
        rest = sizes[about][outside[about]]
        return float(sizes[peak] / (np.sqrt(np.mean(np.square(rest))) + 1e-12))

    @property
    def way_s(self) -> float:
        """The delay of the straight way: the first peak that is not much less than the tallest."""
        sizes, tallest = self.sizes, self.tallest
        early = np.arange(len(sizes))[_near(tallest, _EARLY_S, 0.0, len(sizes))]
        tall = early[sizes[early] >= _EARLY_SHARE * sizes[tallest]]
        peak = next((place for place in tall if _is_peak(sizes, int(place))), tallest)
        return self.first_s + (peak + _between(sizes, int(peak))) / RATE

    def lead_s(self, later: _ChirpTrace) -> float:
        """How much more another one is late, by all the echoes of both."""
        ours, theirs = self._echo, later._echo
        size = 4 * len(ours)
        product = np.conj(np.fft.fft(ours, size)) * np.fft.fft(theirs, size)
        likeness = np.roll(np.abs(np.fft.ifft(product)), size // 2)
        best = int(np.argmax(likeness))
        moved = best - size // 2 + _between(likeness, best)
        away_s = (later.tallest - self.tallest + moved) / RATE
        return later.first_s - self.first_s + away_s

    @property
    def _echo(self) -> Complex:
        """The likeness about its tallest peak, silent where the take has no more."""
        around = round(_ECHO_S * RATE)
        padded = np.pad(self.likeness, around)
        return padded[self.tallest : self.tallest + 2 * around]


def _near(place: int, before_s: float, behind_s: float, end: int) -> slice:
    first, last = place - round(before_s * RATE), place + round(behind_s * RATE)
    return slice(max(0, first), min(end, last + 1))


def _is_peak(sizes: Doubles, place: int) -> bool:
    return 0 < place < len(sizes) - 1 and sizes[place] == sizes[place - 1 : place + 2].max()


def _between(sizes: Doubles, peak: int) -> float:
    """Where the top of the parabola through three sizes lies, from the middle one."""
    if not 0 < peak < len(sizes) - 1:
        return 0.0
    before, middle, after = (float(size) for size in sizes[peak - 1 : peak + 2])
    curve = before - 2 * middle + after
    return (before - after) / (2 * curve) if curve < 0 else 0.0


def _likeness(sound: Floats) -> Complex:
    """How alike a stretch is to the chirp from each sample on, loud frequencies counting less."""
    samples = len(sound) - round(CHIRP_S * RATE)
    size = 1 << (len(sound) + round(CHIRP_S * RATE)).bit_length()
    spectrum = np.fft.rfft(np.asarray(sound, dtype=np.float64), size)
    power = _smoothed(np.square(np.abs(spectrum)), size)
    half = np.zeros(size, dtype=np.complex128)
    half[: size // 2 + 1] = 2 * spectrum * _chirp_spectrum(size) / power
    return np.asarray(np.fft.ifft(half)[:samples])


def _smoothed(power: Doubles, size: int) -> Doubles:
    width = max(1, round(_SMOOTHED_HZ * size / RATE)) | 1
    smooth = np.convolve(power, np.full(width, 1 / width), "same")
    return np.asarray(smooth + _SILENT * power.mean() + 1e-12)


@lru_cache(maxsize=1)
def _chirp_spectrum(size: int) -> Complex:
    return np.asarray(np.conj(np.fft.rfft(chirp(RATE), size)), dtype=np.complex128)
