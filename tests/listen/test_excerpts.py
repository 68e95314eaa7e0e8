"""A third of a backing lies where it does in the whole, and tells whether it is in a take."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from tones import RATE, Sound, band, played

from halfstep.errors import TakeError
from halfstep.listen.audio import Recording
from halfstep.listen.backing_delay import may_be_in
from halfstep.listen.excerpts import EDGE_S, EVERY_S, LENGTH_S, excerpts
from halfstep.listen.first_reading import first_reading
from halfstep.listen.thin_sound import THIN_RATE, ThinSound, thin_sound

BAND = band(20.0)
LINE = played([(0.4 * i + 0.1, 0.35, 60 + 5 * i % 13) for i in range(30)], 12.0)


def at_rate(sound: Sound, rate: int) -> Sound:
    places = np.arange(0, len(sound) - 1, RATE / rate)
    return np.asarray(np.interp(places, np.arange(len(sound)), sound))


def excerpts_of(path: Path) -> ThinSound:
    sound = excerpts(Recording(path))
    assert sound is not None
    return sound


def inside(time_s: float) -> slice:
    """The middle of the excerpt that begins at a time."""
    begin = round((time_s + 0.1) * THIN_RATE)
    return slice(begin, begin + round((LENGTH_S - 0.3) * THIN_RATE))


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
    ],
)
def test_each_excerpt_lies_where_the_whole_has_it(tmp_path: Path, form: str, rate: int) -> None:
    path = tmp_path / f"band.{form}"
    soundfile.write(path, at_rate(BAND, rate), rate)
    whole = thin_sound(Recording(path).blocks()).samples
    parts = excerpts_of(path).samples
    for time_s in (0.0, EDGE_S / 2, 2 * EVERY_S, 4 * EVERY_S, 20 - EDGE_S + 0.5):
        piece = inside(time_s)
        off = np.abs(parts[piece].astype(float) - whole[piece])
        assert np.sqrt(np.mean(off**2)) < 0.1 * np.std(whole[piece].astype(float))


def test_between_excerpts_there_is_silence(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "band.wav", BAND, RATE)
    parts = excerpts_of(tmp_path / "band.wav")
    assert not parts.piece(round(7.5 * THIN_RATE), THIN_RATE).any()
    assert np.count_nonzero(parts.samples) < 0.7 * len(parts)


def test_a_rate_that_shares_no_grid_with_thin_sound_is_left_to_be_read_whole(
    tmp_path: Path,
) -> None:
    soundfile.write(tmp_path / "band.wav", BAND, 16_001)
    assert excerpts(Recording(tmp_path / "band.wav")) is None


def test_a_file_without_sound_is_no_recording(tmp_path: Path) -> None:
    (tmp_path / "band.wav").write_bytes(b"RIFF, but no more")
    with pytest.raises(TakeError, match=r"band\.wav: it is not a recording"):
        excerpts(Recording(tmp_path / "band.wav"))


@pytest.mark.parametrize("delay_s", [-6.0, 0.0, 2.2])
def test_a_third_of_the_backing_shows_whether_it_is_in_the_take(
    tmp_path: Path, delay_s: float
) -> None:
    soundfile.write(tmp_path / "band.wav", BAND, RATE)
    parts = excerpts_of(tmp_path / "band.wav")
    late = round(delay_s * RATE)
    under = np.zeros(len(LINE))
    under[max(0, late) :] = BAND[max(0, -late) :][: len(LINE) - max(0, late)]
    gain = 10 ** (-30 / 20) * np.std(LINE) / np.std(BAND)
    alone, together = (
        thin_sound([sound.astype(np.float32)]) for sound in (LINE, LINE + gain * under)
    )
    assert may_be_in(together, parts, RATE)
    assert not may_be_in(alone, parts, RATE)


def test_a_backing_in_a_take_of_another_rate_may_be_in_it(tmp_path: Path) -> None:
    """A take at 48 kHz whose file declares 44.1, as it is read."""
    soundfile.write(tmp_path / "band.wav", BAND, RATE)
    slow = at_rate(LINE + 0.3 * BAND[: len(LINE)], RATE * 48_000 // 44_100)
    take = thin_sound([slow.astype(np.float32)])
    assert may_be_in(take, excerpts_of(tmp_path / "band.wav"), 44_100)


def test_a_backing_that_was_written_anew_is_read_anew(tmp_path: Path) -> None:
    take, path = tmp_path / "take.wav", tmp_path / "band.wav"
    soundfile.write(take, LINE + 0.3 * BAND[: len(LINE)], RATE)
    soundfile.write(path, band(19.0, seed=8), RATE)
    assert first_reading(take, path).accompaniment is None
    soundfile.write(path, BAND, RATE)
    assert first_reading(take, path).accompaniment is not None
