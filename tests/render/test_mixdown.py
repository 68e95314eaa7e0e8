"""The band as sound: stems, loop, balance, line.

References: loudness by pyloudnorm; peaks at four times the rate by scipy's polyphase resampler.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.signal import butter, resample_poly, sosfiltfilt

from halfstep.backing import band_intro, count_in, make_backing, style_for
from halfstep.meter import Clock, Feel, Meter, clock_for
from halfstep.render import mixdown
from halfstep.render.mixdown import PACKET, BandSound, band_sound, with_line
from halfstep.render.passage import RING_S
from halfstep.render.sampler import FRAME_RATE
from render.bands import (
    BANDS,
    COMMON,
    band_of,
    chart_of,
    file_of,
    line_of,
    lufs,
    made_band,
    note,
)

EIGHTHS = tuple(note(n / 2, 0.5, 60 + (0, 2, 4, 7, 9, 10, 7, 4)[n % 8]) for n in range(24))
ALTO = 65


@pytest.fixture(params=BANDS)
def band(request: pytest.FixtureRequest) -> BandSound:
    return made_band(request.param)


@pytest.fixture
def swing() -> BandSound:
    return made_band("swing")


def true_peak_dbtp(samples: np.ndarray) -> float:
    return float(20 * np.log10(np.abs(resample_poly(samples / 32768, 4, 1, axis=0)).max()))


def correlation(samples: np.ndarray) -> float:
    return float(np.corrcoef(samples[:, 0], samples[:, 1])[0, 1])


# Level


@pytest.mark.slow
def test_the_mix_is_exactly_the_sum_of_the_stems(band: BandSound) -> None:
    assert set(band.once) == {"drums", "bass", "chords"}
    summed = sum(band.tiled(once).astype(np.int64) for once in band.once.values())
    assert np.array_equal(summed, file_of(band))


@pytest.mark.slow
@pytest.mark.sampled
def test_every_file_is_as_loud_as_every_other(band: BandSound) -> None:
    """-20 LUFS, half a unit either way; with a line over it, too."""
    assert lufs(file_of(band)) == pytest.approx(-20, abs=0.5)
    assert lufs(with_line(band, line_of(ALTO, *EIGHTHS[:8])).samples) == pytest.approx(-20, abs=0.5)


@pytest.mark.slow
def test_nothing_rises_over_its_ceiling_between_the_samples(band: BandSound) -> None:
    assert true_peak_dbtp(file_of(band)) <= -2.9
    assert true_peak_dbtp(with_line(band, line_of(ALTO, *EIGHTHS[:8])).samples) <= -2.9


@pytest.mark.slow
def test_a_slow_band_is_lowered_around_its_strokes_and_not_clipped() -> None:
    """At 40 a stroke stands high over the rest. No two samples in a row are at the top."""
    sound = np.abs(file_of(made_band("slow")).astype(int))
    assert sound.max() > 0.5 * 32768
    top = (sound == sound.max()).any(axis=1)
    assert not (top[1:] & top[:-1]).any()


@pytest.mark.sampled
def test_left_and_right_agree_but_not_wholly(band: BandSound) -> None:
    body = slice(*band.loop)
    assert 0.6 < correlation(file_of(band)[body]) < 0.95
    line = line_of(ALTO, *EIGHTHS[: int(2 * band.plan.beats)])
    assert 0.6 < correlation(with_line(band, line).samples[band.loop[0] :]) < 0.95


@pytest.mark.sampled
def test_the_lows_are_in_the_middle(band: BandSound) -> None:
    """Below 120 Hz left and right are one."""
    lows = butter(4, 110, "low", fs=FRAME_RATE, output="sos")
    assert correlation(sosfiltfilt(lows, file_of(band).astype(float), axis=0)) > 0.99


def test_no_sound_stands_off_the_zero_line(band: BandSound) -> None:
    mean = np.abs(file_of(band).mean(axis=0)).max() / 32768
    assert mean < 10 ** (-70 / 20)


@pytest.mark.slow
def test_parts_are_balanced_by_loudness(swing: BandSound) -> None:
    """The targets are common practice, no source; the meter is pyloudnorm's."""
    body = slice(*swing.loop)
    levels = {name: lufs(swing.tiled(once)[body]) for name, once in swing.once.items()}
    assert levels["bass"] - levels["drums"] == pytest.approx(3, abs=1.5)
    assert levels["bass"] - levels["chords"] == pytest.approx(4, abs=1.5)


@pytest.mark.slow
@pytest.mark.parametrize("program", [0, ALTO, 73])
def test_the_line_stands_in_front_of_the_band(swing: BandSound, program: int) -> None:
    """Every instrument alike, whatever its recording's level."""
    sound = with_line(swing, line_of(program, *EIGHTHS), alone=True)
    assert sound.alone is not None
    body = slice(*sound.loop)
    assert lufs(sound.alone[body]) > lufs(file_of(swing)[slice(*swing.loop)]) - 1.5


@pytest.mark.slow
def test_the_line_alone_and_the_band_are_the_mix_but_for_its_level(swing: BandSound) -> None:
    """So that who has the stems may turn each of them."""
    empty = with_line(swing, line_of(ALTO)).samples.astype(float)
    sound = with_line(swing, line_of(ALTO, *EIGHTHS), alone=True)
    assert sound.alone is not None
    sources = np.stack([empty.ravel(), sound.alone.ravel().astype(float)], axis=1)
    gains, left, *_ = np.linalg.lstsq(sources, sound.samples.ravel().astype(float), rcond=None)
    assert left[0] / np.square(sound.samples.astype(float)).sum() < 1e-3
    assert (gains < 1).all()


def test_whole_numbers_are_the_nearest_and_full_scale_is_32767() -> None:
    sound = np.array([[0.75, 0.25], [0.25, -0.25]], np.float32)
    samples = mixdown.integers(sound, np.ones(1, np.float32))
    assert samples.dtype == np.int16
    assert samples.tolist() == [[32767, 16384], [0, 16384]]


def test_a_part_is_brought_to_its_loudness_but_not_blown_up() -> None:
    """Silence stays silence; what is nearly silent is made 30 times as loud at most."""
    noise = np.random.default_rng(1).normal(size=(2, 3 * FRAME_RATE)).astype(np.float32) * 0.1
    gain = mixdown._gain_to(noise, -21.0)
    sides = np.stack([noise[0] + noise[1], noise[0] - noise[1]], axis=1)
    assert lufs(sides * gain * 32768) == pytest.approx(-21, abs=0.1)
    assert mixdown._gain_to(noise * 1e-2, -21.0) == 30.0
    assert mixdown._gain_to(noise * 0, -21.0) == 1.0


def test_clicks_are_no_higher_than_six_decibels_under_full_scale() -> None:
    click = np.zeros((2, 2 * FRAME_RATE), np.float32)
    click[0, :200] = 0.9
    assert np.abs(mixdown.clicks_at_level(click)).max() <= 10 ** (-6 / 20) + 1e-6
    assert not mixdown.clicks_at_level(click * 0).any()


# Time


def test_the_file_is_a_count_in_the_choruses_and_what_rings_on(band: BandSound) -> None:
    """In whole packets of an encoder, so that every format gives as many frames back."""
    plan = band.plan
    file, blocks = file_of(band), plan.choruses // plan.block
    assert band.loop == (plan.count_in_frames, plan.count_in_frames + blocks * plan.block_frames)
    rest = plan.starts[plan.choruses % plan.block]
    length = band.loop[1] + rest + plan.after_frames
    assert length <= len(file) < length + PACKET
    assert len(file) % PACKET == 0
    for chorus, start in enumerate(plan.starts):
        assert abs(start - plan.clock.seconds(plan.beats * chorus) * FRAME_RATE) <= 0.5


@pytest.mark.slow
def test_a_bar_of_six_eight_at_sixty_lasts_two_seconds() -> None:
    """The dotted quarter is the pulse: two pulses of a second."""
    assert made_band("six-eight").count_in_frames == 2 * FRAME_RATE


def test_a_file_begins_gently_and_ends_in_silence(band: BandSound) -> None:
    file = np.abs(file_of(band).astype(int))
    assert not file[0].any()
    assert file[:40].max() < 0.35 * file[: FRAME_RATE // 4].max()
    assert not file[-1].any()
    assert file[-FRAME_RATE // 5 :].max() < 0.05 * file.max()


def test_every_block_is_the_same_to_the_sample(band: BandSound) -> None:
    """So playing on and looping are one."""
    start, frames = band.loop[0], band.plan.block_frames
    first, second = (file_of(band)[start + n * frames :][: band.plan.starts[1]] for n in (0, 1))
    assert np.array_equal(first, second)


@pytest.mark.parametrize("stretch", ["loop", "end"])
def test_joints_are_no_bigger_steps_than_the_music_makes(band: BandSound, stretch: str) -> None:
    """Where the block goes round, and where the file goes on behind its last chorus."""
    file = file_of(band).astype(int)
    music = np.abs(np.diff(file[slice(*band.loop)], axis=0)).max()
    rest = band.plan.starts[band.plan.choruses % band.plan.block]
    other = file[band.loop[0]] if stretch == "loop" else file[band.loop[1] + rest]
    last = band.loop[1] - 1 if stretch == "loop" else band.loop[1] + rest - 1
    assert np.abs(file[last] - other).max() <= music


@pytest.mark.slow
def test_choruses_of_a_block_differ_and_the_block_comes_again() -> None:
    """Six choruses, a block of four: the fifth is the first again, and the sixth ends the file."""
    band = made_band("block")
    starts, file = band.plan.starts, file_of(band)
    frames = min(np.diff(starts))
    first, second = (file[band.loop[0] + starts[n] :][:frames] for n in (0, 1))
    assert not np.array_equal(first, second)
    assert np.array_equal(file[band.loop[1] :][: starts[2]], file[band.loop[0] :][: starts[2]])
    assert len(file) - band.loop[1] - starts[2] - band.plan.after_frames < PACKET


@pytest.mark.slow
def test_a_file_that_ends_within_a_block_has_its_own_tail() -> None:
    """What rings behind the sixth chorus is that of the second; the ending is the same chord."""
    six, four = (
        band_of("Dm7 G7", Feel.SWING, 150, block=4, choruses=count, ends_on="C6")
        for count in (6, 4)
    )
    assert six.plan.after_frames == pytest.approx(four.plan.after_frames, abs=1)
    assert np.array_equal(six.once["bass"][: six.loop[0]], four.once["bass"][: six.loop[0]])
    behind = [
        band.once["chords"][band.count_in_frames + band.plan.block_frames :][2000:40_000]
        for band in (six, four)
    ]
    assert correlation(np.stack([sound[:, 0] for sound in behind], axis=1)) > 0.8


def test_the_count_in_is_heard_on_each_beat(swing: BandSound) -> None:
    beat = FRAME_RATE // 2
    drums = np.abs(swing.once["drums"].astype(int)).max(axis=1)
    clicks = [drums[n * beat : n * beat + 2000].max() for n in range(4)]
    rests = [drums[n * beat + 15000 : (n + 1) * beat - 1].max() for n in range(4)]
    assert min(clicks) > 0.1 * 32768
    assert max(rests) < 0.02 * 32768
    assert clicks[0] == max(clicks)


@pytest.mark.slow
def test_the_same_parts_give_the_same_samples(swing: BandSound) -> None:
    assert np.array_equal(file_of(made_band.__wrapped__("swing")), file_of(swing))


@pytest.mark.slow
def test_without_stems_the_mix_is_the_same(swing: BandSound, monkeypatch) -> None:
    monkeypatch.setattr(mixdown, "_stems", lambda *_: {})
    assert np.array_equal(BANDS["swing"]().mix_once, swing.mix_once)


def test_a_band_of_nobody_still_counts_in(swing: BandSound) -> None:
    """With the bank that is named, here the one found before."""
    sound = band_sound(
        (),
        count_in=count_in(Meter()),
        clock=Clock(120.0),
        count_in_beats=Fraction(4),
        beats=Fraction(4),
        bank=swing.bank,
    )
    assert sound.bank == swing.bank
    file = np.abs(file_of(sound).astype(int))
    assert file[: sound.count_in_frames].max() > 3000
    assert file[sound.count_in_frames :].max() <= 1


# A line


@pytest.mark.slow
def test_a_pickup_sounds_in_the_count_in_only(swing: BandSound) -> None:
    plain = with_line(swing, line_of(ALTO, *EIGHTHS), alone=True).alone
    pickup = with_line(swing, line_of(ALTO, note(-1, 1, 72), *EIGHTHS), alone=True).alone
    assert plain is not None
    assert pickup is not None
    beat, start = FRAME_RATE // 2, swing.count_in_frames
    changed = np.abs(pickup.astype(int) - plain).max(axis=1) > 300
    assert changed[start - beat : start].any()
    early = FRAME_RATE // 50  # so much before it is heard a reed is set going
    assert not changed[: start - beat - early].any()
    assert not changed[start:].any()


def test_a_line_that_the_bank_has_not_is_played_by_its_family_with_a_notice(
    swing: BandSound, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mixdown, "_notices", lambda *_: ("another one sounds in its place",))
    assert with_line(swing, line_of(ALTO)).notices == ("another one sounds in its place",)


def test_a_line_goes_once_through_the_form(swing: BandSound) -> None:
    sound = with_line(swing, line_of(ALTO, *EIGHTHS))
    assert sound.loop == (swing.count_in_frames, swing.count_in_frames + swing.plan.starts[1])
    length = sound.loop[1] + round(RING_S * FRAME_RATE)
    assert length <= len(sound.samples) < length + PACKET
    assert (sound.notices, sound.alone) == ((), None)


# An ending


@pytest.fixture(scope="module")
def ended() -> BandSound:
    """A band in which everyone plays a bar behind the chorus."""
    return band_of("F7 Bb7 F7 C7", Feel.STRAIGHT, 120, ends_on="F7")


@pytest.mark.slow
def test_an_ending_sounds_once_behind_the_last_chorus_and_out_of_the_loop(ended: BandSound) -> None:
    """Its bar of two seconds, and a second and a half in which it rings out to nothing."""
    assert ended.plan.after_frames == 2 * FRAME_RATE + 1.5 * FRAME_RATE
    file, end = file_of(ended), ended.loop[1]
    assert np.abs(file[end : end + 4000].astype(int)).max() > 3000
    summed = sum(ended.tiled(once).astype(np.int64) for once in ended.once.values())
    assert np.array_equal(summed, file)


@pytest.mark.slow
def test_an_ending_leaves_the_chorus_as_it_was(ended: BandSound) -> None:
    """Each part has the balance of its chorus, whatever it plays behind it."""
    plain = band_of("F7 Bb7 F7 C7", Feel.STRAIGHT, 120)
    body = slice(*plain.loop)
    for name in plain.once:
        one, two = (band.tiled(band.once[name])[body].ravel() for band in (plain, ended))
        ratio = np.dot(one.astype(float), two) / np.dot(one.astype(float), one)
        assert ratio == pytest.approx(ended.gain / plain.gain, abs=0.01)


@pytest.mark.slow
def test_a_step_without_an_ending_rings_out_behind_its_chorus(ended: BandSound) -> None:
    with_one, without = (
        with_line(ended, line_of(ALTO, *EIGHTHS[:16]), ending=ending) for ending in (True, False)
    )
    assert len(without.samples) == pytest.approx(len(with_one.samples) - 2 * FRAME_RATE, abs=PACKET)
    assert with_one.loop == without.loop


def test_what_rings_on_from_the_chorus_is_heard_in_the_ending(ended: BandSound) -> None:
    """A long note struck late goes on behind the last chorus as it does into the next one."""
    late = with_line(ended, line_of(4, note(15.5, 0.5, 60)), ending=True, alone=True)
    assert late.alone is not None
    assert np.abs(late.alone[late.loop[1] :]).max() > 200


@pytest.mark.slow
def test_a_line_is_held_in_the_ending_and_nowhere_else(ended: BandSound) -> None:
    line = line_of(ALTO, *EIGHTHS[:16])
    held = with_line(
        ended, line_of(ALTO, *line.notes, note(16, 4, 65)), ending=True, alone=True
    ).alone
    plain = with_line(ended, line, ending=True, alone=True).alone
    assert held is not None
    assert plain is not None
    apart = np.abs(held.astype(int) - plain).max(axis=1)
    end = ended.count_in_frames + ended.plan.starts[1]
    assert apart[:end].max() <= 1
    assert apart[end + 2000 : end + round(1.9 * FRAME_RATE)].max() > 2000


@pytest.mark.slow
def test_an_intro_sounds_between_the_count_and_the_first_chorus() -> None:
    """And the choruses are what they are without it, but for how loud the whole is."""
    chart = chart_of("F7 Bb7", COMMON)
    parts = make_backing(chart, style=style_for(Feel.SWING))
    intro = band_intro(chart, style=style_for(Feel.SWING), bars=2)
    band = band_sound(
        parts,
        count_in=count_in(COMMON, end=-intro.beats),
        clock=clock_for(COMMON, 200),
        count_in_beats=COMMON.bar_beats + intro.beats,
        beats=chart.beats,
        intro=intro.parts,
    )
    beat = round(0.3 * FRAME_RATE)
    assert band.count_in_frames == 12 * beat
    for name in ("bass", "chords"):
        before = np.abs(band.once[name][: 12 * beat].astype(int)).max(axis=1)
        assert before[: 4 * beat - 100].max() < 50 < 500 < before[4 * beat :].max()
