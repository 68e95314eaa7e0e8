"""WAVE files: their chunks by hand, and what two other readers find in them.

Source: Multimedia Programming Interface and Data Specifications 1.0 (RIFF, WAVE, and the
sampler chunk ``smpl``), from memory; the standard library's ``wave``, and libsndfile.
"""

from __future__ import annotations

import io
import struct
import wave
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from halfstep.render.wav_file import wav_bytes, wav_comment, wav_loop_start_s, write_wav

SAMPLES = np.arange(-400, 400, dtype=np.int16).reshape(400, 2)
stereo = arrays(np.int16, st.tuples(st.integers(0, 60), st.just(2)))


def chunks_of(data: bytes) -> dict[bytes, bytes]:
    """The chunks of a WAVE file by name, with the sizes that RIFF wants checked."""
    assert (data[:4], data[8:12]) == (b"RIFF", b"WAVE")
    assert int.from_bytes(data[4:8], "little") == len(data) - 8
    chunks, place = {}, 12
    while place < len(data):
        name, size = struct.unpack("<4sI", data[place : place + 8])
        chunks[name] = data[place + 8 : place + 8 + size]
        assert len(chunks[name]) == size
        place += 8 + size + size % 2
    assert place == len(data)
    return chunks


# What is written


def test_a_file_of_two_frames_is_these_bytes() -> None:
    """Format 1 (PCM), two channels, 44 100 and 176 400 a second, four bytes a frame."""
    data = wav_bytes(np.array([[1, -1], [256, -32768]], np.int16))
    form = "0100 0200 44ac0000 10b10200 0400 1000"
    samples = "0100ffff 00010080"
    expected = f"52494646 2c000000 57415645 666d7420 10000000 {form} 64617461 08000000 {samples}"
    assert data == bytes.fromhex(expected)


@given(stereo)
def test_every_reader_finds_the_samples(samples: np.ndarray) -> None:
    data = wav_bytes(samples)
    assert chunks_of(data)[b"data"] == samples.astype("<i2").tobytes()
    with wave.open(io.BytesIO(data)) as file:
        assert file.getparams()[:4] == (2, 2, 44100, len(samples))
        assert file.readframes(len(samples)) == samples.astype("<i2").tobytes()
    if len(samples):
        samples_read, rate = soundfile.read(io.BytesIO(data), dtype="int16", always_2d=True)
        assert rate == 44100
        assert np.array_equal(samples_read, samples)


@settings(max_examples=20)
@given(arrays(np.int16, st.tuples(st.integers(1, 20), st.integers(1, 3))))
def test_channels_are_those_of_the_samples(samples: np.ndarray) -> None:
    form = struct.unpack("<HHIIHH", chunks_of(wav_bytes(samples))[b"fmt "])
    channels = samples.shape[1]
    assert form == (1, channels, 44100, 44100 * 2 * channels, 2 * channels, 16)


def test_a_loop_keeps_the_samples_as_they_are() -> None:
    looped, plain = chunks_of(wav_bytes(SAMPLES, loop=(3, 9))), chunks_of(wav_bytes(SAMPLES))
    assert set(looped) == {b"fmt ", b"data", b"smpl"}
    assert {name: looped[name] for name in plain} == plain


@given(st.integers(0, 2**31), st.integers(1, 2**31))
def test_a_loop_is_stored_with_its_last_frame(first: int, frames: int) -> None:
    """One loop, forward, for ever; its end is the last frame played, not the one after."""
    fields = struct.unpack(
        "<15I", chunks_of(wav_bytes(SAMPLES, loop=(first, first + frames)))[b"smpl"]
    )
    maker, product, period_ns, key, _, _, _, loops, _ = fields[:9]
    assert (maker, product, key, loops) == (0, 0, 60, 1)
    assert period_ns == pytest.approx(1e9 / 44100, abs=0.5)
    assert fields[9:] == (0, 0, first, first + frames - 1, 0, 0)


def test_libsndfile_knows_the_form() -> None:
    facts = soundfile.info(io.BytesIO(wav_bytes(SAMPLES, loop=(100, 400))))
    assert (facts.format, facts.subtype, facts.frames) == ("WAV", "PCM_16", 400)


@pytest.mark.parametrize("comment", ["odd", "even", "B♭7 | E♭maj7"])
def test_tags_are_read_by_libsndfile_and_leave_the_sound_alone(comment: str) -> None:
    file = io.BytesIO()
    write_wav(file, SAMPLES, loop=(3, 9), tags={b"INAM": "Stairs", b"ICMT": comment})
    chunks = chunks_of(file.getvalue())
    plain = chunks_of(wav_bytes(SAMPLES, loop=(3, 9)))
    assert {name: chunks[name] for name in plain} == plain
    with soundfile.SoundFile(io.BytesIO(file.getvalue())) as sound:
        assert (sound.title, sound.comment) == ("Stairs", comment)


# Where a loop begins


def file_of(folder: Path, *chunks: tuple[bytes, bytes], form: bytes = b"WAVE") -> Path:
    """A RIFF file of these chunks, each padded to an even size."""
    body = b"".join(
        name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)
        for name, data in chunks
    )
    path = folder / "a.wav"
    path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(body)) + form + body)
    return path


def form_of(rate: int) -> tuple[bytes, bytes]:
    return b"fmt ", struct.pack("<HHIIHH", 1, 1, rate, 2 * rate, 2, 16)


def loops_of(*starts: int) -> tuple[bytes, bytes]:
    head = struct.pack("<9I", 0, 0, 0, 60, 0, 0, 0, len(starts), 0)
    return b"smpl", head + b"".join(struct.pack("<6I", 0, 0, s, s + 9, 0, 0) for s in starts)


SOUND = (b"data", bytes(100))


@given(st.integers(0, 44100 * 600))
def test_a_loop_of_ours_is_found_again(first: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        data = wav_bytes(SAMPLES, loop=(first, first + 10))
        patch.setattr(Path, "open", lambda *_: io.BytesIO(data))
        assert wav_loop_start_s("any.wav") == pytest.approx(first / 44100)


@pytest.mark.parametrize("rate", [8000, 44100, 48000])
def test_the_rate_is_that_of_the_file(tmp_path: Path, rate: int) -> None:
    path = file_of(tmp_path, form_of(rate), SOUND, loops_of(rate // 2))
    assert wav_loop_start_s(path) == 0.5


def test_the_first_of_several_loops_counts(tmp_path: Path) -> None:
    assert wav_loop_start_s(file_of(tmp_path, form_of(1000), loops_of(250, 500), SOUND)) == 0.25


def test_chunks_of_others_are_passed_over_whatever_their_size(tmp_path: Path) -> None:
    """An odd chunk has a byte more; a long one is not read but skipped."""
    others = ((b"LIST", b"INFOodd"), (b"bext", bytes(100_001)), (b"cue ", bytes(4)))
    path = file_of(tmp_path, *others, form_of(1000), *others, SOUND, loops_of(750))
    assert wav_loop_start_s(path) == 0.75


@pytest.mark.parametrize(
    "chunks",
    [
        (form_of(1000), SOUND),
        (form_of(1000), SOUND, loops_of()),
        (loops_of(250), SOUND),
        (form_of(0), loops_of(250)),
        (form_of(1000), (b"smpl", bytes(20))),
        ((b"fmt ", b"\1\0"), loops_of(250)),
        (),
    ],
    ids=["no chunk", "no loop", "no form", "rate 0", "cut loop", "cut form", "nothing"],
)
def test_a_file_without_a_loop_has_none(
    tmp_path: Path, chunks: tuple[tuple[bytes, bytes], ...]
) -> None:
    assert wav_loop_start_s(file_of(tmp_path, *chunks)) is None


@pytest.mark.parametrize("data", [b"", b"RIFF", b"OggS\0\2\0\0\0\0\0\0\0\0", b"RIFX\0\0\0\0WAVE"])
def test_a_file_that_is_no_wave_file_has_none(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "a.wav").write_bytes(data)
    assert wav_loop_start_s(tmp_path / "a.wav") is None


def test_another_riff_file_has_none(tmp_path: Path) -> None:
    path = file_of(tmp_path, form_of(1000), loops_of(250), form=b"sfbk")
    assert wav_loop_start_s(path) is None


def test_a_file_that_was_cut_off_has_none(tmp_path: Path) -> None:
    path = file_of(tmp_path, form_of(1000), SOUND, loops_of(250))
    path.write_bytes(path.read_bytes()[:-20])
    assert wav_loop_start_s(path) is None


# What its comment says


def tags_of(name: bytes, *texts: tuple[bytes, bytes]) -> tuple[bytes, bytes]:
    """A list of chunks, each text with the zero that ends it."""
    chunks = (
        tag + struct.pack("<I", len(text) + 1) + text + b"\0" * (2 - len(text) % 2)
        for tag, text in texts
    )
    return b"LIST", name + b"".join(chunks)


@given(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])))
def test_a_comment_of_ours_is_read_again(comment: str) -> None:
    with TemporaryDirectory() as name:
        path = Path(name) / "a.wav"
        with path.open("wb") as file:
            write_wav(file, SAMPLES, tags={b"INAM": "Stairs", b"ICMT": comment})
        assert wav_comment(path) == comment


def test_a_comment_is_found_behind_lists_of_others(tmp_path: Path) -> None:
    """``adtl`` is the list of names of cue points; an INFO list need not hold a comment."""
    others = tags_of(b"adtl", (b"ICMT", b"no")), tags_of(b"INFO", (b"INAM", b"Stairs"))
    path = file_of(tmp_path, form_of(8000), *others, SOUND, tags_of(b"INFO", (b"ICMT", b"yes")))
    assert wav_comment(path) == "yes"


def test_what_has_no_comment_gives_none(tmp_path: Path) -> None:
    assert wav_comment(file_of(tmp_path, form_of(8000), SOUND)) is None
    tags = tags_of(b"INFO", (b"ICMT", b"no"))
    assert wav_comment(file_of(tmp_path, tags, form=b"AVI ")) is None
