"""Where a backing lies in a take: by construction, from bands that the tests make themselves."""

from __future__ import annotations

import numpy as np
import pytest
from tones import RATE, Sound, band, played

from halfstep.listen.backing_delay import (
    BackingDelay,
    backing_delay,
    common_step_s,
    true_rate_ratio,
)
from halfstep.listen.thin_sound import BLOCK, THIN_RATE, ThinSound, likeness, thin_sound

RNG = np.random.default_rng(5)
LINE = played([(0.4 * i + 0.1, 0.35, 60 + 5 * i % 13) for i in range(100)], 42.0)
LONG, LOUD = 30.0, 10 ** (-20 / 20)


def thin(sound: Sound) -> ThinSound:
    return thin_sound([sound.astype(np.float32)])


def take_of(backing: Sound, delay_s: float, length_s: float, *, level: float = LOUD) -> Sound:
    """The line with the backing under it, late by the delay."""
    sound = LINE[: round(length_s * RATE)] + 1e-4 * RNG.normal(size=round(length_s * RATE))
    late = round(delay_s * RATE)
    begin, skipped = max(0, late), max(0, -late)
    under = backing[skipped : skipped + max(0, len(sound) - begin)]
    gain = level * np.sqrt(np.mean(LINE**2) / np.mean(backing**2))
    sound[begin : begin + len(under)] += gain * under
    return np.asarray(sound)


def found(take: Sound, backing: Sound) -> BackingDelay:
    delay = backing_delay(thin(take), thin(backing))
    assert delay is not None
    return delay


# --- the right place, wherever it is ---------------------------------------------------------


@pytest.mark.parametrize("delay_s", [-22.5, -5.0, -0.05, 0.0, 0.6, 3.137, 25.0])
@pytest.mark.parametrize("level_db", [-10, -30])
def test_the_delay_is_found_wherever_take_and_backing_meet(delay_s: float, level_db: int) -> None:
    backing = band(LONG)
    take = take_of(backing, delay_s, 12.0 + max(0.0, delay_s), level=10 ** (level_db / 20))
    delay = found(take, backing)
    assert delay.delay_s == pytest.approx(delay_s, abs=0.0005)
    assert delay.modulo_s is None


def test_a_backing_shorter_than_the_take_is_found_in_its_middle() -> None:
    backing = band(4.0)
    assert found(take_of(backing, 20.2, 40.0), backing).delay_s == pytest.approx(20.2, abs=0.0005)


def test_five_seconds_are_enough() -> None:
    backing = band(LONG)
    assert found(take_of(backing, -11.0, 5.0), backing).delay_s == pytest.approx(-11, abs=0.0005)


def test_a_microphone_that_turns_the_sound_upside_down_changes_nothing() -> None:
    backing = band(LONG)
    take = take_of(-backing, 1.5, 12.0)
    assert found(take, backing).delay_s == pytest.approx(1.5, abs=0.0005)


def test_silence_at_either_end_says_nothing() -> None:
    backing = np.concatenate([np.zeros(2 * RATE), band(LONG), np.zeros(3 * RATE)])
    take = np.concatenate([np.zeros(4 * RATE), take_of(backing, -9.0, 12.0), np.zeros(5 * RATE)])
    assert found(take, backing).delay_s == pytest.approx(-5.0, abs=0.0005)


def test_a_backing_that_is_stopped_early_is_found_where_it_began() -> None:
    backing = band(LONG)
    take = take_of(backing[: 14 * RATE], -3.0, 30.0)
    assert found(take, backing).delay_s == pytest.approx(-3.0, abs=0.0005)


# --- what is not there -----------------------------------------------------------------------


@pytest.mark.parametrize("length_s", [3.0, 12.0, 30.0])
def test_a_take_without_the_backing_has_no_delay(length_s: float) -> None:
    take = thin(LINE[: round(length_s * RATE)])
    backing = thin(band(LONG))
    assert backing_delay(take, backing) is None
    assert true_rate_ratio(take, backing, 44_100) is None


def test_the_same_drums_under_another_band_are_not_the_backing() -> None:
    """Equal strokes on each beat, as two charts of one tempo and style have them."""
    drums = np.tile(band(0.5 * 4 + 0.5, seed=9)[: 2 * RATE], 15)
    basses = [
        played([(0.5 * i, 0.45, 36 + pitch) for i, pitch in enumerate(line)], LONG)
        for line in np.random.default_rng(1).integers(0, 24, size=(2, 60))
    ]
    ours, theirs = (drums + bass for bass in basses)
    take = take_of(theirs, 1.25, 20.0, level=0.5)
    assert backing_delay(thin(take), thin(ours)) is None
    assert found(take, theirs).delay_s == pytest.approx(1.25, abs=0.0005)


@pytest.mark.parametrize("shared_s", [0.2, 0.6, 1.0, 1.5])
def test_too_little_in_common_gives_no_wrong_place(shared_s: float) -> None:
    backing = band(LONG)
    delay = backing_delay(thin(take_of(backing, 12 - shared_s, 12.0)), thin(backing))
    assert delay is None or delay.delay_s == pytest.approx(12 - shared_s, abs=0.0005)


def test_nothing_in_common_is_nothing() -> None:
    backing = band(LONG)
    assert backing_delay(thin(np.zeros(0)), thin(backing)) is None
    assert backing_delay(thin(LINE), thin(np.zeros(10))) is None


# --- what sounds alike -----------------------------------------------------------------------


def looped(count_in_s: float, block_s: float, blocks: int) -> Sound:
    count_in = band(count_in_s + 0.5, seed=3)[: round(count_in_s * RATE)]
    block = band(block_s + 0.5, seed=4)[: round(block_s * RATE)]
    return np.concatenate([count_in, *[block] * blocks])


@pytest.mark.parametrize("delay_s", [-9.0, -13.5, -17.2])
def test_in_equal_choruses_the_delay_is_known_but_for_whole_choruses(delay_s: float) -> None:
    backing = looped(2.0, 6.0, 6)
    delay = found(take_of(backing, delay_s, 9.0), backing)
    assert delay.modulo_s == pytest.approx(6.0, abs=0.001)
    off_s = (delay.delay_s - delay_s) / 6.0
    assert off_s == pytest.approx(round(off_s), abs=0.0002)


@pytest.mark.parametrize("delay_s", [-0.5, 4.0])
def test_the_count_in_says_which_chorus_it_is(delay_s: float) -> None:
    backing = looped(2.0, 6.0, 6)
    delay = found(take_of(backing, delay_s, 14.0), backing)
    assert delay.modulo_s is None
    assert delay.delay_s == pytest.approx(delay_s, abs=0.0005)


def test_the_end_says_which_chorus_it_is() -> None:
    backing = looped(2.0, 6.0, 4)
    delay = found(take_of(backing, -16.0, 16.0), backing)
    assert delay.delay_s == pytest.approx(-16.0, abs=0.0005) or delay.modulo_s is not None


def test_a_backing_that_was_played_in_a_loop_is_known_but_for_whole_rounds() -> None:
    backing = looped(2.0, 6.0, 2)
    rounds = np.concatenate([backing, *[backing[2 * RATE :]] * 2])
    delay = found(take_of(rounds, -9.0, 25.0), backing)
    assert delay.modulo_s is not None
    off = (delay.delay_s + 9.0) / delay.modulo_s
    assert off == pytest.approx(round(off), abs=0.0002)


@pytest.mark.parametrize(
    ("delays_s", "step_s"),
    [([1.0], None), ([0.0, 8.0], 8.0), ([0.0, 16.0, -24.0], 8.0), ([0.5, 12.5, 6.5001], 6.0)],
)
def test_the_common_step_divides_all_differences(
    delays_s: list[float], step_s: float | None
) -> None:
    assert common_step_s(delays_s) == (step_s and pytest.approx(step_s, abs=0.001))


# --- clocks and rates ------------------------------------------------------------------------


def at_clock(sound: Sound, ratio: float) -> Sound:
    """As a device records it whose clock is so many times as fast."""
    places = np.arange(0, len(sound) - 1, 1 / ratio)
    return np.asarray(np.interp(places, np.arange(len(sound)), sound))


@pytest.mark.parametrize("millionths", [-100, -30, 60, 100])
def test_the_clocks_of_two_devices_may_differ(millionths: int) -> None:
    backing = band(45.0)
    ratio = 1 + 1e-6 * millionths
    delay = found(at_clock(take_of(backing, 2.0, 40.0), ratio), backing)
    assert delay.delay_s == pytest.approx(2.0, abs=0.0007)
    assert delay.clock_ratio == pytest.approx(ratio, abs=1e-5)


@pytest.mark.parametrize(("declared", "true"), [(44_100, 48_000), (32_000, 16_000)])
def test_a_wrong_rate_is_known_by_the_backing(declared: int, true: int) -> None:
    backing = band(LONG)
    take = thin(at_clock(take_of(backing, 0.5, 20.0), true / declared))
    assert backing_delay(take, thin(backing)) is None
    assert true_rate_ratio(take, thin(backing), declared) == pytest.approx(true / declared)


# --- one lag after the other -----------------------------------------------------------------


def test_long_sounds_are_laid_over_each_other_block_by_block() -> None:
    """Three blocks over two: the same values as all at once, where whitening is the same."""
    noise = np.random.default_rng(2).normal(size=3 * BLOCK).astype(np.float16)
    long, part = ThinSound(noise), ThinSound(noise[BLOCK // 2 : 2 * BLOCK])
    best = max(
        (float(np.abs(values).max()), first + int(np.abs(values).argmax()))
        for first, values in likeness(long, part)
    )
    assert best[1] == BLOCK // 2


def test_thin_sound_keeps_low_frequencies_and_their_place() -> None:
    time = np.arange(RATE) / RATE
    low, high = (thin(np.sin(2 * np.pi * hertz * time)) for hertz in (500, 3000))
    expected = np.sin(2 * np.pi * 500 * np.arange(len(low)) / THIN_RATE)
    assert np.abs(low.samples[20:-20] - expected[20:-20]).max() < 0.02
    assert np.abs(high.samples[20:-20]).max() < 0.01
