"""The program's own bank as it sounds: in tune, alive, of one loudness, without clicks.

Pitch is found here by autocorrelation of the first partials, which the program does not use;
loudness by pyloudnorm (ITU-R BS.1770-4). ISO 16: A is 440 Hz. That what is mistuned by less than
3 cents is heard as in tune, and the compasses, are common practice, no source.
"""

from __future__ import annotations

import subprocess
import sys
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from halfstep.render.known_banks import SHIPPED_BANK
from halfstep.render.sampler import RING_S, STROKE_DB, SampledNote, Sampler
from halfstep.render.soundbank import opened_bank

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = Path("/usr/share/sounds/sf3/FluidR3Mono_GM.sf3")
RATE = 44_100

SUSTAINED = {64: (44, 84), 65: (40, 81), 66: (40, 76), 67: (40, 72), 56: (50, 82), 57: (40, 76),
             71: (50, 84), 73: (59, 84)}  # fmt: skip
"""Winds, with the keys from E1 to A5 that their recordings serve and a little more."""

PLUCKED_AND_STRUCK = {0: (28, 81), 4: (28, 81), 24: (40, 81), 26: (40, 81), 32: (28, 60),
                      33: (28, 60)}  # fmt: skip
RIDE, CLOSED_HAT, SNARE, KICK = 51, 42, 38, 36


@lru_cache
def sampler(rate: int = RATE) -> Sampler:
    return Sampler(opened_bank(SHIPPED_BANK), frame_rate=rate)


def note(
    program: int, key: int, velocity: int = 100, length_s: float = 1.5, *, number: int = 0,
    rate: int = RATE,
) -> np.ndarray:  # fmt: skip
    """One note in mono; programs from 128 on are drum kits."""
    player = sampler(rate)
    preset, _ = player.bank.preset(program % 128, percussion=program >= 128)
    sound = player.note(preset, key, velocity, length_s, rings=program >= 128, number=number)
    return sound.mean(axis=1)


DRUMS, BRUSHES = 128, 128 + 40


# Pitch


def cents_off(sound: np.ndarray, hz: float, rate: int) -> float:
    """How far a held note is above a pitch: its windows' best lags, in cents, and their mean.

    Vibrato is heard at its mean (Brown and Vaughn 1996, from memory); the median of a swing
    that stands longest at its ends wanders by cents.

    Its first five partials alone, so that those of stiff strings, which are sharp, do not weigh.
    """
    size = 1 << len(sound).bit_length()
    spectrum, at_hz = np.fft.rfft(sound, size), np.fft.rfftfreq(size, 1 / rate)
    spectrum[(at_hz > 5.5 * hz) | (at_hz < 0.5 * hz)] = 0
    low = np.fft.irfft(spectrum)[: len(sound)]
    lag = max(1, round(0.015 * hz)) * rate / hz
    lags = np.arange(int(lag * 2 ** (-60 / 1200)), int(lag * 2 ** (60 / 1200)) + 2)
    length = int(0.06 * rate)
    starts = range(int(0.2 * rate), len(low) - length - lags[-1], int(0.05 * rate))
    windows = [cents_of(low[start:], lags, length, lag) for start in starts]
    return float(np.mean([each for each in windows if each is not None]))


def cents_of(low: np.ndarray, lags: np.ndarray, length: int, lag: float) -> float | None:
    """One window's best lag, as cents; None where it stands at an edge."""
    shifted = np.lib.stride_tricks.sliding_window_view(low[: length + lags[-1] + 1], length)[lags]
    first = low[:length]
    powers = (shifted**2).sum(axis=1) + (first**2).sum()
    likeness = 2 * shifted @ first / np.maximum(powers, 1e-20)
    best = int(likeness.argmax())
    if best in (0, len(lags) - 1):
        return None
    before, top, after = likeness[best - 1 : best + 2]
    peak = lags[best] + 0.5 * (before - after) / (before - 2 * top + after)
    return float(1200 * np.log2(lag / peak))


def off(program: int, keys: range, rate: int, length_s: float = 1.5) -> dict[int, float]:
    """How far each key is off, in cents."""
    return {
        key: cents_off(
            note(program, key, length_s=length_s, rate=rate)[: round(length_s * rate)],
            440 * 2 ** ((key - 69) / 12),
            rate,
        )
        for key in keys
    }


@pytest.mark.parametrize("cents", [-20.0, 0.0, 7.0])
def test_the_pitch_finder_finds_a_known_pitch(cents: float) -> None:
    hz = 220 * 2 ** (cents / 1200)
    time_s = np.arange(RATE) / RATE
    tone = sum(np.sin(2 * np.pi * hz * k * time_s) / k for k in range(1, 9))
    assert cents_off(np.asarray(tone), 220, RATE) == pytest.approx(cents, abs=0.2)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("rate", [44_100, 48_000])
@pytest.mark.parametrize("program", SUSTAINED)
def test_a_wind_is_in_tune(program: int, rate: int) -> None:
    """Within 3 cents on every third key; the slow test below takes all of them."""
    low, high = SUSTAINED[program]
    errors = off(program, range(low + (rate == RATE), high + 1, 6), rate)
    assert {key: cents for key, cents in errors.items() if abs(cents) > 3} == {}


@pytest.mark.slow
@pytest.mark.parametrize("program", SUSTAINED)
def test_every_key_of_a_wind_is_in_tune(program: int) -> None:
    low, high = SUSTAINED[program]
    errors = off(program, range(low, high + 1), RATE)
    assert {key: cents for key, cents in errors.items() if abs(cents) > 3} == {}


@pytest.mark.slow
@pytest.mark.parametrize("program", PLUCKED_AND_STRUCK)
def test_a_string_is_in_tune(program: int) -> None:
    """Partials of a stiff string are wider than whole numbers: methods differ by 5 cents."""
    low, high = PLUCKED_AND_STRUCK[program]
    errors = off(program, range(low, high + 1, 2), RATE, 1.0)
    assert {key: cents for key, cents in errors.items() if abs(cents) > 7} == {}
    assert np.median(np.abs(list(errors.values()))) < 3


def test_a_short_note_is_no_sharper_than_a_long_one() -> None:
    """A player's scoop would put every eighth of a line ten cents high."""
    for key in (56, 62, 72):
        short, long = (off(66, range(key, key + 1), RATE, length)[key] for length in (0.5, 2.0))
        assert abs(short - long) < 4


# Timbre and loudness


def correlation(one: np.ndarray, other: np.ndarray) -> float:
    frames = min(len(one), len(other))
    one, other = one[:frames], other[:frames]
    return float(one @ other / np.sqrt((one @ one) * (other @ other)))


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("program", "keys"),
    [(0, range(36, 85, 6)), (4, range(40, 65, 6)), (26, range(45, 76, 6)), (32, range(28, 56, 3)),
     (33, range(28, 56, 5)), (65, range(50, 80, 7)), (DRUMS, (RIDE, 53, 59, CLOSED_HAT, SNARE)),
     (BRUSHES, (38, 39, 40, RIDE))],
)  # fmt: skip
def test_a_soft_stroke_has_another_timbre(program: int, keys: range) -> None:
    """Shapes at velocities 40 and 110, whatever their levels: below .98, and no other note."""
    for key in keys:
        likeness = correlation(note(program, key, 40), note(program, key, 110))
        assert 0.85 < likeness < 0.98


def brightness(sound: np.ndarray) -> float:
    """The mean frequency of a sound's energy, in hertz."""
    power = np.abs(np.fft.rfft(sound)) ** 2
    return float(power @ np.fft.rfftfreq(len(sound), 1 / RATE) / power.sum())


@pytest.mark.parametrize(("program", "key"), [(0, 60), (32, 36), (65, 66), (DRUMS, RIDE)])
def test_a_harder_stroke_is_brighter(program: int, key: int) -> None:
    brights = [brightness(note(program, key, velocity)) for velocity in range(20, 128, 15)]
    assert all(softer < harder for softer, harder in pairwise(brights))


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("program", "key"),
    [(0, 48), (0, 75), (4, 60), (26, 60), (32, 28), (32, 43), (33, 28), (65, 62), (66, 47),
     (56, 67), (DRUMS, RIDE), (DRUMS, KICK), (DRUMS, 41), (BRUSHES, SNARE), (BRUSHES, 39)],
)  # fmt: skip
def test_level_is_the_square_of_velocity_whatever_the_timbre(program: int, key: int) -> None:
    """Within half a decibel as power, and as loudness, in the first second."""
    loudest = note(program, key, 110)[:RATE]
    for velocity in (30, 50, 70, 90):
        sound, expected = note(program, key, velocity)[:RATE], 40 * np.log10(velocity / 110)
        assert level_db(sound) - level_db(loudest) == pytest.approx(expected, abs=0.5)
        assert weighted_db(sound) - weighted_db(loudest) == pytest.approx(expected, abs=0.5)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("program", "low", "high"),
    [(0, 36, 84), (26, 40, 76), (33, 28, 52), (57, 40, 72), (66, 44, 76)],
)
def test_neighbouring_keys_are_equally_loud(program: int, low: int, high: int) -> None:
    """Some recordings were 6 dB apart; half of that is no step in a line (no source)."""
    levels = [level_db(note(program, key, length_s=0.6)) for key in range(low, high + 1)]
    assert max(abs(one - other) for one, other in pairwise(levels)) < 3.2


def level_db(sound: np.ndarray) -> float:
    return float(10 * np.log10((sound.astype(float) ** 2).mean()))


def weighted_db(sound: np.ndarray) -> float:
    """The level under pyloudnorm's K-weighting, ungated: a stroke is shorter than its blocks."""
    meter = pyloudnorm.Meter(RATE)
    weighted = sound.astype(float)
    for stage in meter._filters.values():
        weighted = stage.apply_filter(weighted)
    return level_db(weighted)


# From stroke to stroke


@pytest.mark.parametrize(("program", "key"), [(DRUMS, CLOSED_HAT), (DRUMS, RIDE), (32, 33)])
def test_no_stroke_is_like_the_one_before(program: int, key: int) -> None:
    """The same velocity eight times: small differences of level, and of shape."""
    strokes = [note(program, key, 80, 0.5, number=number) for number in range(8)]
    for one, other in pairwise(strokes):
        assert not np.allclose(one, other, rtol=1e-3)
        assert 0 < abs(level_db(one) - level_db(other)) < 2 * STROKE_DB + 0.2
        assert correlation(one, other) < 0.99999


def test_the_same_stroke_sounds_the_same_again() -> None:
    fresh = Sampler(opened_bank(SHIPPED_BANK))
    preset, _ = fresh.bank.preset(0)
    strokes = [
        SampledNote(start, key, 70, 0.4) for start, key in ((0, 60), (9000, 60), (20_000, 67))
    ]
    assert np.array_equal(
        fresh.part(preset, strokes, rings=False), sampler().part(preset, strokes, rings=False)
    )


def test_a_part_is_the_sum_of_its_notes() -> None:
    player = sampler()
    preset, _ = player.bank.preset(0, percussion=True)
    strokes = [
        SampledNote(12_000 * n, key, 60 + 5 * n, 0.1) for n, key in enumerate((51, 42, 51, 38))
    ]
    laid = player.part(preset, strokes, rings=True, frames=300_000)
    summed = np.zeros_like(laid)
    for number, stroke in enumerate(strokes):
        sound = player.note(preset, stroke.key, stroke.velocity, 0.1, rings=True, number=number)
        summed[stroke.start : stroke.start + len(sound)] += sound
    assert len(laid) >= 300_000
    assert np.allclose(laid, summed, atol=1e-6)


# Joints and tails


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("program", [*SUSTAINED, *PLUCKED_AND_STRUCK])
def test_no_loop_clicks(program: int) -> None:
    """Where a loop is joined the sound bends no more than elsewhere around it.

    A click would stand out of the second difference of four seconds of a held note.
    """
    for key in range(48, 73, 8):
        sound = note(program, key, length_s=4.0)[RATE // 4 : 4 * RATE]
        bend = np.abs(np.diff(sound, 2))
        highest = bend[: len(bend) // 441 * 441].reshape(-1, 441).max(axis=1)
        around = np.maximum(np.roll(highest, 1), np.roll(highest, -1))
        steady = np.convolve(highest, np.ones(21) / 21, mode="same")
        clicks = (highest > 3 * around) & (highest > 3 * steady)
        assert not clicks[11:-11].any()


@pytest.mark.parametrize("program", [*SUSTAINED, *PLUCKED_AND_STRUCK])
def test_a_held_note_swings_about_zero(program: int) -> None:
    sound = note(program, 60, length_s=2.0)[RATE // 2 : 2 * RATE]
    assert abs(sound.mean()) < 2e-3 * np.abs(sound).max()


@pytest.mark.parametrize("key", [RIDE, 53, 59, 49, 46])
def test_a_cymbal_rings_until_it_has_gone(key: int) -> None:
    """A ride of at least two seconds; its end is no cut."""
    sound = note(DRUMS, key, 100, 0.05)
    assert 2 * RATE < len(sound) <= (RING_S + 4.1) * RATE
    top = np.abs(sound).max()
    assert np.abs(sound[-RATE // 100 :]).max() < 2e-3 * top


def test_the_brush_kit_is_a_kit_of_its_own() -> None:
    """A swirl on key 40 (General Standard's brush kit, from memory), longer than a snare's tap."""
    assert correlation(note(DRUMS, 38), note(BRUSHES, 38)) < 0.5
    assert len(note(BRUSHES, 40)) > 0.4 * RATE


# Where it comes from


def test_its_licence_stands_in_it_and_beside_it() -> None:
    texts = opened_bank(SHIPPED_BANK).texts
    notice = SHIPPED_BANK.with_name("bank-notice.txt").read_text("utf-8")
    for words in ("Frank Wen", "Michael Cowgill", "Permission is hereby granted, free of charge"):
        assert words in notice
        assert words in texts[b"ICMT"]
    assert texts[b"ICOP"].startswith("MIT. ")


def test_it_is_small_and_in_tune_as_it_stands() -> None:
    assert SHIPPED_BANK.stat().st_size < 5_600_000
    assert opened_bank(SHIPPED_BANK).tuned


@pytest.mark.slow
def test_the_script_makes_it_again_byte_for_byte() -> None:
    if not PACKAGE.is_file():
        pytest.skip("Debian's package fluidr3mono-gm-soundfont is not installed")
    command = [sys.executable, ROOT / "scripts" / "bank", "--check", "--source", PACKAGE]
    done = subprocess.run(command, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "")
