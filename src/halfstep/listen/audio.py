"""What is in the file? Mono sound at one rate, a block at a time.

Whatever libav can decode is read: WAV, FLAC, MP3, AAC, Opus, the sound of a film. Channels
are averaged. A file is never held whole, so its length does not matter.

Conventions: blocks are float32, shape (samples,), 1.0 at full scale, at `spectra.RATE`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from halfstep.errors import TakeError
from halfstep.listen.cut_files import breaks_off, lacks_index, states_length
from halfstep.listen.ogg_pages import mended_pages
from halfstep.listen.spectra import RATE
from halfstep.listen.take_notice import TakeNotice, Trouble

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

BLOCK = RATE * 10
"""Samples of a block, the last one may be shorter."""
FULL = 0.999
"""From here on a sample counts as clipped."""
RESAMPLED = 1 << 14
"""Samples that are resampled at once."""
WAVE_PROBE = 1 << 15
"""Bytes of a WAV file that are looked into for sound packed in it: libav takes megabytes."""
SAMPLE_TYPES = {"u8": "u1", "s16": "i2", "s32": "i4", "s64": "i8", "flt": "f4", "dbl": "f8"}
"""How libav names the kinds of samples, and numpy."""
LEAST_GAP_S = 0.03
"""A jump of the file's own clock by so much is a gap; less is how clocks are written."""
MOST_FAILURES = 1000
"""After so many packets in a row that cannot be found a file is given up."""
LEAST_END_S = 0.5
"""How much of the stated length may lack at the end before the file is said to break off."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A place of a file that cannot be read, where silence is heard instead.

    Attributes
    ----------
    start_s, length_s : float
        By the file's own clock.
    """

    start_s: float
    length_s: float


@dataclass(slots=True)
class Damage:
    """What of a file could not be read; filled while it is read.

    Attributes
    ----------
    gaps : list of Gap
        In order.
    pages : int
        How many pages hold a wrong byte and were read all the same.
    end_s : float or None
        Where the file breaks off; None where it ends as it should.
    """

    gaps: list[Gap] = field(default_factory=list)
    pages: int = 0
    end_s: float | None = None

    def notices(self) -> Iterator[TakeNotice]:
        """What lacks and where, one line each."""
        if self.gaps:
            total_s = sum(gap.length_s for gap in self.gaps)
            places = [f"{gap.start_s:.1f} s" for gap in self.gaps[:3]]
            more = len(self.gaps) - len(places)
            where = ", ".join(places) + (f" and {more} more places" if more else "")
            yield TakeNotice(
                Trouble.DAMAGED,
                f"the file is damaged: {max(total_s, 0.1):.1f} s of it are missing, at {where}",
            )
        elif self.pages:
            yield TakeNotice(
                Trouble.DAMAGED,
                f"the file is damaged in {self.pages} places: what is heard there may be wrong",
            )
        if self.end_s is not None:
            yield TakeNotice(
                Trouble.DAMAGED,
                f"the file breaks off at {self.end_s:.1f} s or cannot be read from there on: "
                "send it once more, or the original",
            )


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

    def blocks(self, damage: Damage | None = None) -> Iterator[Floats]:
        """The sound, `BLOCK` samples at a time, silence where it cannot be read.

        Parameters
        ----------
        damage : Damage, optional
            Told what could not be read.

        Raises
        ------
        TakeError
            If the file cannot be opened or holds no sound.
        """
        kept: list[Floats] = []
        size = 0
        for piece in self._pieces(Damage() if damage is None else damage):
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
        """Samples a second, as the file has it.

        Raises
        ------
        TakeError
            As in `blocks`.
        """
        with self.opened(mended=False) as container:
            return int(container.streams.audio[0].rate)

    def _pieces(self, damage: Damage) -> Iterator[Floats]:
        with self.opened(damage) as container:
            yield from self._resampled(container, damage)

    @contextmanager
    def opened(self, damage: Damage | None = None, *, mended: bool = True) -> Iterator[Any]:
        """The file as libav reads it, once it is known that sound is in it.

        Parameters
        ----------
        damage : Damage, optional
            Told how many pages were mended.
        mended : bool
            Whether damaged pages are looked for, which reads the whole file.

        Raises
        ------
        TakeError
            As in `blocks`, with what is wrong in plain words.
        """
        import av
        from av.error import FFmpegError

        try:
            pages = mended_pages(self.path) if mended else None
            if damage is not None:
                damage.pages = pages.mended if pages else 0
            source = BytesIO(pages.data) if pages else str(self.path)
            with av.open(source, options=_probe(self.path)) as container:
                if not container.streams.audio:
                    raise TakeError(f"{self.path.name}: there is no sound in it")
                yield container
        except (FFmpegError, OSError, ValueError) as error:
            raise TakeError(f"{self.path.name}: {_reason(self.path, error)}") from None

    def _resampled(self, container: Any, damage: Damage) -> Iterator[Floats]:
        target = round(RATE / self.rate_ratio)
        stream = SoundStream(self.path, container, damage)
        turn = Resampler(target)
        for part in _gathered(stream.parts()):
            if isinstance(part, Gap):
                yield from turn.rest()
                yield from _silence(round(part.length_s * target))
                turn = Resampler(target)
            else:
                yield from turn.resampled(mono(part), part[0].sample_rate)
        if not stream.frames:
            raise TakeError(f"{self.path.name}: nothing of it can be read; send it once more")
        yield from turn.rest()
        if stream.ends_early or breaks_off(self.path):
            damage.end_s = stream.read_s


def _silence(samples: int) -> Iterator[Floats]:
    """So much of it, a block at a time: a clock may jump by hours."""
    for first in range(0, samples, BLOCK):
        yield np.zeros(min(BLOCK, samples - first), dtype=np.float32)


class Resampler:
    """Turns mono sound into that of another rate, piece by piece.

    Parameters
    ----------
    rate : int
        Samples a second that come out.
    """

    def __init__(self, rate: int) -> None:
        import av

        self._resampler = av.AudioResampler("flt", layout="mono", rate=rate)
        self._begun = False

    def resampled(self, sound: Floats, rate: int) -> Iterator[Floats]:
        """The sound so far, but for a little that is held back."""
        import av

        frame = av.AudioFrame.from_ndarray(sound[None], format="flt", layout="mono")
        frame.sample_rate = rate
        self._begun = True
        yield from (part.to_ndarray()[0] for part in self._resampler.resample(frame))

    def rest(self) -> Iterator[Floats]:
        """What was held back."""
        if self._begun:
            yield from (part.to_ndarray()[0] for part in self._resampler.resample(None))


class SoundStream:
    """Reads the frames of a container's sound, past what is damaged.

    Attributes
    ----------
    stated_s : float or None
        The length that the file states; None where it states none.
    read_s : float
        How much was read so far, gaps and all.
    frames : int
        How many frames were read.
    """

    def __init__(self, path: Path, container: Any, damage: Damage) -> None:
        self._path, self._container, self._damage = path, container, damage
        self._stream = container.streams.audio[0]
        self._tick_s = _tick_s(container)
        self._first_s: float | None = None
        self._kind: tuple[int, str] | None = None
        self._last_failed = False
        self.stated_s = self._stated_length_s()
        self.read_s = 0.0
        self.frames = 0

    def parts(self) -> Iterator[Any]:
        """Frames of sound, and gaps between them."""
        for frame in self._decoded():
            kind = (frame.sample_rate, frame.layout.name)
            self._kind = self._kind or kind
            if kind != self._kind:  # a damaged head makes a frame of another rate
                continue
            yield from self._gap_before(frame)
            self.read_s += frame.samples / frame.sample_rate
            self.frames += 1
            yield frame

    @property
    def ends_early(self) -> bool:
        """True where the file states a greater length, or its end could not be read."""
        lacking_s = 0.0 if self.stated_s is None else self.stated_s - self.read_s
        return self._last_failed or lacking_s > LEAST_END_S

    def _gap_before(self, frame: Any) -> Iterator[Gap]:
        if frame.pts is None or frame.time_base is None:
            return
        clock_s = frame.pts * self._tick_s
        if self._first_s is None:
            self._first_s = clock_s
        length_s = clock_s - self._first_s - self.read_s
        if length_s < LEAST_GAP_S:
            return
        if self.stated_s and self.read_s + length_s > self.stated_s + 1:
            return
        gap = Gap(self.read_s, length_s)
        self._damage.gaps.append(gap)
        self.read_s += length_s
        yield gap

    def _decoded(self) -> Iterator[Any]:
        from av.error import FFmpegError

        packets = self._container.demux(self._stream)
        failures = 0
        while failures < MOST_FAILURES:
            try:
                packet = next(packets, None)
            except EOFError:
                return
            except FFmpegError:  # which ends a demuxer's generator, not what it reads
                packets = self._container.demux(self._stream)
                self._last_failed = True
                failures += 1
                continue
            if packet is None:
                return
            try:
                yield from packet.decode()
                self._last_failed = self._last_failed and packet.size == 0
                failures = 0
            except FFmpegError:
                self._last_failed = True

    def _stated_length_s(self) -> float | None:
        """The length that the file states; None where it is only guessed from its size."""
        stream, container = self._stream, self._container
        if not states_length(container.format.name, self._path):
            return None
        if stream.duration is not None:
            return float(stream.duration * self._tick_s)
        return None if container.duration is None else container.duration / 1e6


def _tick_s(container: Any) -> float:
    """Seconds that a tick of the clock of a container's sound lasts.

    In FLAC it is a sample, of the rate that its frames state: where the head states a lower
    one, each frame would seem to come late.
    """
    stream = container.streams.audio[0]
    tick_s = float(stream.time_base)
    is_sample = container.format.name == "flac" and stream.rate
    return min(tick_s, 1 / stream.rate) if is_sample else tick_s


def _gathered(parts: Iterable[Any]) -> Iterator[list[Any] | Gap]:
    """Frames in runs of at least `RESAMPLED` samples, and the gaps between them."""
    frames: list[Any] = []
    samples = 0
    for part in parts:
        if not isinstance(part, Gap):
            frames.append(part)
            samples += part.samples
        if frames and (samples >= RESAMPLED or isinstance(part, Gap)):
            yield frames
            frames, samples = [], 0
        if isinstance(part, Gap):
            yield part
    if frames:
        yield frames


def mono(frames: Sequence[Any]) -> Floats:
    """The mean of the channels of frames of one kind, without what is no number."""
    channels = frames[0].layout.nb_channels
    planes = _planes(frames, channels)
    sound = _floats(planes if len(planes) == channels else planes.reshape(-1, channels).T)
    mean = np.full(channels, 1 / channels, dtype=np.float32) @ sound
    if np.isfinite(mean.sum()):
        return mean
    return np.asarray(np.nan_to_num(mean, nan=0.0, posinf=1.0, neginf=-1.0))


def _planes(frames: Sequence[Any], channels: int) -> npt.NDArray[Any]:
    """The samples of frames, a row for each channel, or one that has all of them in turn."""
    kind = frames[0].format
    dtype = SAMPLE_TYPES[kind.packed.name]
    width = 1 if kind.is_planar else channels
    rows = [
        [np.frombuffer(plane, dtype, width * frame.samples) for plane in frame.planes]
        for frame in frames
    ]
    return np.stack([np.concatenate(column) for column in zip(*rows, strict=True)])


def _floats(samples: npt.NDArray[Any]) -> Floats:
    """Samples of any kind, 1.0 at full scale."""
    if samples.dtype.kind == "f":
        return samples.astype(np.float32, copy=False)
    full = np.float32(1 << (8 * samples.dtype.itemsize - 1))
    middle = full if samples.dtype.kind == "u" else np.float32(0)
    return (samples.astype(np.float32) - middle) / full


def _probe(path: Path) -> dict[str, str]:
    """How libav is to look into a file before it reads it."""
    with path.open("rb") as file:
        return {"probesize": str(WAVE_PROBE)} if file.read(4) == b"RIFF" else {}


def _reason(path: Path, error: BaseException) -> str:
    """Why a file could not be read, in plain words."""
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    if isinstance(error, PermissionError):
        return "it may not be read"
    if isinstance(error, IsADirectoryError):
        return "it is a folder, not a recording"
    if lacks_index(path):
        return "it breaks off before its table of contents: send it once more, or the original"
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
        self._forget(first)
        read, length = [], len(self._kept)
        while self._first + length < first + samples:
            block = next(self._blocks, None)
            if block is None:
                break
            read.append(block)
            length += len(block)
            if self._first + length <= first:
                self._kept = self._kept[:0]
                self._first += length
                read, length = [], 0
        if read:
            self._kept = np.concatenate([self._kept, *read])
        self._forget(first)
        piece = self._kept[max(0, first - self._first) :][: max(0, samples + min(0, first))]
        before = min(samples, max(0, -first))
        return np.pad(piece, (before, samples - before - len(piece)))

    def _forget(self, first: int) -> None:
        past = min(max(0, first - self._first), len(self._kept))
        self._kept = self._kept[past:]
        self._first += past
