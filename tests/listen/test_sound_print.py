"""A print tells that a take does not hold a sound, and is believed only of that sound."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from tones import RATE, Sound, band, played

from halfstep.listen.audio import Recording
from halfstep.listen.backing_delay import CLOCK_S
from halfstep.listen.backing_glance import may_be_by_print
from halfstep.listen.first_reading import first_reading
from halfstep.listen.sound_print import (
    LONGEST_S,
    PRINT_RATE,
    SoundPrint,
    is_print_of,
    read_sound_print,
    sound_print,
)
from halfstep.listen.thin_sound import ThinSound, thin_sound
from halfstep.listen.transcription import hear

BAND = band(40.0)
LINE = played([(0.4 * i + 0.1, 0.35, 60 + 5 * i % 13) for i in range(90)], 36.0)


def stereo(sound: Sound) -> npt.NDArray[np.int16]:
    """Both channels alike."""
    samples = np.rint(12_000 * sound / np.abs(sound).max()).astype(np.int16)
    return np.stack([samples, samples], axis=1)


def print_of(sound: Sound) -> SoundPrint:
    made = sound_print(stereo(sound), RATE)
    assert made is not None
    return made


PRINT = print_of(BAND)


def take(length_s: float, delay_s: float | None, leak_db: float = -30.0) -> Sound:
    """A line with the band so late under it, or alone."""
    line = LINE[: round(length_s * RATE)]
    if delay_s is None:
        return line
    late = round(delay_s * RATE)
    under = np.zeros(len(line))
    under[max(0, late) :] = BAND[max(0, -late) :][: len(line) - max(0, late)]
    return line + 10 ** (leak_db / 20) * np.std(line) / np.std(BAND) * under


def thin(sound: Sound) -> ThinSound:
    return thin_sound([sound.astype(np.float32)])


def at_speed(sound: Sound, ratio: float) -> Sound:
    places = np.arange(0, len(sound) - 1, ratio)
    return np.asarray(np.interp(places, np.arange(len(sound)), sound))


@pytest.mark.parametrize("delay_s", [-14.0, -6.0, 0.0, 2.2])
@pytest.mark.parametrize("length_s", [6.0, 12.0, CLOCK_S + 4])
def test_a_print_shows_whether_the_sound_is_in_a_take(length_s: float, delay_s: float) -> None:
    """At 30 dB under the player."""
    assert may_be_by_print(thin(take(length_s, delay_s)), PRINT, RATE)
    assert not may_be_by_print(thin(take(length_s, None)), PRINT, RATE)


def test_a_backing_in_a_take_of_another_rate_may_be_in_it_by_its_print() -> None:
    """A take at 48 kHz whose file declares 44.1, as it is read."""
    slow = thin(at_speed(take(12.0, 0.0, -12.0), 44_100 / 48_000))
    assert may_be_by_print(slow, PRINT, 44_100)
    assert not may_be_by_print(slow, PRINT, 48_000)


@pytest.mark.parametrize("millionths", [-100, 60])
def test_a_backing_by_another_clock_may_be_in_a_take_by_its_print(millionths: int) -> None:
    sound = at_speed(take(36.0, 0.0), 1 / (1 + 1e-6 * millionths))
    assert may_be_by_print(thin(sound), PRINT, RATE)


def test_the_text_of_a_print_gives_it_back() -> None:
    again = read_sound_print(PRINT.text)
    assert again is not None
    assert np.array_equal(again.signs[: len(PRINT.signs)], PRINT.signs)
    assert 0 <= len(again.signs) - len(PRINT.signs) < 8
    assert len(PRINT.text) == pytest.approx(PRINT_RATE / 8 * 4 / 3 * 40, abs=40)


@pytest.mark.parametrize("text", ["", "?", "8A=", "bár", None, 7])
def test_what_holds_no_print_gives_none(text: str) -> None:
    assert read_sound_print(text) is None


def test_a_long_sound_has_no_print() -> None:
    assert sound_print(np.zeros((round(LONGEST_S * 800) + 800, 2), np.int16), 800) is None


def test_silence_has_signs_that_take_turns() -> None:
    """So that it agrees with no hum and no offset."""
    signs = print_of(np.concatenate([BAND[:RATE], np.zeros(4 * RATE)])).signs[2 * PRINT_RATE :]
    assert np.array_equal(signs, np.resize(signs[:2], len(signs)))
    assert signs[0] == -signs[1]


@pytest.mark.slow
@pytest.mark.parametrize("form", ["wav", "flac", "mp3", "ogg"])
def test_a_print_is_that_of_its_sound_in_every_format(tmp_path: Path, form: str) -> None:
    path = tmp_path / f"band.{form}"
    soundfile.write(path, stereo(BAND), RATE)
    assert is_print_of(PRINT, Recording(path))


CHANGES = {
    "cut": BAND[: -RATE // 2],
    "longer": np.concatenate([BAND, np.zeros(RATE // 2)]),
    "moved": np.roll(BAND, RATE // 2),
    "other": band(40.0, seed=8),
    "slower": at_speed(BAND, 0.97)[: len(BAND)],
    "silent": np.zeros(len(BAND)) + 1e-4,
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_print_is_not_that_of_another_sound(tmp_path: Path, change: str) -> None:
    path = tmp_path / "band.wav"
    soundfile.write(path, CHANGES[change], RATE)
    assert not is_print_of(PRINT, Recording(path))


@pytest.mark.slow
def test_a_backing_that_is_not_its_print_is_found_all_the_same(tmp_path: Path) -> None:
    """The comment of a file may stay when its sound is changed."""
    path, recording = tmp_path / "band.wav", tmp_path / "take.wav"
    soundfile.write(path, BAND, RATE)
    soundfile.write(recording, take(12.0, 1.0, -12.0), RATE)
    wrong = print_of(band(40.0, seed=8))
    accompaniment = first_reading(recording, path, wrong).accompaniment
    assert accompaniment is not None
    assert accompaniment.place.delay_s == pytest.approx(1.0, abs=0.001)


@pytest.mark.slow
def test_a_take_is_heard_the_same_with_a_print_and_without(tmp_path: Path) -> None:
    path, recording = tmp_path / "band.wav", tmp_path / "take.wav"
    soundfile.write(path, BAND, RATE)
    for delay_s in (None, 1.0):
        soundfile.write(recording, take(9.0, delay_s, -20.0), RATE)
        heard_take = hear(recording, backing=path, backing_print=PRINT)
        assert heard_take == hear(recording, backing=path)
        assert (heard_take.delay_s is None) == (delay_s is None)


def test_a_backing_without_the_sound_of_a_take_is_not_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, recording = tmp_path / "band.wav", tmp_path / "take.wav"
    soundfile.write(path, BAND, RATE)
    soundfile.write(recording, take(9.0, None), RATE)
    files: list[str] = []
    blocks = Recording.blocks
    monkeypatch.setattr(
        Recording,
        "blocks",
        lambda file, damage=None: [*blocks(file, damage), files.append(file.path.name)][:-1],
    )
    assert first_reading(recording, path, PRINT).accompaniment is None
    assert files == ["take.wav"]
