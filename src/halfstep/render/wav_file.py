"""How is sound stored? 16-bit WAVE files with loop points, written whole or not at all.

Source: the RIFF WAVE format and its sampler chunk ``smpl`` (from memory); read back by
other programs in the tests.
"""

from __future__ import annotations

import os
import struct
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.files import write_whole
from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]


def wav_bytes(samples: Samples, *, loop: tuple[int, int] | None = None) -> bytes:
    """Sound as a RIFF WAVE file, 44.1 kHz, 16 bit, with its loop points.

    Parameters
    ----------
    samples : numpy.ndarray
        int16, shape (frames, 2).
    loop : tuple of (int, int), optional
        First frame of the loop and the frame after its last; stored in a ``smpl`` chunk,
        whose end is the last frame itself.
    """
    channels, width = samples.shape[1], 2
    frame = channels * width
    form = struct.pack("<HHIIHH", 1, channels, FRAME_RATE, FRAME_RATE * frame, frame, 8 * width)
    chunks = [(b"fmt ", form), (b"data", samples.astype("<i2").tobytes())]
    if loop:
        period_ns = round(1e9 / FRAME_RATE)
        head = struct.pack("<9I", 0, 0, period_ns, 60, 0, 0, 0, 1, 0)
        chunks.append((b"smpl", head + struct.pack("<6I", 0, 0, loop[0], loop[1] - 1, 0, 0)))
    size = 4 + sum(8 + len(data) for _, data in chunks)
    pieces = ((name, struct.pack("<I", len(data)), data) for name, data in chunks)
    return b"".join([b"RIFF", struct.pack("<I", size), b"WAVE", *chain.from_iterable(pieces)])


def loop_start_s(path: str | Path) -> float | None:
    """Where a file's loop begins, in seconds; None where it is no WAVE file or has no loop.

    In a backing of the program that is where its count-in ends.
    """
    rate = 0
    with Path(path).open("rb") as file:
        begin = file.read(12)
        if begin[:4] != b"RIFF" or begin[8:] != b"WAVE":
            return None
        while len(head := file.read(8)) == 8:
            name, size = head[:4], int.from_bytes(head[4:], "little")
            data = file.read(min(size, 64)) if name in (b"fmt ", b"smpl") else b""
            if name == b"fmt " and len(data) >= 8:
                rate = int.from_bytes(data[4:8], "little")
            if name == b"smpl" and len(data) >= 48 and rate and data[28:32] != bytes(4):
                return int.from_bytes(data[44:48], "little") / rate
            file.seek(size + size % 2 - len(data), os.SEEK_CUR)
    return None


def write_wav(path: str | Path, samples: Samples, *, loop: tuple[int, int] | None = None) -> None:
    """Store sound as WAV (see `wav_bytes`); the file appears whole or not at all."""
    write_whole(path, wav_bytes(samples, loop=loop))
