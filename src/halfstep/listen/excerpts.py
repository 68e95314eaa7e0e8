"""What does a long recording hold, by an eighth of it? Excerpts, each where it lies.

To decode a backing takes longer than to hear a short take. Its beginning and a moment of
every two seconds show whether it may be in a take at all. A file is looked into at each of
them, and nothing between is decoded.

Conventions: a sparse sound has `SPARSE_RATE` samples a second, kept as float16, shape
(samples,); between the excerpts there is silence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count, islice, takewhile
from math import gcd
from typing import TYPE_CHECKING, Any

import numpy as np

from halfstep.listen.audio import Recording, Resampler, mono
from halfstep.listen.thin_sound import THIN_RATE, silence

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Halves = npt.NDArray[np.float16]

SPARSE_RATE = THIN_RATE // 2
EVERY_S, LENGTH_S = 2.0, 0.25
"""How often an excerpt begins, and how long it is."""
EDGE_S = 3.0
"""So much is decoded at the beginning, where most takes begin too."""
_LEAD_S = 0.08
"""A decoder is given so much before an excerpt: packets lean on those before them."""
_EXACT = {"wav", "flac", "mp3", "ogg", "mov,mp4,m4a,3gp,3g2,mj2"}
"""The containers, as libav names them, in which it knows where it has gone to."""
_FINEST_CLOCK_HZ = 8_000
"""A file's clock must tick as often, or it does not say where its packets lie."""
_COARSEST_GRID_S = 0.05
_COARSEST_HZ = 8_000
_PAD_S = 0.02
"""Silence behind each excerpt, in which its resampling rings out."""
_AT_ONCE = 64
"""Excerpts that are resampled in one go."""


@dataclass(frozen=True, slots=True, eq=False)
class _Excerpt:
    """Frames that follow each other, and which of the file's samples they begin at."""

    start: int
    frames: tuple[Any, ...]


def _excerpt(frames: Sequence[Any], origin_s: float, rate: int) -> _Excerpt:
    """Frames where most of them say that they lie: in Ogg the one before a page may be wrong."""
    before = np.cumsum([0, *(frame.samples for frame in frames[:-1])])
    places = np.array([round((frame.time - origin_s) * rate) for frame in frames])
    return _Excerpt(max(0, int(np.median(places - before))), tuple(frames))


Spans = Callable[[float], Iterable[tuple[float, float]]]
"""When each excerpt of a sound of some length begins and ends, in seconds."""


def an_eighth(length_s: float) -> Iterator[tuple[float, float]]:
    """The beginning, and a moment of every two seconds."""
    yield 0.0, EDGE_S
    yield from _moments(EDGE_S + EVERY_S / 2, length_s)


def another_eighth(length_s: float) -> Iterator[tuple[float, float]]:
    """A moment between any two of those."""
    yield from _moments(EDGE_S, length_s)


def _moments(first_s: float, length_s: float) -> Iterator[tuple[float, float]]:
    starts_s = takewhile(length_s.__gt__, count(first_s, EVERY_S))
    yield from ((start_s, start_s + LENGTH_S) for start_s in starts_s)


def excerpts(recording: Recording, spans: Spans = an_eighth) -> Halves | None:
    """Parts of a recording; None where it must be read whole to know where they lie.

    Parameters
    ----------
    recording : Recording
    spans : callable
        Which parts.

    Raises
    ------
    TakeError
        If the file cannot be opened or holds no sound.
    """
    from av.error import FFmpegError

    with recording.opened(mended=False) as container:
        stream = container.streams.audio[0]
        if container.format.name not in _EXACT or not _is_placed(stream):
            return None
        try:
            return _sparse(_excerpts(container, stream, spans), stream.rate)
        except FFmpegError:
            return None


def _is_placed(stream: Any) -> bool:
    """True where the file says exactly enough where each packet lies, and how long it is."""
    fine = stream.time_base is not None and stream.time_base * _FINEST_CLOCK_HZ <= 1
    return bool(fine and stream.duration and _grid(stream.rate) <= _COARSEST_GRID_S * stream.rate)


def _grid(rate: int) -> int:
    """Every so many samples of a file one falls together with a sparse sample."""
    coarse = rate // _together(rate)
    return _together(rate) * (coarse // gcd(coarse, SPARSE_RATE))


def _together(rate: int) -> int:
    """The mean of so many samples is taken before they are resampled, which costs more."""
    return next((many for many in (4, 2) if rate % many == 0 and rate >= many * _COARSEST_HZ), 1)


def _excerpts(container: Any, stream: Any, spans: Spans) -> Iterator[_Excerpt]:
    origin_s = float(next(container.decode(stream)).time)
    for begin_s, end_s in spans(float(stream.duration * stream.time_base)):
        frames = [*_frames(container, stream, origin_s + begin_s, origin_s + end_s)]
        if frames:
            yield _excerpt(frames, origin_s, stream.rate)


def _frames(container: Any, stream: Any, begin_s: float, end_s: float) -> Iterator[Any]:
    """What sounds from one time up to another, as far as it can be decoded."""
    from av.error import FFmpegError

    lead = int((begin_s - _LEAD_S) / stream.time_base)
    try:
        container.seek(max(0, lead), stream=stream)
        for packet in container.demux(stream):
            if packet.pts is not None and packet.pts + (packet.duration or 0) < lead:
                continue
            for frame in packet.decode():
                if frame.time >= end_s:
                    return
                length_s = frame.samples / frame.sample_rate
                if frame.time + length_s > begin_s and frame.sample_rate == stream.rate:
                    yield frame
    except FFmpegError:  # of a damaged packet, or at the end
        return


def _sparse(pieces: Iterator[_Excerpt], rate: int) -> Halves | None:
    """The excerpts at `SPARSE_RATE`, resampled one behind the other."""
    grid = _grid(rate)
    places: list[tuple[int, int]] = []
    resampler = Resampler(SPARSE_RATE)
    parts: list[Halves] = []
    while some := list(islice(pieces, _AT_ONCE)):
        sounds = [_on_grid(sound, start, rate) for start, sound in _sounds(some)]
        places += [
            (piece.start // grid, len(sound) // grid)
            for piece, sound in zip(some, sounds, strict=True)
        ]
        coarse = _means(np.concatenate(sounds), _together(rate))
        resampled = resampler.resampled(coarse, rate // _together(rate))
        parts += (part.astype(np.float16) for part in resampled)
    parts += (part.astype(np.float16) for part in resampler.rest())
    if not parts:
        return None
    return _placed(np.concatenate(parts), places, SPARSE_RATE * grid // rate)


def _means(sound: Floats, many: int) -> Floats:
    """The mean of so many samples at a time."""
    return np.asarray(sound.reshape(-1, many) @ np.full(many, 1 / many, dtype=np.float32))


def _sounds(pieces: Sequence[_Excerpt]) -> Iterator[tuple[int, Floats]]:
    """The sound of each excerpt, and where it begins."""
    sound = mono([frame for piece in pieces for frame in piece.frames])
    ends = np.cumsum([sum(frame.samples for frame in piece.frames) for piece in pieces])
    parts = np.split(sound, ends[:-1])
    yield from ((piece.start, part) for piece, part in zip(pieces, parts, strict=True))


def _on_grid(sound: Floats, start: int, rate: int) -> Floats:
    """An excerpt from a sample on that is also a sparse one, with silence around it."""
    grid = _grid(rate)
    before = start % grid
    length = before + len(sound) + round(_PAD_S * rate)
    return np.pad(sound, (before, -(-length // grid) * grid - before - len(sound)))


def _placed(sound: Halves, places: list[tuple[int, int]], step: int) -> Halves:
    """Excerpts that lie one behind the other, each at its place.

    Parameters
    ----------
    places : list of (int, int)
        Where each one begins and how long it is.
    step : int
        Sparse samples in one of these units.
    """
    last, length = places[-1]
    samples = silence((last + length) * step)
    read = 0
    for place, size in places:
        part = sound[read * step : (read + size) * step]
        samples[place * step : place * step + len(part)] = part
        read += size
    return samples


def both(first: Halves, second: Halves) -> Halves:
    """Excerpts of one recording and others that lie between them."""
    samples = silence(max(len(first), len(second)))
    samples[: len(first)] = first
    samples[: len(second)] += second
    return samples
