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
from halfstep.listen.thin_sound import (
    BLOCK,
    STRETCH,
    THIN_RATE,
    ThinSound,
    stretches,
    thin_sound,
)

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


@pytest.mark.slow
@pytest.mark.sampled
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


@pytest.mark.slow
def test_five_seconds_are_enough() -> None:
    backing = band(LONG)
    assert found(take_of(backing, -11.0, 5.0), backing).delay_s == pytest.approx(-11, abs=0.0005)


@pytest.mark.slow
def test_a_microphone_that_turns_the_sound_upside_down_changes_nothing() -> None:
    backing = band(LONG)
    take = take_of(-backing, 1.5, 12.0)
    assert found(take, backing).delay_s == pytest.approx(1.5, abs=0.0005)


@pytest.mark.slow
def test_silence_at_either_end_says_nothing() -> None:
    backing = np.concatenate([np.zeros(2 * RATE), band(LONG), np.zeros(3 * RATE)])
    take = np.concatenate([np.zeros(4 * RATE), take_of(backing, -9.0, 12.0), np.zeros(5 * RATE)])
    assert found(take, backing).delay_s == pytest.approx(-5.0, abs=0.0005)


@pytest.mark.slow
def test_a_backing_that_is_stopped_early_is_found_where_it_began() -> None:
    backing = band(LONG)
    take = take_of(backing[: 14 * RATE], -3.0, 30.0)
    assert found(take, backing).delay_s == pytest.approx(-3.0, abs=0.0005)


# --- what is not there -----------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("length_s", [3.0, 12.0, 30.0])
def test_a_take_without_the_backing_has_no_delay(length_s: float) -> None:
    take = thin(LINE[: round(length_s * RATE)])
    backing = thin(band(LONG))
    assert backing_delay(take, backing) is None
    assert true_rate_ratio(take, backing, 44_100) is None


def bands_of_equal_drums(bass_share: float = 1.0) -> list[Sound]:
    """Equal strokes on each beat, as two charts of one tempo and style have them."""
    drums = np.tile(band(0.5 * 4 + 0.5, seed=9)[: 2 * RATE], 15)
    basses = [
        played([(0.5 * i, 0.45, 36 + pitch) for i, pitch in enumerate(line)], LONG)
        for line in np.random.default_rng(1).integers(0, 24, size=(2, 60))
    ]
    return [drums + bass_share * bass for bass in basses]


@pytest.mark.slow
def test_the_same_drums_under_another_band_are_not_the_backing() -> None:
    ours, theirs = bands_of_equal_drums()
    take = take_of(theirs, 1.25, 20.0, level=0.5)
    assert backing_delay(thin(take), thin(ours)) is None
    assert found(take, theirs).delay_s == pytest.approx(1.25, abs=0.0005)


def coded(sound: Sound, noise_db: float, frame: int = 1024) -> Sound:
    """As a lossy file has it: noise in each frame, so far under what covers it."""
    rng, half = np.random.default_rng(2), frame // 2
    window = np.sin(np.pi * np.arange(frame) / frame)
    padded = np.pad(sound, (half, frame))
    lossy = np.zeros(len(padded))
    for begin in range(0, len(padded) - frame, half):
        spectrum = np.fft.rfft(padded[begin : begin + frame] * window)
        covering = np.convolve(np.abs(spectrum) ** 2, np.ones(9) / 9, "same")
        noise = rng.normal(size=(2, len(spectrum)))
        spectrum += 10 ** (noise_db / 20) * np.sqrt(covering / 2) * (noise[0] + 1j * noise[1])
        lossy[begin : begin + frame] += np.fft.irfft(spectrum) * window
    return lossy[half : half + len(sound)]


@pytest.mark.slow
def test_another_file_of_the_same_sound_is_the_backing_and_another_band_is_not() -> None:
    """The whole sound in the take, a lossy file as its backing; the drums count for most."""
    ours, theirs = bands_of_equal_drums(bass_share=0.3)
    later, earlier = take_of(ours, 1.25, 16.0, level=3.0), take_of(ours, -4.2, 16.0, level=3.0)
    assert found(earlier, coded(ours, -6)).delay_s == pytest.approx(-4.2, abs=0.0005)
    assert backing_delay(thin(later), thin(coded(theirs, -6))) is None


@pytest.mark.slow
@pytest.mark.parametrize("shared_s", [0.2, 0.6, 1.0, 1.5])
def test_too_little_in_common_gives_no_wrong_place(shared_s: float) -> None:
    backing = band(LONG)
    delay = backing_delay(thin(take_of(backing, 12 - shared_s, 12.0)), thin(backing))
    assert delay is None or delay.delay_s == pytest.approx(12 - shared_s, abs=0.0005)


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("millionths", [-100, -30, 60, 100])
def test_the_clocks_of_two_devices_may_differ(millionths: int) -> None:
    backing = band(45.0)
    ratio = 1 + 1e-6 * millionths
    delay = found(at_clock(take_of(backing, 2.0, 40.0), ratio), backing)
    assert delay.delay_s == pytest.approx(2.0, abs=0.0007)
    assert delay.clock_ratio == pytest.approx(ratio, abs=1e-5)


@pytest.mark.slow
@pytest.mark.parametrize(("declared", "true"), [(44_100, 48_000), (32_000, 16_000)])
def test_a_wrong_rate_is_known_by_the_backing(declared: int, true: int) -> None:
    backing = band(LONG)
    take = thin(at_clock(take_of(backing, 0.5, 20.0), true / declared))
    assert backing_delay(take, thin(backing)) is None
    assert true_rate_ratio(take, thin(backing), declared) == pytest.approx(true / declared)


# --- one lag after the other -----------------------------------------------------------------


def noise(samples: int, seed: int) -> ThinSound:
    return ThinSound(np.random.default_rng(seed).normal(size=samples).astype(np.float16))


def laid(take: ThinSound, backing: ThinSound, lag: int) -> ThinSound:
    """The take with a tenth of the backing in it, late by so many thin samples."""
    return ThinSound(take.samples + np.float16(0.3) * backing.piece(-lag, len(take)))


@pytest.mark.parametrize("partner_s", [20.0, 200.0, 900.0])
def test_stretches_of_a_long_take_leave_no_room_for_its_partner(partner_s: float) -> None:
    """Wherever it lies, one of them has half a stretch of it, or half of what it has."""
    take, partner = noise(900 * THIN_RATE, 1), round(partner_s * THIN_RATE)
    parts = stretches(take, partner)
    least = min(STRETCH, partner) // 2
    for lag in range(least - partner, len(take) - least, STRETCH // 8):
        begin, end = max(0, lag), min(len(take), lag + partner)
        shared = [min(end, part.start + len(part.sound)) - max(begin, part.start) for part in parts]
        assert max(shared) >= least


def test_a_short_take_is_looked_for_as_a_whole() -> None:
    take = noise(BLOCK, 1)
    assert [stretch.sound for stretch in stretches(take, 10 * BLOCK)] == [take]


@pytest.mark.slow
def test_stretches_grow_no_faster_than_the_take() -> None:
    """An hour of both costs no more than twice half an hour of both."""
    hour, half = (len(stretches(noise(size, 1), size)) for size in (24 * BLOCK, 12 * BLOCK))
    assert hour == half


@pytest.mark.slow
@pytest.mark.parametrize("lag_s", [-230.0, 2.35, 140.0])
def test_a_long_backing_is_found_in_a_long_take(lag_s: float) -> None:
    backing, lag = noise(2 * BLOCK, 2), round(lag_s * THIN_RATE)
    delay = backing_delay(laid(noise(2 * BLOCK, 3), backing, lag), backing)
    assert delay is not None
    assert (delay.delay_s, delay.modulo_s) == (pytest.approx(lag_s, abs=0.0005), None)


def test_a_short_backing_is_found_in_a_long_take() -> None:
    backing, lag = noise(10 * THIN_RATE, 2), 200 * THIN_RATE
    delay = backing_delay(laid(noise(2 * BLOCK, 3), backing, lag), backing)
    assert delay is not None
    assert delay.delay_s == pytest.approx(200.0, abs=0.0005)


@pytest.mark.slow
def test_a_backing_of_another_clock_is_found_in_a_long_take() -> None:
    """Five minutes at sixty millionths: eighteen milliseconds by the end."""
    backing = noise(300 * THIN_RATE, 2)
    take = laid(noise(300 * THIN_RATE, 3), backing, THIN_RATE).at_rate(1 / (1 + 6e-5))
    delay = backing_delay(take, backing)
    assert delay is not None
    assert delay.delay_s == pytest.approx(1.0, abs=0.001)
    assert delay.clock_ratio == pytest.approx(1 + 6e-5, abs=1e-6)


@pytest.mark.slow
def test_long_takes_without_the_backing_have_no_delay() -> None:
    assert backing_delay(noise(2 * BLOCK, 3), noise(2 * BLOCK, 2)) is None


def test_another_rate_is_the_same_block_by_block() -> None:
    """Straight lines between samples, as numpy draws them over the whole."""
    sound, ratio = noise(BLOCK + 5_000, 4), 48_000 / 44_100
    places = np.arange(0, len(sound) - 1, ratio)
    expected = np.interp(places, np.arange(len(sound)), sound.samples.astype(float))
    assert np.abs(sound.at_rate(ratio).samples - expected).max() < 0.004


def test_thin_sound_keeps_low_frequencies_and_their_place() -> None:
    time = np.arange(RATE) / RATE
    low, high = (thin(np.sin(2 * np.pi * hertz * time)) for hertz in (500, 3000))
    expected = np.sin(2 * np.pi * 500 * np.arange(len(low)) / THIN_RATE)
    assert np.abs(low.samples[20:-20] - expected[20:-20]).max() < 0.02
    assert np.abs(high.samples[20:-20]).max() < 0.01
