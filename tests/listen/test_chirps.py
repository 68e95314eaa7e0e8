"""Chirps found again in takes: by construction, in rooms, noise and playing made by the tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from tones import RATE, Sound, played

from halfstep.listen.audio import Recording
from halfstep.listen.chirps import (
    AGREEMENT_S,
    CHIRP_S,
    CLEAR,
    HIGH_HZ,
    LATEST_S,
    LOW_HZ,
    PEAK,
    ChirpDelays,
    chirp,
    chirp_delays,
)

PLAYED_S = (0.5, 6.5)
"""When the two chirps of a take are played."""
LENGTH_S = 8.0
LEVEL = float(np.sqrt(np.mean(np.square(chirp(RATE)))))
"""Of a chirp: what a signal-to-noise ratio counts from."""


@dataclass(frozen=True, slots=True, eq=False)
class MadeTake:
    """A take that the tests made."""

    sound: Sound

    def blocks(self) -> Iterator[npt.NDArray[np.float32]]:
        yield from np.array_split(self.sound.astype(np.float32), 5)


def take_with(
    delays_s: Sequence[float], *, rate: int = RATE, way: Sound | None = None, gain: float = 1.0
) -> Sound:
    """Silence with the chirps in it, each late by its delay, by some way to the microphone."""
    sound = np.zeros(round(LENGTH_S * rate))
    for at_s, delay_s in zip(PLAYED_S, delays_s, strict=False):
        arriving = gain * (chirp(rate) if way is None else np.convolve(chirp(rate), way))
        first = round((at_s + delay_s) * rate)
        part = arriving[: len(sound) - first]
        sound[first : first + len(part)] += part
    return sound


def read(sound: Sound) -> ChirpDelays:
    return chirp_delays(MadeTake(sound), PLAYED_S)


# --- the sound itself ------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_a_chirp_is_soft_and_begins_and_ends_in_silence(rate: int) -> None:
    sound = chirp(rate)
    assert len(sound) == round(CHIRP_S * rate) + 1
    assert 0.9 * PEAK < np.abs(sound).max() <= PEAK
    assert np.abs(sound[[0, 1, -2, -1]]).max() < 1e-4
    assert LEVEL < 10 ** (-27 / 20)


def test_it_lies_where_a_phone_plays_and_hears() -> None:
    power = np.square(np.abs(np.fft.rfft(chirp(48_000))))
    hertz = np.fft.rfftfreq(len(chirp(48_000)), 1 / 48_000)
    inside = power[(hertz >= LOW_HZ) & (hertz <= HIGH_HZ)].sum()
    assert inside / power.sum() > 0.999


def test_it_is_the_same_sound_at_every_rate() -> None:
    """Every third sample of 48 kHz is one of 16 kHz."""
    np.testing.assert_allclose(chirp(48_000)[::3], chirp(16_000), atol=1e-7)


# --- found again -----------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [8_000, 22_050, 32_000, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("delay_s", [0.0, 0.0123, 0.3])
def test_the_delay_is_found_at_the_rate_of_every_file(
    tmp_path: Path, rate: int, delay_s: float
) -> None:
    path = tmp_path / "take.wav"
    sound = take_with([delay_s] * 2, rate=rate)
    soundfile.write(path, sound, rate, subtype="PCM_16")
    delays = chirp_delays(Recording(path), PLAYED_S)
    assert delays.delay_s == pytest.approx(round(delay_s * rate) / rate, abs=2e-4)


@pytest.mark.parametrize("samples", [0.0, 0.25, 0.5, 0.75])
def test_it_is_known_to_a_part_of_a_sample(samples: float) -> None:
    """Made at six times the rate, and thinned."""
    fine = take_with([0.1 + samples / RATE] * 2, rate=6 * RATE)
    assert read(fine[::6]).delay_s == pytest.approx(0.1 + samples / RATE, abs=5e-6)


def echoing(seed: int, rest_s: float, direct_db: float) -> Sound:
    """A room: the straight way, and echoes that die away by 60 dB in some time."""
    rng = np.random.default_rng(seed)
    size = round(rest_s * RATE)
    echoes = rng.normal(size=size) * 10 ** (-3 * np.arange(size) / size)
    echoes[: round(0.002 * RATE)] = 0
    echoes *= 10 ** (-direct_db / 20) / np.sqrt(np.square(echoes).sum())
    echoes[0] = 1.0
    return echoes


def narrow(low_hz: float, high_hz: float) -> Sound:
    """What a small speaker and microphone pass on, 101 taps, its middle at the first of them."""
    place = np.arange(-50, 51)
    taps = [2 * hz / RATE * np.sinc(2 * hz / RATE * place) for hz in (high_hz, low_hz)]
    return np.asarray((taps[0] - taps[1]) * np.hamming(101))


NOISE = np.random.default_rng(3).normal(size=round(LENGTH_S * RATE))
LINE = played([(0.3 * i, 0.28, 50 + 7 * i % 25) for i in range(27)], LENGTH_S)[: len(NOISE)]
STROKES = NOISE * np.exp(-((np.arange(len(NOISE)) / RATE + 0.17) % 0.25) / 0.03)
ABOUT = {"noise": NOISE, "a player": LINE, "drums": STROKES, "all of them": NOISE + LINE + STROKES}


@pytest.mark.parametrize("about", ABOUT)
@pytest.mark.parametrize("over_db", [10, 0, -8])
def test_noise_a_player_and_drums_are_louder_and_it_is_found(about: str, over_db: int) -> None:
    under = ABOUT[about] * LEVEL * 10 ** (-over_db / 20) / np.sqrt(np.mean(ABOUT[about] ** 2))
    delays = read(take_with([0.21, 0.21]) + under)
    assert delays.delay_s == pytest.approx(0.21, abs=2e-4)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("rest_s", [0.2, 0.6, 1.2])
def test_the_straight_way_counts_in_a_room(seed: int, rest_s: float) -> None:
    take = take_with([0.08, 0.08], way=echoing(seed, rest_s, direct_db=0.0))
    delays = read(take + 0.2 * LEVEL * NOISE)
    assert delays.delay_s == pytest.approx(0.08, abs=1e-3)


@pytest.mark.parametrize("band_hz", [(200, 7900), (800, 4000), (300, 3400), (1500, 7000)])
def test_a_small_speaker_and_a_telephone_pass_on_enough(band_hz: tuple[float, float]) -> None:
    delays = read(take_with([0.08, 0.08], way=narrow(*band_hz)) + 0.3 * LEVEL * NOISE)
    assert delays.delay_s == pytest.approx(0.08 + 50 / RATE, abs=3e-4)


def test_a_microphone_that_turns_the_sound_upside_down_changes_nothing() -> None:
    assert read(take_with([0.1, 0.1], gain=-1.0)).delay_s == pytest.approx(0.1, abs=1e-4)


@pytest.mark.parametrize("gain", [0.003, 1.0, 30.0])
def test_it_may_be_soft_or_clipped(gain: float) -> None:
    sound = np.clip(take_with([0.1, 0.1], gain=gain), -1, 1)
    assert read(np.round(32767 * sound) / 32767).delay_s == pytest.approx(0.1, abs=1e-4)


# --- jumps -----------------------------------------------------------------------------------


@pytest.mark.parametrize("jump_ms", [-44.0, -3.0, 3.0, 90.0])
def test_chirps_that_disagree_are_a_jump_of_that_size(jump_ms: float) -> None:
    way = echoing(1, 0.5, direct_db=3.0)
    delays = read(take_with([0.15, 0.15 + jump_ms / 1000], way=way) + LEVEL * NOISE)
    assert delays.delay_s is None
    assert delays.jump_s == pytest.approx(jump_ms / 1000, abs=2e-4)


@pytest.mark.sampled
@pytest.mark.parametrize("place_s", np.arange(0.1, 7.9, 0.3).tolist())
@pytest.mark.parametrize("jump_ms", [-44.0, 12.0])
def test_wherever_samples_are_lost_no_delay_is_told_that_is_wrong(
    place_s: float, jump_ms: float
) -> None:
    """Inside a chirp its larger part may be found: then the two disagree, or one is not found."""
    whole = take_with([0.15, 0.15]) + 0.3 * LEVEL * NOISE
    first, lost = round(place_s * RATE), round(jump_ms / 1000 * RATE)
    jumped = np.concatenate([whole[:first], np.zeros(max(0, lost)), whole[first + max(0, -lost) :]])
    delays = read(jumped)
    if 0.65 + CHIRP_S < place_s < 6.6:
        assert delays.jump_s == pytest.approx(jump_ms / 1000, abs=2e-4)
    elif place_s < 0.55 or place_s > 7.0:
        moved = lost / RATE if place_s < 1 else 0.0
        assert delays.delay_s == pytest.approx(0.15 + moved, abs=2e-4)
    elif delays.delay_s is not None:
        off_s = delays.delay_s - 0.15
        assert min(abs(off_s), abs(off_s - lost / RATE)) <= AGREEMENT_S


# --- what is not there -----------------------------------------------------------------------


@pytest.mark.parametrize("about", ABOUT)
def test_what_is_no_chirp_is_found_nowhere(about: str) -> None:
    delays = chirp_delays(MadeTake(ABOUT[about]), np.arange(0.0, 7.0, 1.0).tolist())
    assert delays == ChirpDelays((None,) * 7)
    assert delays.delay_s is None
    assert delays.jump_s is None


def test_one_chirp_tells_no_delay() -> None:
    delays = read(take_with([0.1]) + 0.1 * LEVEL * NOISE)
    assert delays.places[0] is not None
    assert delays.places[0].clearness > CLEAR
    assert delays.places[1] is None
    assert delays.delay_s is None
    assert delays.jump_s is None


def test_a_take_that_ends_before_its_second_chirp_tells_no_delay() -> None:
    assert read(take_with([0.1, 0.1])[: 5 * RATE]).delay_s is None


def test_what_is_later_than_any_device_is_not_looked_for() -> None:
    assert read(take_with([LATEST_S + 0.02] * 2) + 0.1 * LEVEL * NOISE).delay_s is None


def test_silence_holds_no_chirp() -> None:
    assert read(np.zeros(8 * RATE)) == ChirpDelays((None, None))
