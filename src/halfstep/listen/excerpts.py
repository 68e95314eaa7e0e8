"""What does a long recording hold, by a third of it? Excerpts, each where it lies.

To decode a backing takes longer than to hear a short take. Where a backing is not in a take
at all, its beginning, its end and a second out of every three show as much: what a whole
backing would tell clearly, a third of it still tells from chance. The packets between are
read and not decoded, so that each excerpt has its true place.

Conventions: those of `halfstep.listen.thin_sound`; between the excerpts there is silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import gcd
from typing import TYPE_CHECKING, Any

import numpy as np

from halfstep.listen.audio import Recording, Resampler, mono
from halfstep.listen.thin_sound import THIN_RATE, ThinSound, silence

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

EVERY_S, LENGTH_S = 3.0, 1.0
"""How often an excerpt begins, and how long it is."""
EDGE_S = 3.0
"""So much is decoded at the beginning and at the end."""
_LEAD_S = 0.15
"""A decoder is given so much before an excerpt: packets lean on those before them."""
_FINEST_CLOCK_HZ = 8_000
"""A file's clock must tick as often, or it does not say where its packets lie."""
_COARSEST_GRID_S = 0.05
_PAD_S = 0.02
"""Silence behind each excerpt, in which its resampling rings out."""


@dataclass(slots=True)
class _Excerpt:
    """Frames that follow each other, and which of the file's samples they begin and end at."""

    start: int
    end: int
    frames: list[Any] = field(default_factory=list)

    def add(self, frame: Any) -> None:
        self.frames.append(frame)
        self.end += frame.samples


def excerpts(recording: Recording) -> ThinSound | None:
    """A third of a recording; None where it must be read whole to know where its parts lie.

    Raises
    ------
    TakeError
        If the file cannot be opened or holds no sound.
    """
    from av.error import FFmpegError

    with recording.opened() as container:
        stream = container.streams.audio[0]
        if not _is_placed(stream):
            return None
        try:
            return _thin(_excerpts(container, stream), stream.rate)
        except FFmpegError:
            return None


def _is_placed(stream: Any) -> bool:
    """True where the file says exactly enough where each packet lies, and how long it is."""
    fine = stream.time_base is not None and stream.time_base * _FINEST_CLOCK_HZ <= 1
    return bool(fine and stream.duration and _grid(stream.rate) <= _COARSEST_GRID_S * stream.rate)


def _grid(rate: int) -> int:
    """Every so many samples of a file one falls together with a thin sample."""
    return rate // gcd(rate, THIN_RATE)


def _is_wanted(time_s: float, length_s: float) -> bool:
    in_excerpt = time_s % EVERY_S < LENGTH_S
    return in_excerpt or time_s < EDGE_S or time_s > length_s - EDGE_S


def _frames(container: Any, stream: Any) -> Iterator[Any]:
    """Frames of the excerpts and some before each of them."""
    from av.error import FFmpegError

    length_s = float(stream.duration * stream.time_base)
    tick_s = float(stream.time_base)
    first_s: float | None = None
    for packet in container.demux(stream):
        if packet.pts is not None:
            first_s = packet.pts * tick_s if first_s is None else first_s
            time_s = packet.pts * tick_s - first_s
            if not (_is_wanted(time_s, length_s) or _is_wanted(time_s + _LEAD_S, length_s)):
                continue
        try:
            yield from packet.decode()
        except FFmpegError:  # of what leans on a packet that was left out
            continue


def _excerpts(container: Any, stream: Any) -> Iterator[_Excerpt]:
    length_s = float(stream.duration * stream.time_base)
    first_s: float | None = None
    excerpt = _Excerpt(0, 0)
    for frame in _frames(container, stream):
        if frame.pts is None or frame.sample_rate != stream.rate:
            continue
        first_s = frame.time if first_s is None else first_s
        if not _is_wanted(frame.time - first_s, length_s):
            continue
        start = round((frame.time - first_s) * stream.rate)
        if excerpt.frames and start != excerpt.end:
            yield excerpt
            excerpt = _Excerpt(start, start)
        excerpt.add(frame)
    if excerpt.frames:
        yield excerpt


def _thin(pieces: Iterator[_Excerpt], rate: int) -> ThinSound | None:
    """The excerpts at `THIN_RATE`, resampled one behind the other."""
    places: list[tuple[int, int]] = []
    resampler = Resampler(THIN_RATE)
    parts: list[npt.NDArray[np.float16]] = []
    for piece in pieces:
        sound = _on_grid(piece, rate)
        places.append((-(-piece.start // _grid(rate)), len(sound) // _grid(rate)))
        parts += (part.astype(np.float16) for part in resampler.resampled(sound, rate))
    parts += (part.astype(np.float16) for part in resampler.rest())
    if not parts:
        return None
    return _placed(np.concatenate(parts), places, THIN_RATE * _grid(rate) // rate)


def _on_grid(piece: _Excerpt, rate: int) -> Floats:
    """An excerpt from the first sample on that is also a thin one, with silence behind it."""
    grid = _grid(rate)
    sound = mono(piece.frames)[-piece.start % grid :]
    length = len(sound) + round(_PAD_S * rate)
    return np.pad(sound, (0, -(-length // grid) * grid - len(sound)))


def _placed(sound: npt.NDArray[np.float16], places: list[tuple[int, int]], step: int) -> ThinSound:
    """Excerpts that lie one behind the other, each at its place.

    Parameters
    ----------
    places : list of (int, int)
        Where each one begins and how long it is.
    step : int
        Thin samples in one of these units.
    """
    last, length = places[-1]
    samples = silence((last + length) * step)
    read = 0
    for place, size in places:
        part = sound[read * step : (read + size) * step]
        samples[place * step : place * step + len(part)] = part
        read += size
    return ThinSound(samples)
