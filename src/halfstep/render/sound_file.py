"""How is sound stored? One table of formats, each with what writes it.

Sound is int16, shape (frames, 2), at `FRAME_RATE`; what a file says of itself is a
`SoundFacts`. WAV and FLAC give the same samples back, the others the same frames: an AAC
file decodes to whole packets of `PACKET` frames, so that a length in packets is exact.

The same sound gives the same bytes, in every format.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from halfstep.errors import BriefError, did_you_mean
from halfstep.files import whole_file
from halfstep.ogg_page import NUMBER, PLACE, SERIAL, SUM, first_packet_apart, page_places, page_sum
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.sound_facts import SoundFacts
from halfstep.render.wav_file import write_wav

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]

PACKET = 1024
"""Frames of an AAC packet."""
_AAC_BITS, _MP3_BITS = 104_000, 128_000
"""Bits a second."""
_BLOCK = 1 << 15
"""Frames that are encoded at a time: the whole of a long sound as Ogg ends the process."""
_STREAM_NUMBER = (1).to_bytes(4, "little")


@dataclass(frozen=True, slots=True)
class SoundFormat:
    """A format of sound files.

    Attributes
    ----------
    name : str
        What is asked for, and how its files end.
    title : str
    store : callable
        Writes sound into a file that is open for writing and reading.
    """

    name: str
    title: str
    store: Callable[[BinaryIO, Samples, SoundFacts], None]

    @property
    def suffix(self) -> str:
        """How its files end, with the dot."""
        return f".{self.name}"


def _store_wav(file: BinaryIO, samples: Samples, facts: SoundFacts) -> None:
    tags = {b"INAM": facts.title, b"ICMT": facts.comment}
    write_wav(file, samples, loop=facts.loop_frames, tags=tags)


_EXACT = {"movie_timescale": str(FRAME_RATE)}
"""In milliseconds an edit list is not exact."""
_CODER = {"aac_coder": "fast", "aac_tns": "0"}
"""Shaped in time, a stroke would overshoot by 2 dB."""


def _store_m4a(file: BinaryIO, samples: Samples, facts: SoundFacts) -> None:
    """AAC-LC, whose edit list tells the frames before the first one and after the last."""
    _encode(
        file,
        samples,
        "ipod",
        "aac",
        _AAC_BITS,
        tags=_tags(facts),
        muxer=_EXACT,
        encoder=_CODER,
    )


def light_m4a(samples: Samples, bits: int) -> bytes:
    """A short sound in few bytes, for a page: AAC-LC that says nothing of itself.

    Parameters
    ----------
    samples : numpy.ndarray
        Shape (frames, 1) or (frames, 2), in whole packets.
    bits : int
        A second, at most; what is soft takes fewer.
    """
    file = BytesIO()
    _encode(file, samples, "ipod", "aac", bits, muxer=_EXACT, encoder=_CODER)
    return file.getvalue()


def _tags(facts: SoundFacts) -> dict[str, str]:
    return {"title": facts.title, "comment": facts.comment}


def _store_mp3(file: BinaryIO, samples: Samples, facts: SoundFacts) -> None:
    """MP3, whose first frame tells the frames before the first one and after the last."""
    _encode(file, samples, "mp3", "libmp3lame", _MP3_BITS, tags=_tags(facts))


def _encode(
    file: BinaryIO,
    samples: Samples,
    container: str,
    codec: str,
    bits: int,
    *,
    tags: dict[str, str] | None = None,
    muxer: dict[str, str] | None = None,
    encoder: dict[str, str] | None = None,
) -> None:
    import av

    options = {"fflags": "+bitexact", **(muxer or {})}  # no version of the library in it
    with av.open(file, "w", format=container, options=options) as out:
        out.metadata.update(tags or {})
        stream: Any = out.add_stream(codec, rate=FRAME_RATE, layout=_layout(samples))
        stream.bit_rate = bits
        stream.codec_context.options = encoder or {}
        for start in range(0, len(samples), _BLOCK):
            out.mux(stream.encode(_frame(samples, start)))
        out.mux(stream.encode(None))


def _layout(samples: Samples) -> str:
    return "mono" if samples.shape[1] == 1 else "stereo"


def _frame(samples: Samples, start: int) -> Any:
    import av
    import numpy as np

    block = np.ascontiguousarray(samples[start : start + _BLOCK]).reshape(1, -1)
    frame: Any = av.AudioFrame.from_ndarray(block, format="s16", layout=_layout(samples))
    frame.sample_rate, frame.pts = FRAME_RATE, start
    return frame


def _store_flac(file: BinaryIO, samples: Samples, facts: SoundFacts) -> None:
    _store_by_soundfile(file, samples, _tags(facts), "FLAC", "PCM_16")


def _store_ogg(file: BinaryIO, samples: Samples, facts: SoundFacts) -> None:
    _write_ogg(file, samples, _tags(facts))


def light_ogg(samples: Samples) -> bytes:
    """The same for a browser that knows no AAC: Ogg Vorbis."""
    file = BytesIO()
    _write_ogg(file, samples, {})
    return file.getvalue()


def _write_ogg(file: BinaryIO, samples: Samples, tags: dict[str, str]) -> None:
    """Ogg Vorbis, its stream numbered anew: the library takes a number by chance."""
    made = BytesIO()
    _store_by_soundfile(made, samples, tags, "OGG", "VORBIS")
    data = made.getvalue()
    pages = [bytearray(data[start:end]) for start, end in page_places(data)]
    for number, page in enumerate(_paged(pages)):
        page[SERIAL], page[NUMBER] = _STREAM_NUMBER, number.to_bytes(4, "little")
        page[SUM] = bytes(4)
        page[SUM] = page_sum(page).to_bytes(4, "little")
        file.write(page)


def _paged(pages: list[bytearray]) -> Iterator[bytearray]:
    """The same pages; where all sound is in the last one, its first packet before it.

    The first packet gives no frame yet. A browser takes the place of the first frame from the
    first page with sound, unless it is the last one, and would lose a block at the end.
    """
    *before, last = pages
    yield from before
    if any(int.from_bytes(page[PLACE], "little", signed=True) > 0 for page in before):
        yield last
        return
    first, rest = first_packet_apart(last)
    first[PLACE] = bytes(8)
    yield from (first, rest)


def _store_by_soundfile(
    file: BinaryIO, samples: Samples, tags: dict[str, str], container: str, form: str
) -> None:
    import soundfile

    channels = samples.shape[1]
    with soundfile.SoundFile(file, "w", FRAME_RATE, channels, form, format=container) as out:
        for name, text in tags.items():
            setattr(out, name, text)
        for start in range(0, len(samples), _BLOCK):
            out.write(samples[start : start + _BLOCK])


SOUND_FORMATS = {
    form.name: form
    for form in (
        SoundFormat("m4a", "AAC in M4A", _store_m4a),
        SoundFormat("mp3", "MP3", _store_mp3),
        SoundFormat("ogg", "Ogg Vorbis", _store_ogg),
        SoundFormat("flac", "FLAC", _store_flac),
        SoundFormat("wav", "WAV", _store_wav),
    )
}
"""By name; the first one is written where none is asked for."""

DEFAULT_FORMAT = next(iter(SOUND_FORMATS.values()))


def sound_format(name: str) -> SoundFormat:
    """The format of a name.

    Raises
    ------
    BriefError
    """
    form = SOUND_FORMATS.get(name.strip().lower().removeprefix("."))
    if form is None:
        raise BriefError(
            f"`sound_format` {name!r}: choose from {', '.join(SOUND_FORMATS)}"
            f"{did_you_mean(name, SOUND_FORMATS)}"
        )
    return form


def write_sound(path: Path, samples: Samples, facts: SoundFacts) -> None:
    """Store sound in the format that the name ends in; the file appears whole or not at all."""
    with whole_file(path) as file:
        SOUND_FORMATS[path.suffix.removeprefix(".")].store(file, samples, facts)


def sound_bytes(form: SoundFormat, samples: Samples, facts: SoundFacts) -> bytes:
    """Sound as a file of that format."""
    file = BytesIO()
    form.store(file, samples, facts)
    return file.getvalue()
