"""What of a sound is enough to know that a take does not hold it?

One bit for each of a thousand samples a second: whether the sound, evened, is above zero.
A file can say so much of itself in a comment, 30 kB of text for three minutes, and a take is
held against that without decoding the file. Whether the file still sounds as it says is seen
at a few moments of it.

Conventions: prints have `PRINT_RATE` samples a second.

Source: the sign of a sample keeps two thirds of what it tells of an agreement far under the
noise: 2 / pi, van Vleck and Middleton 1966, from memory.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.audio import Recording, Resampler
from halfstep.listen.even_sound import even, halved
from halfstep.listen.excerpts import SPARSE_RATE, excerpts
from halfstep.listen.thin_sound import BY_HALF

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Halves = npt.NDArray[np.float16]

PRINT_RATE = SPARSE_RATE // 2
LONGEST_S = 900.0
"""Of a longer sound there is no print: as text it would have over 150 kB."""
_TOGETHER = 4
"""The mean of so many samples is taken before they are resampled, which costs more."""
_AT_ONCE = 1 << 18
_MOMENTS = (0.2, 0.5, 0.8)
"""At which shares of its length a file is looked into, to see whether it sounds as its print."""
_MOMENT_S = 0.4
_SAME_S = 0.2
"""A format may lengthen a sound by less than that."""
_MOVED = PRINT_RATE // 10
"""By how much it may move it."""
_AGREEING = 0.4
"""How much more of what sounds there must agree with the print than disagree."""


@dataclass(frozen=True, slots=True, eq=False)
class SoundPrint:
    """The signs of a sound.

    Attributes
    ----------
    signs : int8 array, shape (samples,)
        1 or -1; in silence they take turns.
    """

    signs: npt.NDArray[np.int8]

    @property
    def length_s(self) -> float:
        """How long the sound is."""
        return len(self.signs) / PRINT_RATE

    def piece(self, first: int, samples: int) -> Floats:
        """Signs from a sample on, 0 where there are none."""
        begin, end = max(0, first), min(len(self.signs), first + samples)
        piece = np.zeros(samples, dtype=np.float32)
        piece[begin - first : end - first] = self.signs[begin:end]
        return piece

    @property
    def text(self) -> str:
        """The signs as bits in base 64 (RFC 4648); the last byte is filled up."""
        return b64encode(np.packbits(self.signs > 0).tobytes()).decode()


def read_sound_print(text: str) -> SoundPrint | None:
    """The print that a text holds; None where it holds none.

    Examples
    --------
    >>> read_sound_print("8A==").signs
    array([ 1,  1,  1,  1, -1, -1, -1, -1], dtype=int8)
    >>> read_sound_print("no print") is None
    True
    """
    try:
        data = b64decode(text, validate=True)
    except (TypeError, ValueError):
        return None
    bits = np.unpackbits(np.frombuffer(data, np.uint8)).astype(np.int8)
    return SoundPrint(2 * bits - 1) if data else None


def sound_print(samples: npt.NDArray[np.int16], rate: int) -> SoundPrint | None:
    """The print of a sound; None where it is too long.

    Parameters
    ----------
    samples : int16 array, shape (frames, channels)
    rate : int
        Frames a second.
    """
    if len(samples) > LONGEST_S * rate:
        return None
    resampler = Resampler(PRINT_RATE)
    parts = [
        part
        for coarse in _coarse(samples)
        for part in resampler.resampled(coarse, rate // _TOGETHER)
    ]
    return SoundPrint(_signs(np.concatenate([*parts, *resampler.rest()])))


def _coarse(samples: npt.NDArray[np.int16]) -> Iterator[Floats]:
    """The mean of the channels of some frames at a time.

    Added up as whole numbers: on every machine the same sound gives the same bits.
    """
    values = _TOGETHER * samples.shape[1]
    for first in range(0, len(samples), _AT_ONCE):
        some = samples[first : first + _AT_ONCE].reshape(-1)
        whole = some[: len(some) // values * values].reshape(-1, values)
        total = np.zeros(len(whole), dtype=np.int32)
        for place in range(values):
            total += whole[:, place]
        yield total.astype(np.float32) / np.float32(values * 32768)


def _signs(sound: Floats) -> npt.NDArray[np.int8]:
    values = even(sound, PRINT_RATE, BY_HALF)[: len(sound)]
    turns = np.arange(len(values)) % 2 == 0
    return np.where((values > 0) | ((values == 0) & turns), 1, -1).astype(np.int8)


def is_print_of(print_: SoundPrint, recording: Recording) -> bool:
    """True where a recording is as long as its print says, and sounds so at some moments.

    Raises
    ------
    TakeError
        If the file cannot be opened or holds no sound.
    """
    starts_s = [share * print_.length_s for share in _MOMENTS]

    def moments(length_s: float) -> Iterator[tuple[float, float]]:
        if abs(length_s - print_.length_s) < _SAME_S:
            yield from ((start_s, start_s + _MOMENT_S) for start_s in starts_s)

    sparse = excerpts(recording, moments)
    return sparse is not None and _agree(sparse, print_, starts_s)


def _agree(sparse: Halves, print_: SoundPrint, starts_s: Sequence[float]) -> bool:
    """True where some moments of a sound have the signs of its print, at one lag for all."""
    likenesses, total = np.zeros(2 * _MOVED + 1), 0.0
    for start_s in starts_s:
        moment = slice(*(round(time_s * SPARSE_RATE) for time_s in (start_s, start_s + _MOMENT_S)))
        values = even(halved(sparse[moment].astype(np.float32)), PRINT_RATE, BY_HALF)
        first = round(start_s * PRINT_RATE) - _MOVED
        signs = print_.piece(first, len(values) + 2 * _MOVED)
        likenesses += np.correlate(signs, values)
        total += float(np.abs(values).sum())
    return bool(np.abs(likenesses).max() > _AGREEING * total)
