"""WAVE files, read by other programs."""

from __future__ import annotations

import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from halfstep.files import write_whole
from halfstep.render.wav_file import wav_bytes, write_wav

SAMPLES = np.arange(-400, 400, dtype=np.int16).reshape(400, 2)


def test_soundfile_reads_back_the_same_samples(tmp_path: Path) -> None:
    write_wav(tmp_path / "a.wav", SAMPLES, loop=(100, 400))
    read, rate = soundfile.read(tmp_path / "a.wav", dtype="int16")
    assert rate == 44100
    assert np.array_equal(read, SAMPLES)


def test_the_standard_library_reads_the_form(tmp_path: Path) -> None:
    write_wav(tmp_path / "a.wav", SAMPLES)
    with wave.open(str(tmp_path / "a.wav")) as file:
        assert file.getparams()[:4] == (2, 2, 44100, 400)


def test_the_loop_is_stored_with_its_last_frame() -> None:
    """The ``smpl`` chunk's end is inclusive (RIFF specification, from memory)."""
    data = wav_bytes(SAMPLES, loop=(100, 400))
    at = data.index(b"smpl")
    size, *fields = struct.unpack("<I9I6I", data[at + 4 : at + 8 + 60])
    assert size == 60
    assert fields[7] == 1
    assert fields[11:13] == [100, 399]
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8


def test_a_failed_write_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"old")
    with pytest.raises(TypeError, match="bytes"):
        write_whole(path, "no bytes")  # type: ignore[arg-type]
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]
