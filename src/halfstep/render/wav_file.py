"""What is in a WAVE file? 16-bit sound, its loop points and its tags, written with no copy.

Source: the RIFF WAVE format, its sampler chunk ``smpl`` and its list ``INFO`` (from memory);
read back by other programs in the tests.
"""

from __future__ import annotations

import os
import shutil
import struct
from collections.abc import Iterator, Mapping
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]


_WIDTH = 2
"""Bytes of a sample."""
_MOST_TAGS = 1 << 24
"""Bytes of tags that are read."""


def write_wav(
    file: BinaryIO,
    samples: Samples,
    *,
    loop: tuple[int, int] | None = None,
    tags: Mapping[bytes, str] | None = None,
) -> None:
    """Write sound as a RIFF WAVE file, 44.1 kHz, 16 bit, with its loop points and tags.

    Parameters
    ----------
    file : file object
        Open for writing.
    samples : numpy.ndarray
        int16, shape (frames, 2).
    loop : tuple of (int, int), optional
        First frame of the loop and the frame after its last; stored in a ``smpl`` chunk,
        whose end is the last frame itself.
    tags : mapping of bytes to str, optional
        Texts by the name of their chunk in the list ``INFO``: ``INAM``, ``ICMT``.
    """
    import numpy as np

    data = np.ascontiguousarray(samples, "<i2").reshape(-1).view(np.uint8)
    behind = (_chunk(b"smpl", _loop(*loop)) if loop else b"") + (_info(tags) if tags else b"")
    file.write(_head(_form(samples.shape[1], FRAME_RATE), len(data), len(behind)))
    file.write(data.data)
    file.write(behind)


def write_mono_wav(
    file: BinaryIO, sound: BinaryIO, *, size: int, rate: int, tags: Mapping[bytes, str]
) -> None:
    """Write frames of 16 bit and one channel as a RIFF WAVE file, however many.

    Parameters
    ----------
    file : file object
        Open for writing.
    sound : file object
        Open for reading, at the first frame.
    size : int
        Bytes of the sound, even.
    rate : int
        Frames a second.
    tags : mapping of bytes to str
        As `write_wav` takes them.
    """
    behind = _info(tags)
    file.write(_head(_form(1, rate), size, len(behind)))
    shutil.copyfileobj(sound, file)
    file.write(behind)


def _head(form: bytes, size: int, behind: int) -> bytes:
    """What stands before the frames, by the bytes of these and of what stands behind."""
    chunk = _chunk(b"fmt ", form)
    whole = 4 + len(chunk) + 8 + size + behind
    riff = struct.pack("<4sI4s", b"RIFF", whole, b"WAVE")
    return riff + chunk + struct.pack("<4sI", b"data", size)


def wav_bytes(samples: Samples, *, loop: tuple[int, int] | None = None) -> bytes:
    """Sound as a WAVE file (see `write_wav`)."""
    file = BytesIO()
    write_wav(file, samples, loop=loop)
    return file.getvalue()


def _chunk(name: bytes, data: bytes) -> bytes:
    """A chunk, padded to an even size."""
    return name + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)


def _form(channels: int, rate: int) -> bytes:
    frame = channels * _WIDTH
    return struct.pack("<HHIIHH", 1, channels, rate, rate * frame, frame, 8 * _WIDTH)


def _loop(first: int, end: int) -> bytes:
    head = struct.pack("<9I", 0, 0, round(1e9 / FRAME_RATE), 60, 0, 0, 0, 1, 0)
    return head + struct.pack("<6I", 0, 0, first, end - 1, 0, 0)


def _info(tags: Mapping[bytes, str]) -> bytes:
    texts = (_chunk(name, text.encode() + b"\0") for name, text in tags.items())
    return _chunk(b"LIST", b"INFO" + b"".join(texts))


def wav_loop_start_s(path: str | Path) -> float | None:
    """Where a file's loop begins, in seconds; None where it is no WAVE file or has no loop."""
    rate = 0
    for name, data in _chunks_of(path, {b"fmt ": 64, b"smpl": 64}):
        if name == b"fmt " and len(data) >= 8:
            rate = int.from_bytes(data[4:8], "little")
        if name == b"smpl" and len(data) >= 48 and rate and data[28:32] != bytes(4):
            return int.from_bytes(data[44:48], "little") / rate
    return None


def wav_comment(path: str | Path) -> str | None:
    """The comment among a file's tags; None where it is no WAVE file or has none."""
    for _, data in _chunks_of(path, {b"LIST": _MOST_TAGS}):
        if data[:4] == b"INFO":
            tags = dict(_chunks_in(BytesIO(data[4:]), {b"ICMT": _MOST_TAGS}))
            if b"ICMT" in tags:
                return tags[b"ICMT"].rstrip(b"\0").decode(errors="replace")
    return None


def is_wav(path: str | Path) -> bool:
    """Whether a file begins as a WAVE file does."""
    with Path(path).open("rb") as file:
        return _begins_as_wav(file)


def _begins_as_wav(file: BinaryIO) -> bool:
    begin = file.read(12)
    return begin[:4] == b"RIFF" and begin[8:] == b"WAVE"


def _chunks_of(path: str | Path, most: Mapping[bytes, int]) -> Iterator[tuple[bytes, bytes]]:
    """Some chunks of a WAVE file, as `_chunks_in` gives them; none of another file."""
    with Path(path).open("rb") as file:
        if _begins_as_wav(file):
            yield from _chunks_in(file, most)


def _chunks_in(file: BinaryIO, most: Mapping[bytes, int]) -> Iterator[tuple[bytes, bytes]]:
    """Chunks whose names are asked for, and so many bytes of each at most."""
    while len(head := file.read(8)) == 8:
        name, size = head[:4], int.from_bytes(head[4:], "little")
        data = file.read(min(size, most.get(name, 0)))
        if name in most:
            yield name, data
        file.seek(size + size % 2 - len(data), os.SEEK_CUR)
