"""What is in the file? Mono sound at one rate, a block at a time.

Whatever libav can decode is read: WAV, FLAC, MP3, AAC, Opus, the sound of a film. Channels
are averaged. A file is never held whole, so its length does not matter.

Conventions: blocks are float32, shape (samples,), 1.0 at full scale, at `spectra.RATE`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from halfstep.errors import TakeError
from halfstep.listen.spectra import RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

BLOCK = RATE * 10
"""Samples of a block, the last one may be shorter."""
FULL = 0.999
"""From here on a sample counts as clipped."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A file of sound.

    Attributes
    ----------
    path : Path
    rate_ratio : float
        The true rate over the one that the file declares.
    """

    path: Path
    rate_ratio: float = 1.0

    def blocks(self) -> Iterator[Floats]:
        """The sound, `BLOCK` samples at a time.

        Raises
        ------
        TakeError
            If the file cannot be opened or holds no sound.
        """
        kept: list[Floats] = []
        size = 0
        for piece in self._pieces():
            kept.append(piece)
            size += len(piece)
            while size >= BLOCK:
                whole = np.concatenate(kept)
                yield whole[:BLOCK]
                kept, size = [whole[BLOCK:]], size - BLOCK
        if size:
            yield np.concatenate(kept)

    @property
    def declared_rate(self) -> int:
        """Samples a second, as the file has it."""
        import av

        with av.open(str(self.path)) as container:
            return int(container.streams.audio[0].rate)

    def _pieces(self) -> Iterator[Floats]:
        import av
        from av.error import FFmpegError

        try:
            with av.open(str(self.path)) as container:
                if not container.streams.audio:
                    raise TakeError(f"{self.path.name}: there is no sound in it")
                yield from self._resampled(container)
        except (FFmpegError, OSError, ValueError) as error:
            raise TakeError(f"{self.path.name}: {_reason(error)}") from None

    def _resampled(self, container: Any) -> Iterator[Floats]:
        import av

        target = round(RATE / self.rate_ratio)
        resampler = av.AudioResampler(format="fltp", layout=None, rate=target)
        try:
            for frame in container.decode(audio=0):
                frame.pts = None
                yield from (_mono(part) for part in resampler.resample(frame))
        except EOFError:
            pass
        except av.error.InvalidDataError:
            pass  # a file that breaks off is heard as far as it goes
        yield from (_mono(part) for part in resampler.resample(None))


def _mono(frame: Any) -> Floats:
    sound = frame.to_ndarray().astype(np.float32, copy=False)
    mean = sound.mean(axis=0) if len(sound) > 1 else sound[0]
    if np.isfinite(mean).all():
        return np.asarray(mean)
    return np.asarray(np.nan_to_num(mean, nan=0.0, posinf=1.0, neginf=-1.0))


def _reason(error: BaseException) -> str:
    """Why a file could not be read, in plain words."""
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    if isinstance(error, PermissionError):
        return "it may not be read"
    if isinstance(error, IsADirectoryError):
        return "it is a folder, not a recording"
    return "it is not a recording that can be read; WAV, FLAC, MP3, M4A and OGG can"


class BlockSource(Protocol):
    """Whatever gives the blocks of a sound, one after the other."""

    def blocks(self) -> Iterator[Floats]:
        """The sound, at most `BLOCK` samples at a time."""


class Stretches:
    """Reads stretches of a recording in order, holding only what is asked for.

    Parameters
    ----------
    recording : BlockSource
    """

    def __init__(self, recording: BlockSource) -> None:
        self._blocks = recording.blocks()
        self._kept = np.zeros(0, dtype=np.float32)
        self._first = 0

    def stretch(self, first: int, samples: int) -> Floats:
        """Samples from ``first`` on, silence where there are none.

        A stretch may not begin before the one that was asked for last.
        """
        while self._first + len(self._kept) < first + samples:
            block = next(self._blocks, None)
            if block is None:
                break
            self._kept = np.concatenate([self._kept, block])
            self._forget(first)
        self._forget(first)
        piece = self._kept[max(0, first - self._first) :][: max(0, samples + min(0, first))]
        before = min(samples, max(0, -first))
        return np.pad(piece, (before, samples - before - len(piece)))

    def _forget(self, first: int) -> None:
        past = min(max(0, first - self._first), len(self._kept))
        self._kept = self._kept[past:]
        self._first += past
