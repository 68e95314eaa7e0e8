"""Sound banks: found, read, refused; and notes in tune."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from halfstep.errors import MissingExtra, ReadError
from halfstep.render import soundbank
from halfstep.render.sampler import FRAME_RATE, Sampler
from halfstep.render.soundbank import BANK_VARIABLE, find_bank, opened_bank, read_bank


@pytest.fixture(scope="module")
def packaged() -> Sampler:
    """The bank inside pretty_midi, so that the figures do not depend on the machine."""
    return Sampler(opened_bank(next(soundbank._packaged_banks())))


def heard_hz(sound: np.ndarray, near_hz: float) -> float:
    """The strongest frequency within a quarter tone or so of ``near_hz``."""
    steady = sound[FRAME_RATE // 3 : 3 * FRAME_RATE, 0]
    size = 1 << 21
    spectrum = np.abs(np.fft.rfft(steady * np.hanning(len(steady)), size))
    hz = np.fft.rfftfreq(size, 1 / FRAME_RATE)
    spectrum[(hz < near_hz * 0.97) | (hz > near_hz * 1.03)] = 0
    return float(hz[spectrum.argmax()])


@pytest.mark.parametrize("program", [0, 4, 26, 32, 33, 53, 56, 57, 65, 66, 67, 71])
def test_a4_is_within_two_cents_of_440(packaged: Sampler, program: int) -> None:
    """ISO 16. The soprano saxophone and flute are recorded with vibrato: see below."""
    preset, _ = packaged.bank.preset(program)
    sound = packaged.note(preset, 69, 100, 3.0, rings=False)
    assert abs(1200 * np.log2(heard_hz(sound, 440.0) / 440.0)) < 2


@pytest.mark.parametrize("program", [64, 73])
def test_a4_with_vibrato_is_within_five_cents_of_440(packaged: Sampler, program: int) -> None:
    preset, _ = packaged.bank.preset(program)
    sound = packaged.note(preset, 69, 100, 3.0, rings=False)
    assert abs(1200 * np.log2(heard_hz(sound, 440.0) / 440.0)) < 5


@pytest.mark.parametrize("midi", range(28, 56, 3))
def test_the_bass_is_in_tune(packaged: Sampler, midi: int) -> None:
    expected = 440.0 * 2 ** ((midi - 69) / 12)
    preset, _ = packaged.bank.preset(32)
    sound = packaged.note(preset, midi, 100, 3.0, rings=False)
    assert abs(1200 * np.log2(heard_hz(sound, expected) / expected)) < 2


def test_louder_strokes_are_louder(packaged: Sampler) -> None:
    preset, _ = packaged.bank.preset(0)
    soft, loud = (packaged.note(preset, 60, v, 1.0, rings=False) for v in (64, 127))
    ratio = np.abs(loud).max() / np.abs(soft).max()
    assert ratio == pytest.approx((127 / 64) ** 2, rel=0.01)


def test_a_note_ends_after_its_length(packaged: Sampler) -> None:
    """No click: it fades within the release of its recording."""
    preset, _ = packaged.bank.preset(32)
    sound = packaged.note(preset, 40, 100, 0.5, rings=False)
    assert FRAME_RATE / 2 < len(sound) < FRAME_RATE
    assert np.abs(sound[-10:]).max() < 1e-3
    assert np.abs(sound[FRAME_RATE // 2 - 500 : FRAME_RATE // 2]).max() > 0.02


def test_a_cymbal_rings_past_its_written_length(packaged: Sampler) -> None:
    preset, _ = packaged.bank.preset(0, percussion=True)
    assert len(packaged.note(preset, 51, 100, 0.1, rings=True)) > 2 * FRAME_RATE


def test_the_bank_has_every_general_midi_program(packaged: Sampler) -> None:
    assert packaged.bank.programs == frozenset(range(128))


def test_a_missing_program_is_played_by_its_family(packaged: Sampler) -> None:
    bank = packaged.bank
    poorer = soundbank.Bank(bank.path, bank._tables, bank.samples)
    del poorer._presets[0, 66]
    preset, notice = poorer.preset(66)
    assert preset == poorer.preset(64)[0]
    assert "no program 66; 64 sounds" in notice
    assert bank.preset(66)[1] == ""


def test_a_named_bank_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bank, other = tmp_path / "a.sf2", tmp_path / "b.sf2"
    bank.touch()
    other.touch()
    monkeypatch.setenv(BANK_VARIABLE, str(bank))
    assert find_bank() == bank
    assert find_bank(other) == other


def test_a_named_bank_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="no sound bank at"):
        find_bank(tmp_path / "none.sf2")


def test_without_any_bank_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv(BANK_VARIABLE, raising=False)
    monkeypatch.setattr(soundbank, "_SYSTEM_BANKS", ())
    monkeypatch.setattr(soundbank, "find_spec", lambda _name: None)
    with pytest.raises(MissingExtra, match="install the package pretty_midi"):
        find_bank()


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"no bank at all, just some text", "is no sound bank"),
        (b"RIFF\0\0\0\0sfbk", "lacks the chunk smpl"),
        (b"", "cannot be read"),
    ],
)
def test_a_file_that_is_no_bank_is_refused(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "a.sf2"
    path.write_bytes(content)
    with pytest.raises(ReadError, match=message):
        read_bank(path)
