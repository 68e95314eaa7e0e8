"""Excerpts of a backing lie where they do in the whole, and tell whether it is in a take."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import av
import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from tones import RATE, Sound, band, played

from halfstep.errors import TakeError
from halfstep.listen.audio import Recording, Resampler
from halfstep.listen.backing_glance import AT_FIRST, CLOSELY, may_be_in
from halfstep.listen.excerpts import (
    EDGE_S,
    EVERY_S,
    LENGTH_S,
    SPARSE_RATE,
    Spans,
    an_eighth,
    another_eighth,
    both,
    excerpts,
)
from halfstep.listen.first_reading import first_reading
from halfstep.listen.thin_sound import thin_sound

Floats = npt.NDArray[np.float32]
Halves = npt.NDArray[np.float16]

BAND = band(20.0)
LINE = played([(0.4 * i + 0.1, 0.35, 60 + 5 * i % 13) for i in range(30)], 12.0)


def store(path: Path, sound: Sound, rate: int) -> None:
    """A file of a kind that its name ends in."""
    if path.suffix != ".m4a":
        soundfile.write(path, sound, rate)
        return
    with av.open(str(path), "w") as out:
        stream: Any = out.add_stream("aac", rate=rate, layout="mono")
        frame: Any = av.AudioFrame.from_ndarray(
            sound.astype(np.float32)[None], format="fltp", layout="mono"
        )
        frame.sample_rate = rate
        out.mux([*stream.encode(frame), *stream.encode(None)])


def at_rate(sound: Sound, rate: int) -> Sound:
    places = np.arange(0, len(sound) - 1, RATE / rate)
    return np.asarray(np.interp(places, np.arange(len(sound)), sound))


def excerpts_of(path: Path, spans: Spans = an_eighth) -> Halves:
    sparse = excerpts(Recording(path), spans)
    assert sparse is not None
    return sparse


def inside(time_s: float) -> slice:
    """The middle of the excerpt that begins at a time."""
    begin = round((time_s + 0.05) * SPARSE_RATE)
    return slice(begin, begin + round((LENGTH_S - 0.1) * SPARSE_RATE))


def halved(path: Path) -> Floats:
    """The whole of a recording at the rate of excerpts."""
    resampler = Resampler(SPARSE_RATE)
    parts = [
        part for block in Recording(path).blocks() for part in resampler.resampled(block, RATE)
    ]
    return np.concatenate([*parts, *resampler.rest()])


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("form", "rate"),
    [
        ("wav", 44_100),
        ("wav", 48_000),
        ("wav", 16_000),
        ("flac", 44_100),
        ("mp3", 44_100),
        ("mp3", 22_050),
        ("ogg", 44_100),
        ("m4a", 44_100),
    ],
)
def test_each_excerpt_lies_where_the_whole_has_it(tmp_path: Path, form: str, rate: int) -> None:
    path = tmp_path / f"band.{form}"
    store(path, at_rate(BAND, rate), rate)
    whole = halved(path)
    beginnings_s = {an_eighth: (0.0, 2.0, *np.arange(EDGE_S + 1, 19.5, EVERY_S))}
    beginnings_s[another_eighth] = tuple(np.arange(EDGE_S, 19.5, EVERY_S))
    for spans, times_s in beginnings_s.items():
        sparse = excerpts_of(path, spans)
        for time_s in times_s:
            piece = inside(time_s)
            off = np.abs(sparse[piece].astype(float) - whole[piece])
            assert np.sqrt(np.mean(off**2)) < 0.15 * np.std(whole[piece].astype(float))


def test_between_excerpts_there_is_silence(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "band.wav", BAND, RATE)
    sparse = excerpts_of(tmp_path / "band.wav")
    between = excerpts_of(tmp_path / "band.wav", another_eighth)
    assert not sparse[inside(EDGE_S)].any()
    assert not between[inside(EDGE_S + 1)].any()
    assert np.count_nonzero(both(sparse, between)) < 0.5 * len(sparse)


def test_a_rate_that_shares_no_grid_with_sparse_sound_is_left_to_be_read_whole(
    tmp_path: Path,
) -> None:
    soundfile.write(tmp_path / "band.wav", BAND, 16_001)
    assert excerpts(Recording(tmp_path / "band.wav")) is None


def test_a_file_without_sound_is_no_recording(tmp_path: Path) -> None:
    (tmp_path / "band.wav").write_bytes(b"RIFF, but no more")
    with pytest.raises(TakeError, match=r"band\.wav: it is not a recording"):
        excerpts(Recording(tmp_path / "band.wav"))


@pytest.mark.slow
@pytest.mark.parametrize("delay_s", [-6.0, 0.0, 2.2])
def test_an_eighth_of_the_backing_shows_whether_it_is_in_the_take(
    tmp_path: Path, delay_s: float
) -> None:
    soundfile.write(tmp_path / "band.wav", BAND, RATE)
    sparse = excerpts_of(tmp_path / "band.wav")
    closer = both(sparse, excerpts_of(tmp_path / "band.wav", another_eighth))
    late = round(delay_s * RATE)
    under = np.zeros(len(LINE))
    under[max(0, late) :] = BAND[max(0, -late) :][: len(LINE) - max(0, late)]
    gain = 10 ** (-30 / 20) * np.std(LINE) / np.std(BAND)
    alone, together = (
        thin_sound([sound.astype(np.float32)]) for sound in (LINE, LINE + gain * under)
    )
    assert may_be_in(together, sparse, RATE, least=AT_FIRST)
    assert may_be_in(together, closer, RATE, least=CLOSELY)
    assert not may_be_in(alone, sparse, RATE, least=AT_FIRST)


def test_a_backing_in_a_take_of_another_rate_may_be_in_it(tmp_path: Path) -> None:
    """A take at 48 kHz whose file declares 44.1, as it is read."""
    soundfile.write(tmp_path / "band.wav", BAND, RATE)
    slow = at_rate(LINE + 0.3 * BAND[: len(LINE)], RATE * 48_000 // 44_100)
    take = thin_sound([slow.astype(np.float32)])
    sparse = excerpts_of(tmp_path / "band.wav")
    assert may_be_in(take, sparse, 44_100, least=CLOSELY)
    assert not may_be_in(take, sparse, 48_000, least=CLOSELY)


@pytest.mark.slow
@pytest.mark.parametrize("millionths", [-100, 60])
def test_a_backing_by_another_clock_may_be_in_a_take(tmp_path: Path, millionths: int) -> None:
    backing = band(40.0)
    soundfile.write(tmp_path / "band.wav", backing, RATE)
    line = played([(0.4 * i + 0.1, 0.35, 60 + 5 * i % 13) for i in range(90)], 40.0)
    sound = line + 0.1 * np.std(line) / np.std(backing) * backing
    places = np.arange(0, len(sound) - 1, 1 / (1 + 1e-6 * millionths))
    take = thin_sound([np.interp(places, np.arange(len(sound)), sound).astype(np.float32)])
    assert may_be_in(take, excerpts_of(tmp_path / "band.wav"), RATE, least=AT_FIRST)


@pytest.mark.slow
def test_a_backing_that_was_written_anew_is_read_anew(tmp_path: Path) -> None:
    take, path = tmp_path / "take.wav", tmp_path / "band.wav"
    soundfile.write(take, LINE + 0.3 * BAND[: len(LINE)], RATE)
    soundfile.write(path, band(19.0, seed=8), RATE)
    assert first_reading(take, path).accompaniment is None
    soundfile.write(path, BAND, RATE)
    assert first_reading(take, path).accompaniment is not None
