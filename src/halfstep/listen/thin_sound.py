"""How alike are two sounds at each lag? Looked at in a quarter of their samples.

What two recordings of one band have in common is found by the phases of its frequencies:
each sound is whitened a quarter of a second at a time, so that neither a loud player nor a
loud frequency decides, and the one is laid over the other at every lag.

Conventions
-----------
- Thin sound has `THIN_RATE` samples a second, kept as float16, shape (samples,).
- A lag counts thin samples that the second sound begins after the first.

Sources: generalised cross-correlation with the phase transform, Knapp and Carter 1976,
from memory; overlap-add, from any handbook.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from math import ceil
from mmap import mmap
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.spectra import RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Complex = npt.NDArray[np.complex64]

THINNING = 4
THIN_RATE = RATE // THINNING
FRAME = 1024
"""Thin samples that are whitened together."""
_TAPS = 49
_CUT = 0.9
"""Of the frequencies that a thin sound can hold, those under this share are kept."""
_FLOOR = 1e-3
"""Frequencies that much under the whole are as good as silent."""
_AT_ONCE = 256
"""Frames whitened in one go."""
BLOCK = 1 << 19
"""A longer sound is looked for in stretches."""
STRETCH = 1 << 17
_FEWEST_STRETCHES = 12
WHOLLY, BY_HALF = 1.0, 0.5
"""How much a spectrum is flattened."""
_LEAST_SIZE = 1 << 17
"""A short sound is laid over a long one in transforms of this size."""


@lru_cache(maxsize=1)
def _low_pass() -> Floats:
    place = np.arange(_TAPS) - _TAPS // 2
    taps = np.sinc(place * _CUT / THINNING) * np.hamming(_TAPS)
    return np.asarray(taps / taps.sum(), dtype=np.float32)


@lru_cache(maxsize=2)
def frame_window(frame: int = FRAME) -> Floats:
    """The root of a Hann window: twice applied, frames half over each other add up to one."""
    return np.asarray(np.sin(np.pi * np.arange(frame) / frame), dtype=np.float32)


def thinned(blocks: Iterable[Floats]) -> Iterator[npt.NDArray[np.float16]]:
    """Every fourth sample of a sound without its upper frequencies, block by block."""
    half = np.zeros(_TAPS // 2, dtype=np.float32)
    kept = half
    for block in chain(blocks, [half]):
        kept = np.concatenate([kept, block])
        if len(kept) < _TAPS:
            continue
        windows = np.lib.stride_tricks.sliding_window_view(kept, _TAPS)[::THINNING]
        yield (windows @ _low_pass()).astype(np.float16)
        kept = kept[len(windows) * THINNING :]


def silence(samples: int) -> npt.NDArray[np.float16]:
    """Thin samples to be filled, none of which takes memory before it is.

    They lie apart from the heap, which keeps what is given back to it: an hour's thin sound
    would still be in the way when its notes are heard.
    """
    held = np.frombuffer(mmap(-1, max(1, samples) * 2), dtype=np.float16)
    return held[:samples]


@dataclass(frozen=True, slots=True, eq=False)
class ThinSound:
    """A sound at `THIN_RATE`.

    Attributes
    ----------
    samples : float16 array, shape (samples,)
    """

    samples: npt.NDArray[np.float16]

    def __len__(self) -> int:
        return len(self.samples)

    @property
    def length_s(self) -> float:
        """Its length in seconds."""
        return len(self.samples) / THIN_RATE

    def piece(self, first: int, samples: int) -> Floats:
        """Samples from ``first`` on, silence where there are none."""
        sound = np.zeros(samples, dtype=np.float32)
        begin, end = max(0, first), min(len(self.samples), first + samples)
        if begin < end:
            sound[begin - first : end - first] = self.samples[begin:end]
        return sound

    def cut(self, first_s: float, length_s: float) -> ThinSound:
        """A part of it."""
        first = round(first_s * THIN_RATE)
        return ThinSound(self.samples[first : first + round(length_s * THIN_RATE)])

    def at_rate(self, ratio: float) -> ThinSound:
        """As it is when its true rate is so many times the one that was believed."""
        count = ceil(max(0, len(self.samples) - 1) / ratio)
        sound = silence(count)
        for first in range(0, count, BLOCK):
            places = np.arange(first, min(count, first + BLOCK))
            sound[first : first + BLOCK] = self._between(places * np.float64(ratio))
        return ThinSound(sound)

    def _between(self, places: npt.NDArray[np.float64]) -> Floats:
        """On straight lines between samples, at rising places before the last of them."""
        whole = places.astype(np.int64)
        sound = self.piece(int(whole[0]), int(whole[-1] - whole[0]) + 2)
        part = (places - whole).astype(np.float32)
        before, after = (sound[whole - whole[0] + step] for step in (0, 1))
        return np.asarray(before + part * (after - before))

    def whitened(self, first: int, samples: int, power: float) -> Floats:
        """A piece with its spectrum, a frame at a time, brought near to flat.

        Parameters
        ----------
        power : float
            `WHOLLY`, so that only phases are left, or `BY_HALF`.
        """
        half = FRAME // 2
        frames = -(-samples // half) + 1
        sound = self.piece(first - half, (frames + 1) * half)
        return flattened(sound, FRAME, power)[:samples]


def flattened(sound: Floats, frame: int, power: float) -> Floats:
    """Sound with its spectrum, a frame at a time, brought near to flat; silence stays silent.

    Parameters
    ----------
    sound : float32 array
        Half a frame more on either side than comes out; a whole number of half frames.
    frame : int
        Samples that are whitened together.
    power : float
        `WHOLLY` or `BY_HALF`.
    """
    half = frame // 2
    halves = sound.reshape(-1, half)
    floor = _FLOOR * float(np.sqrt(np.mean(np.square(sound)) * frame)) + 1e-12
    views = np.lib.stride_tricks.sliding_window_view(sound, frame)[::half]
    loud = np.flatnonzero(np.abs(halves).max(axis=1))
    sounding = np.union1d(loud - 1, loud)
    sounding = sounding[(sounding >= 0) & (sounding < len(views))]
    white = np.zeros(halves.shape, dtype=np.float32)
    for begin in range(0, len(sounding), _AT_ONCE):
        rows = sounding[begin : begin + _AT_ONCE]
        spectra = np.asarray(np.fft.rfft(views[rows] * frame_window(frame)), dtype=np.complex64)
        spectra /= _weight(spectra, floor, power)
        parts = np.fft.irfft(spectra, frame) * frame_window(frame)
        white[rows] += parts[:, :half]
        white[rows + 1] += parts[:, half:]
    return white.reshape(-1)[half:-half]


def _weight(spectra: Complex, floor: float, power: float) -> Floats:
    """What brings each frequency, divided by it, near to the loudness of all others."""
    size = np.sqrt(np.square(spectra.real) + np.square(spectra.imag)) + np.float32(floor)
    return np.asarray(size if power == WHOLLY else np.sqrt(size))


def thin_sound(blocks: Iterable[Floats]) -> ThinSound:
    """The thin sound of blocks at `RATE`."""
    samples, size = silence(BLOCK), 0
    for part in thinned(blocks):
        end = size + len(part)
        if end > len(samples):
            larger = silence(2 * end)
            larger[:size] = samples[:size]
            samples = larger
        samples[size:end] = part
        size = end
    return ThinSound(samples[:size])


@dataclass(frozen=True, slots=True, eq=False)
class ThinStretch:
    """A part of a thin sound, and at which of its samples it begins."""

    start: int
    sound: ThinSound


def stretches(sound: ThinSound, partner: int) -> list[ThinStretch]:
    """The whole of a short sound; of a longer one what is enough to find its partner by.

    Whatever follows the beginning, leads into the end, or lies between as long as its
    partner is, fills one of the stretches, or sounds in two that touch.

    Parameters
    ----------
    partner : int
        The thin samples of the other sound.
    """
    if len(sound) <= BLOCK:
        return [ThinStretch(0, sound)]
    last = len(sound) - STRETCH
    count = max(_FEWEST_STRETCHES, 1 - -last // max(STRETCH, partner - STRETCH))
    starts = np.linspace(0, last, count).astype(int)
    return [
        ThinStretch(int(start), ThinSound(sound.samples[start : start + STRETCH]))
        for start in starts
    ]


def likenesses(sounds: Sequence[ThinSound], second: ThinSound) -> Iterator[tuple[int, int, Floats]]:
    """How alike several sounds and a second one are at each lag of it, some lags at a time.

    The several are whitened wholly and the second by half, so that its own loud places count
    for more.

    Parameters
    ----------
    sounds : sequence of ThinSound
        None longer than `BLOCK`.

    Yields
    ------
    place : int
        Which of the sounds.
    lag : int
        Of the first value; a sound's later lags come first.
    values : float32 array, shape (lags,)
        Negative where the second is upside down.
    """
    longest = max(map(len, sounds))
    size = min(_fast_size(longest + len(second)), _double_size(longest))
    partners = [np.conj(_spectrum(sound, 0, len(sound), size, WHOLLY)) for sound in sounds]
    rests = np.zeros((len(sounds), longest), dtype=np.float32)
    count = size - longest
    for start in range(0, len(second), count):
        spectrum = _spectrum(second, start, count, size, BY_HALF)
        for place, partner in enumerate(partners):
            values = np.roll(_sound_of(spectrum * partner, size), longest)
            values[:longest] += rests[place]
            rests[place] = values[count:]
            if start + count < len(second):
                values = values[:count]
            yield place, longest - start - len(values) + 1, values[::-1]


def _double_size(longest: int) -> int:
    return max(_LEAST_SIZE, 1 << (2 * longest).bit_length())


def _spectrum(
    sound: ThinSound, first: int, samples: int, size: int, power: float
) -> npt.NDArray[np.complex64]:
    return np.asarray(np.fft.rfft(sound.whitened(first, samples, power), size))


def _sound_of(spectrum: npt.NDArray[np.complex64], size: int) -> Floats:
    return np.asarray(np.fft.irfft(spectrum, size), dtype=np.float32)


def _fast_size(least: int) -> int:
    """A length that is transformed fast: a power of two, or five or three quarters of one."""
    whole = 1 << max(4, (least - 1).bit_length())
    return next(size for size in (whole * 5 // 8, whole * 3 // 4, whole) if size >= least)
