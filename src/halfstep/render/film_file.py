"""How does a film become a file? Passages are painted and encoded once each, and their packets put
wherever they come again; the sound is encoded whole.

Conventions
-----------
- A film has `FRAMES_A_SECOND`; places are counted in `TICKS_A_SECOND`, so that a passage begins
  when its music does, and frames follow from there. The last frame of a passage is up to half a
  frame shorter or longer than the others.
- A passage begins with a key frame and refers to no frame before it. Its encoder is a new one,
  alike to all others, so that what one begins another may follow.
- The sound begins with the first sample and is as long as the film.
- Players find all places at the head of the file, so that one plays from a plain file and from a
  server while it is fetched.

Sources: ISO/IEC 14496-10 and -14 (H.264, MP4), 14496-3 (AAC), Apple QuickTime (animation codec,
chapters), WebM container guidelines, ITU-R BT.709 for colours.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.render.film_painter import FramePainter
from halfstep.render.film_scene import FilmPassage, Scene
from halfstep.render.film_sizes import FilmSize
from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]

FRAMES_A_SECOND = 30
TICKS_A_SECOND = 90_000
_TICK = Fraction(1, TICKS_A_SECOND)
_FRAME_TICKS = TICKS_A_SECOND // FRAMES_A_SECOND
_MOST_WORKERS = 4
_AHEAD = 8
"""Passages that are made before the first of them is put into the file."""
_BLOCK = 1 << 15
_SOUND_BITS = 128_000

FilmProgress = Callable[[float], None]
"""Told the share of the film that is in its file."""
Runs = tuple[tuple[int, Scene], ...]


@dataclass(frozen=True, slots=True)
class FilmFormat:
    """A kind of film file.

    Attributes
    ----------
    suffix : str
    container, video, audio : str
        As libav names them; without ``audio`` it is silent.
    pixels : str
        How pixels are stored.
    has_alpha : bool
        What is not painted is not seen.
    encoder : mapping of str to str
        Settings of the video encoder.
    muxer : mapping of str to str
    """

    suffix: str
    container: str
    video: str
    audio: str
    pixels: str
    has_alpha: bool
    encoder: Mapping[str, str] = field(default_factory=dict)
    muxer: Mapping[str, str] = field(default_factory=dict)


_X264 = (
    "scenecut=0:bframes=0:keyint=infinite:min-keyint=1:open-gop=0:rc-lookahead=0:mbtree=0:"
    "chroma-qp-offset=-6:subme=0:me=dia:weightp=0:no-deblock=1"
)
"""Passages alike; and nothing is looked for that a drawing has not: nothing moves by parts of a
pixel or fades as a whole, and edges stay as sharp as they are drawn.
"""
FILM = FilmFormat(
    ".mp4",
    "mp4",
    "libx264",
    "aac",
    "yuv420p",
    False,
    {"preset": "superfast", "crf": "20", "x264-params": _X264},
    {
        "movflags": "+faststart",
        "movie_timescale": str(FRAME_RATE),
        "video_track_timescale": "90000",
    },
)
"""What plays everywhere."""
OVERLAYS = {
    form.suffix: form
    for form in (
        FilmFormat(
            ".mov",
            "mov",
            "qtrle",
            "pcm_s16le",
            "argb",
            True,
            {},
            {
                "movflags": "+faststart",
                "movie_timescale": "90000",
                "video_track_timescale": "90000",
            },
        ),
        FilmFormat(
            ".webm",
            "webm",
            "libvpx-vp9",
            "",
            "yuva420p",
            True,
            {
                "deadline": "realtime",
                "cpu-used": "8",
                "crf": "30",
                "b": "0",
                "lag-in-frames": "0",
                "auto-alt-ref": "0",
            },
        ),
    )
}
"""What is laid over another film, by how its name ends: for editors, and for pages."""


def film_format(suffix: str) -> FilmFormat:
    """The format that a name's end asks for.

    Raises
    ------
    KeyError
    """
    return FILM if suffix == FILM.suffix else OVERLAYS[suffix]


@dataclass(frozen=True, slots=True)
class FilmChapter:
    """A part of a film that a player can go to.

    Attributes
    ----------
    start_s, end_s : float
    title : str
    """

    start_s: float
    end_s: float
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmContent:
    """All that goes into a film file.

    Attributes
    ----------
    size : FilmSize
    passages : tuple of FilmPassage
    length_s : float
    sound : numpy.ndarray
        Shape (frames, 2), from the first frame of the film on.
    chapters : tuple of FilmChapter
    title : str
        As players show it; empty says nothing.
    """

    size: FilmSize
    passages: tuple[FilmPassage, ...]
    length_s: float
    sound: Samples
    chapters: tuple[FilmChapter, ...] = ()
    title: str = ""


@dataclass(frozen=True, slots=True)
class _EncodedFrame:
    """A frame of a passage as it stands in the file; ``alpha`` where the codec keeps that apart."""

    data: bytes
    is_key: bool
    alpha: Any = None


def write_film(
    path: Path,
    content: FilmContent,
    painter: FramePainter,
    form: FilmFormat = FILM,
    *,
    progress: FilmProgress = lambda _: None,
) -> None:
    """Write a film.

    Parameters
    ----------
    path : Path
        Written as it grows: give it another name until it is whole.
    content : FilmContent
    painter : FramePainter
    form : FilmFormat
    progress : callable

    Raises
    ------
    OSError
        When it cannot be written, as on a full disk.
    """
    import av

    options = {"fflags": "+bitexact", **form.muxer}
    with av.open(str(path), "w", format=form.container, options=options) as out:
        if content.title:
            out.metadata["title"] = content.title
        video = _video_stream(out, content.size, form)
        sound = _SoundTrack(out, form, content.sound) if form.audio else None
        out.set_chapters(list(_chapters(content.chapters)))
        out.start_encoding()
        starts = [round(passage.start_s * TICKS_A_SECOND) for passage in content.passages]
        ends = [*starts[1:], round(content.length_s * TICKS_A_SECOND)]
        passages = _encoded(content, painter, form)
        for start, end, frames in zip(starts, ends, passages, strict=True):
            if end <= start:
                continue  # it is over before it is seen, and a file holds no frame of no length
            for number, frame in enumerate(frames):
                at = start + number * _FRAME_TICKS
                following = end if number + 1 == len(frames) else at + _FRAME_TICKS
                out.mux(_packet(frame, video, at, following - at))
            if sound:
                sound.write_until(end / TICKS_A_SECOND)
            progress(end / ends[-1])
        if sound:
            sound.end()


def _chapters(chapters: Sequence[FilmChapter]) -> Iterator[Any]:
    for number, chapter in enumerate(chapters, 1):
        yield {
            "id": number,
            "start": round(chapter.start_s * 1000),
            "end": round(chapter.end_s * 1000),
            "time_base": Fraction(1, 1000),
            "metadata": {"title": chapter.title},
        }


# Pictures


def _video_stream(out: Any, size: FilmSize, form: FilmFormat) -> Any:
    stream = out.add_stream(form.video, rate=FRAMES_A_SECOND)
    _set_up(stream.codec_context, size, form)
    stream.time_base = _TICK
    return stream


def _set_up(context: Any, size: FilmSize, form: FilmFormat) -> None:
    context.width, context.height, context.pix_fmt = size.width, size.height, form.pixels
    context.time_base, context.framerate = _TICK, FRAMES_A_SECOND
    context.thread_count = 1  # passages are made side by side; and more would change the bytes
    context.options = dict(form.encoder)
    if form.pixels.startswith("yuv"):
        context.color_primaries = context.color_trc = context.colorspace = 1  # BT.709
        context.color_range = 1


def _encoded(
    content: FilmContent, painter: FramePainter, form: FilmFormat
) -> Iterator[list[_EncodedFrame]]:
    """The frames of each passage, of which those that are equal are made once."""
    made: dict[Runs, Future[list[_EncodedFrame]]] = {}
    ahead: deque[Runs] = deque()
    count = min(_MOST_WORKERS, os.cpu_count() or 1)
    with ThreadPoolExecutor(count, thread_name_prefix="film") as pool:
        try:
            for passage in content.passages:
                if passage.runs not in made:
                    made[passage.runs] = pool.submit(
                        _passage, passage.runs, content.size, painter, form
                    )
                ahead.append(passage.runs)
                if len(ahead) > _AHEAD:
                    yield made[ahead.popleft()].result()
            while ahead:
                yield made[ahead.popleft()].result()
        finally:
            pool.shutdown(cancel_futures=True)


def _passage(
    runs: Runs, size: FilmSize, painter: FramePainter, form: FilmFormat
) -> list[_EncodedFrame]:
    """One passage, by an encoder of its own."""
    import av

    encoder: Any = av.CodecContext.create(form.video, "w")
    _set_up(encoder, size, form)
    if form.container != "webm":
        encoder.flags |= av.codec.context.Flags.global_header
    frames: list[_EncodedFrame] = []
    at = 0
    for count, scene in runs:
        frame = _frame(painter.pixels(scene), form)
        for _ in range(count):
            frame.pts, frame.time_base = at, _TICK
            at += _FRAME_TICKS
            frames += map(_encoded_frame, encoder.encode(frame))
    frames += map(_encoded_frame, encoder.encode(None))
    return frames


def _frame(pixels: Any, form: FilmFormat) -> Any:
    import av

    frame = av.VideoFrame.from_ndarray(pixels, format="rgba" if form.has_alpha else "rgb24")
    if form.pixels.startswith("yuv"):
        return frame.reformat(format=form.pixels, dst_colorspace="ITU709", dst_color_range="MPEG")
    return frame.reformat(format=form.pixels)


_ALPHA = "matroska_block_additional"


def _encoded_frame(packet: Any) -> _EncodedFrame:
    alpha = packet.get_sidedata(_ALPHA) if packet.has_sidedata(_ALPHA) else None
    return _EncodedFrame(bytes(packet), packet.is_keyframe, alpha)


def _packet(frame: _EncodedFrame, stream: Any, at: int, ticks: int) -> Any:
    import av

    packet: Any = av.Packet(frame.data)
    packet.stream, packet.time_base = stream, _TICK
    packet.pts = packet.dts = at
    packet.duration, packet.is_keyframe = ticks, frame.is_key
    if frame.alpha is not None:
        packet.set_sidedata(frame.alpha)
    return packet


# Sound


class _SoundTrack:
    """Puts sound into a file, a stretch at a time."""

    def __init__(self, out: Any, form: FilmFormat, samples: Samples) -> None:
        self._out = out
        self._samples = samples
        self._at = 0
        self._stream = out.add_stream(form.audio, rate=FRAME_RATE, layout="stereo")
        if form.audio == "aac":
            self._stream.bit_rate = _SOUND_BITS
            self._stream.codec_context.options = {"aac_coder": "fast", "aac_tns": "0"}

    def write_until(self, time_s: float) -> None:
        """Put what is heard before a time."""
        end = min(len(self._samples), round(time_s * FRAME_RATE))
        while self._at < end:
            stop = min(end, self._at + _BLOCK)
            self._out.mux(self._stream.encode(self._block(stop)))
            self._at = stop

    def end(self) -> None:
        """Put the rest."""
        self.write_until(len(self._samples) / FRAME_RATE)
        self._out.mux(self._stream.encode(None))

    def _block(self, stop: int) -> Any:
        import av
        import numpy as np

        block = np.ascontiguousarray(self._samples[self._at : stop]).reshape(1, -1)
        frame: Any = av.AudioFrame.from_ndarray(block, format="s16", layout="stereo")
        frame.sample_rate, frame.pts = FRAME_RATE, self._at
        return frame
