"""What is read of a file of sound: the same of each kind of sample and any number of channels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from tones import Sound

from halfstep.listen.audio import BLOCK, RESAMPLED, Damage, Recording, Stretches
from halfstep.listen.spectra import RATE

SINE = 0.5 * np.sin(2 * np.pi * 440 * np.arange(5 * RESAMPLED // 2) / RATE)


def read_back(path: Path) -> Sound:
    return np.concatenate(list(Recording(path).blocks()))


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("form", "subtype", "off"),
    [
        ("wav", "PCM_U8", 0.008),
        ("wav", "PCM_16", 4e-5),
        ("wav", "PCM_24", 1e-6),
        ("wav", "PCM_32", 1e-7),
        ("wav", "FLOAT", 1e-7),
        ("wav", "DOUBLE", 1e-7),
        ("flac", "PCM_16", 4e-5),
    ],
)
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_every_kind_of_sample_is_read_as_the_mean_of_its_channels(
    tmp_path: Path, form: str, subtype: str, off: float, channels: int
) -> None:
    """Within a step of the sample: eight bits are cut, not rounded."""
    weights = np.arange(1, channels + 1) / channels
    path = tmp_path / f"sine.{form}"
    soundfile.write(path, SINE[:, None] * weights, RATE, subtype=subtype)
    assert np.abs(read_back(path) - SINE * weights.mean()).max() <= off


def test_what_is_no_number_is_silence(tmp_path: Path) -> None:
    sound = SINE.copy()
    sound[[5, 5_000]] = np.nan
    soundfile.write(tmp_path / "sine.wav", sound, RATE, subtype="FLOAT")
    expected = np.where(np.isnan(sound), 0, sound)
    assert np.abs(read_back(tmp_path / "sine.wav") - expected).max() <= 1e-7


def test_resampled_sound_keeps_its_place_over_blocks(tmp_path: Path) -> None:
    """A slow sine at another rate is the same sine, from the first block into the second."""
    rate = 44_100
    seconds = BLOCK / RATE + 1.5
    slow = 0.5 * np.sin(2 * np.pi * 50 * np.arange(round(seconds * rate)) / rate)
    soundfile.write(tmp_path / "slow.wav", slow, rate, subtype="FLOAT")
    result = read_back(tmp_path / "slow.wav")
    expected = 0.5 * np.sin(2 * np.pi * 50 * np.arange(len(result)) / RATE)
    assert len(result) == round(seconds * RATE)
    assert np.abs(result - expected)[200:-200].max() < 1e-3


@pytest.mark.parametrize("head_rate", [8_000, 22_050, 44_099, 48_000, 88_200, 96_000])
def test_a_head_that_lies_about_its_rate_is_not_believed(tmp_path: Path, head_rate: int) -> None:
    """The stream's head has the rate in 20 bits after 18 bytes; each frame has its own.

    RFC 9639, section 8.2.
    """
    path, seconds, rate = tmp_path / "sine.flac", 3, 44_100
    sine = 0.5 * np.sin(2 * np.pi * 440 * np.arange(seconds * rate) / rate)
    soundfile.write(path, sine, rate)
    content = bytearray(path.read_bytes())
    head = int.from_bytes(content[18:21], "big")
    content[18:21] = ((head & 0xF) | head_rate << 4).to_bytes(3, "big")
    path.write_bytes(content)
    damage = Damage()
    sound = np.concatenate([*Recording(path).blocks(damage)])
    assert list(damage.notices()) == []
    assert len(sound) == pytest.approx(seconds * RATE, abs=RATE // 100)
    assert int(np.abs(np.fft.rfft(sound[:RATE])).argmax()) == 440


@dataclass(frozen=True, slots=True, eq=False)
class CountedSamples:
    """A recording whose samples say where they stand, read in blocks of some lengths."""

    lengths: tuple[int, ...]

    def blocks(self) -> Iterator[npt.NDArray[np.float32]]:
        yield from np.split(
            np.arange(1, sum(self.lengths) + 1, dtype=np.float32), np.cumsum(self.lengths)[:-1]
        )


@given(
    st.lists(st.integers(1, 9), min_size=1, max_size=8).map(tuple),
    st.lists(st.tuples(st.integers(-3, 12), st.integers(1, 12)), max_size=6),
)
def test_stretches_are_what_stands_there_however_it_is_read(
    lengths: tuple[int, ...], asked: list[tuple[int, int]]
) -> None:
    """Over the lengths of the blocks, over gaps between stretches, before the start and past it."""
    stretches = Stretches(CountedSamples(lengths))
    last = sum(lengths)
    for first, samples in sorted(asked):
        stands = [place + 1 if 0 <= place < last else 0 for place in range(first, first + samples)]
        assert stretches.stretch(first, samples).tolist() == stands
