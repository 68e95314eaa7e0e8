"""The band as sound: stems, loop, balance, line."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import numpy as np
import pyloudnorm
import pytest

from halfstep.backing import band_ending, count_in, make_backing
from halfstep.backing.styles import style_for
from halfstep.instruments import INSTRUMENTS
from halfstep.meter import Clock, Feel, Meter, clock_for
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.symbol import parse_symbol
from halfstep.render import mixdown, sampler
from halfstep.render.known_banks import find_bank
from halfstep.render.mixdown import (
    FRAME_RATE,
    BandSound,
    band_sound,
    folded,
    with_line,
)

ON_ONE = Fraction(0)


def chart_of(text: str, meter: Meter) -> Chart:
    bars = tuple(
        Bar(n, meter, meter.bar_beats, (ChordAt(parse_symbol(word), ON_ONE),), n)
        for n, word in enumerate(text.split(), 1)
    )
    return Chart("Thursday class", bars)


def band_of(chart: Chart, feel: Feel, tempo_bpm: float, choruses: int = 2) -> BandSound:
    return band_sound(
        make_backing(chart, style=style_for(feel)),
        count_in=count_in(chart.meter),
        clock=clock_for(chart.meter, tempo_bpm, swing=2 if feel is Feel.SWING else 1),
        count_in_beats=chart.meter.bar_beats,
        beats=chart.beats,
        choruses=choruses,
    )


BANDS = {
    "swing": lambda: band_of(chart_of("F7 Bb7 F7 Cm7 Bb7 Bdim7", Meter(4, 4)), Feel.SWING, 120),
    "straight": lambda: band_of(chart_of("Dm7 G7 Em7 A7", Meter(4, 4)), Feel.STRAIGHT, 97),
    "waltz": lambda: band_of(chart_of("Gmaj7 Em7 Am7 D13", Meter(3, 4)), Feel.SWING, 131),
    "six-eight": lambda: band_of(chart_of("Dm Am7/C Bbmaj7 A7", Meter(6, 8)), Feel.STRAIGHT, 60),
}


@lru_cache
def made_band(name: str) -> BandSound:
    """A band, made once."""
    return BANDS[name]()


@pytest.fixture(params=BANDS)
def band(request: pytest.FixtureRequest) -> BandSound:
    return made_band(request.param)


@pytest.fixture
def swing() -> BandSound:
    return made_band("swing")


def mix_of(band: BandSound) -> np.ndarray:
    """The whole file of the band."""
    return band.tiled(band.mix_once)


def part_sound(part: PlayedPart, clock: Clock, beats: int) -> np.ndarray:
    """One part from beat 0, with its tail, before it is balanced."""
    frames = mixdown.frames_at(clock, Fraction(beats))
    return mixdown._laid_out(part, part.notes, clock, find_bank(), first=0, frames=frames)


def lufs(samples: np.ndarray) -> float:
    """By pyloudnorm, an implementation of ITU-R BS.1770-4 that is not ours."""
    return pyloudnorm.Meter(FRAME_RATE).integrated_loudness(samples.astype(float) / 32768)


def peak_dbfs(samples: np.ndarray) -> float:
    return 20 * np.log10(np.abs(samples.astype(int)).max() / 32768)


def line_of(program: int, *notes: PlayedNote) -> PlayedPart:
    return PlayedPart("line", program, False, notes)


def note(onset: float, beats: float, midi: int) -> PlayedNote:
    return PlayedNote(Fraction(onset), Fraction(beats), midi, 90)


EIGHTHS = tuple(note(n / 2, 0.5, 60 + (0, 2, 4, 7, 9, 10, 7, 4)[n % 8]) for n in range(24))


def test_the_mix_is_exactly_the_sum_of_the_stems(band: BandSound) -> None:
    assert set(band.once) == {"drums", "bass", "chords"}
    summed = sum(band.tiled(once).astype(np.int64) for once in band.once.values())
    assert np.array_equal(summed, mix_of(band))


def test_no_file_comes_nearer_to_full_scale_than_one_decibel(band: BandSound) -> None:
    assert peak_dbfs(mix_of(band)) <= -1.0
    assert peak_dbfs(with_line(band, line_of(65, *EIGHTHS)).samples) <= -1.0


def test_the_file_is_a_count_in_and_the_choruses(band: BandSound) -> None:
    assert len(mix_of(band)) == band.count_in_frames + 2 * band.chorus_frames == band.loop[1]
    assert band.loop[0] == band.count_in_frames
    seconds = band.clock.seconds(band.beats)
    assert abs(band.chorus_frames - seconds * FRAME_RATE) <= 0.5


def test_a_bar_of_six_eight_at_sixty_lasts_two_seconds() -> None:
    """The dotted quarter is the pulse: two pulses of a second."""
    assert made_band("six-eight").count_in_frames == 2 * FRAME_RATE


def test_every_chorus_is_the_same_to_the_sample(band: BandSound) -> None:
    """So playing on and looping are one."""
    start, frames = band.count_in_frames, band.chorus_frames
    first, second = mix_of(band)[start : start + frames], mix_of(band)[start + frames :]
    assert np.array_equal(first, second)


def test_the_seam_is_no_bigger_a_step_than_the_music_makes(band: BandSound) -> None:
    start, end = band.loop
    music = np.abs(np.diff(mix_of(band)[start:end].astype(int), axis=0)).max()
    assert np.abs(mix_of(band)[end - 1].astype(int) - mix_of(band)[start]).max() <= music


def test_folding_adds_what_rings_past_the_end() -> None:
    sound = np.arange(14, dtype=np.float32).reshape(7, 2)
    assert folded(sound, 3)[:, 0].tolist() == [0 + 6 + 12, 2 + 8, 4 + 10]


def test_a_chorus_is_the_middle_of_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three choruses played as one long part hold the folded chorus in their middle.

    Every stroke is made as it is written: their small differences go by their number.
    """
    monkeypatch.setattr(sampler, "STROKE_DB", 0.0)
    monkeypatch.setattr(sampler, "STROKE_TIMBRE", 0.0)
    clock, beats = Clock(120.0), Fraction(4)
    once = line_of(4, note(0, 1, 60), note(3.5, 0.5, 67))
    later = [replace(m, onset=m.onset + n * beats) for n in (1, 2) for m in once.notes]
    thrice = line_of(4, *once.notes, *later)
    chorus = folded(part_sound(once, clock, 4), 2 * FRAME_RATE)
    long = part_sound(thrice, clock, 12)
    assert np.allclose(long[2 * FRAME_RATE : 4 * FRAME_RATE], chorus, atol=1e-6)


def test_the_band_comes_to_about_minus_eighteen_lufs(swing: BandSound) -> None:
    """The target is common practice, no source; the meter is pyloudnorm's."""
    chorus = slice(*swing.loop)
    assert lufs(mix_of(swing)[chorus]) == pytest.approx(-18, abs=1.5)
    levels = {name: lufs(swing.tiled(once)[chorus]) for name, once in swing.once.items()}
    assert levels["bass"] == pytest.approx(-21, abs=1)
    assert levels["drums"] == pytest.approx(-24, abs=1)
    assert levels["chords"] == pytest.approx(-25, abs=1)


def test_the_line_stands_in_front_of_the_band(swing: BandSound) -> None:
    """Every instrument alike, whatever its recording's level."""
    chorus = slice(*swing.loop)
    for program in (0, 65, 73):
        sound = with_line(swing, line_of(program, *EIGHTHS)).samples.astype(int)
        ratio = np.abs(sound).max() / 32768
        assert ratio > 0.3
        assert lufs(sound[chorus]) > lufs(mix_of(swing)[chorus]) + 1


def test_an_empty_line_leaves_the_band_alone(swing: BandSound) -> None:
    assert np.array_equal(with_line(swing, line_of(65)).samples, mix_of(swing))


def test_a_pickup_sounds_in_the_count_in_only(swing: BandSound) -> None:
    with_pickup = with_line(swing, line_of(65, note(-1, 1, 72), *EIGHTHS)).samples.astype(int)
    without = with_line(swing, line_of(65, *EIGHTHS)).samples
    beat = FRAME_RATE // 2
    changed = np.abs(with_pickup - without).max(axis=1) > 600
    start = swing.count_in_frames
    assert changed[start - beat : start].any()
    assert not changed[: start - beat].any()
    assert not changed[start:].any()


def test_the_count_in_is_heard_on_each_beat(swing: BandSound) -> None:
    beat = FRAME_RATE // 2
    drums = np.abs(swing.tiled(swing.once["drums"]).astype(int)).max(axis=1)
    clicks = [drums[n * beat : n * beat + 2000].max() for n in range(4)]
    rests = [drums[n * beat + 15000 : (n + 1) * beat - 1].max() for n in range(4)]
    assert min(clicks) > 0.1 * 32768
    assert max(rests) < 0.02 * 32768
    assert clicks[0] == max(clicks)


def test_notes_start_where_the_clock_says() -> None:
    """Swing of 2 puts the off-beat eighth at two thirds of the beat."""
    clock = Clock(120.0, 2.0)
    part = PlayedPart("drums", 0, True, (note(0.5, 0.25, 37), note(1, 0.25, 37)))
    sound = np.abs(part_sound(part, clock, 2)).max(axis=1)
    first = np.flatnonzero(sound > 0.01 * sound.max())[0]
    assert first == pytest.approx(2 / 3 * FRAME_RATE / 2, abs=100)


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda i: i.key)
def test_every_instrument_sounds_over_its_whole_range(instrument) -> None:
    widest = instrument.compasses[-1]
    for written in (widest.low, widest.high):
        midi = instrument.concert(written).midi
        sound = part_sound(line_of(instrument.program, note(0, 1, midi)), Clock(60.0), 1)
        assert np.abs(sound[: FRAME_RATE // 2]).max() > 0.01


def test_the_same_parts_give_the_same_samples(swing: BandSound) -> None:
    assert np.array_equal(mix_of(made_band.__wrapped__("swing")), mix_of(swing))


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
    assert np.abs(mix_of(sound)[: sound.count_in_frames].astype(int)).max() > 3000
    assert not mix_of(sound)[sound.count_in_frames :].any()


# By itself


def quiet(frames: int, level: float = 0.25) -> np.ndarray:
    return np.full((frames, 2), level, np.float32)


@pytest.mark.parametrize("frames", [1, 3, 7, 100])
@pytest.mark.parametrize("length", [0, 1, 50, 99, 100, 101, 350])
def test_folding_loses_no_sound(frames: int, length: int) -> None:
    """The sum of all frames stays what it was, and each lands at its place in the chorus."""
    sound = np.random.default_rng(length).normal(size=(length, 2)).astype(np.float32)
    chorus = folded(sound, frames) if length else np.zeros((frames, 2))
    assert chorus.shape == (frames, 2)
    assert np.allclose(chorus.sum(axis=0), sound.sum(axis=0), atol=1e-4)
    for place in range(0, frames, 13):
        assert np.allclose(chorus[place], sound[place::frames].sum(axis=0), atol=1e-4)


@pytest.mark.parametrize(
    ("highest", "scale"), [(0.0, 1.0), (0.1, 1.0), (0.89, 1.0), (1.0, 0.8911), (2.0, 0.4455)]
)
def test_the_band_is_turned_down_only_where_it_would_come_too_high(
    highest: float, scale: float
) -> None:
    """-1 dBFS is 0.8913 of full scale; a little less, since each stem is rounded by itself."""
    assert mixdown._headroom(quiet(10, highest)) == pytest.approx(scale, abs=1e-3)


def test_whole_numbers_are_the_nearest_and_full_scale_is_32767() -> None:
    sound = np.array([[1.0, -1.0], [0.5, 0.00002], [0.0, -0.00001]], np.float32)
    samples = mixdown._integers(sound, 1.0)
    assert samples.dtype == np.int16
    assert samples.tolist() == [[32767, -32767], [16384, 1], [0, 0]]
    assert mixdown._integers(sound, 0.5)[0].tolist() == [16384, -16384]


def test_a_count_in_is_cut_at_the_bar_line_and_fades_there() -> None:
    """Over 30 ms, to nothing; what is short is filled up with silence."""
    cut = mixdown._faded(quiet(100_000), 44_100)
    fade = round(0.03 * FRAME_RATE)
    assert len(cut) == 44_100
    assert cut[-1].tolist() == [0, 0]
    assert np.all(cut[: 44_100 - fade] == 0.25)
    assert np.all(np.diff(cut[-fade:, 0]) < 0)
    short = mixdown._faded(quiet(100), 44_100)
    assert np.all(short[100:] == 0)
    assert np.all(short[:100] == 0.25)


def test_a_part_is_brought_to_its_loudness_but_not_blown_up() -> None:
    """Silence stays silence; what is nearly silent is made 30 times as loud at most."""
    noise = np.random.default_rng(1).normal(size=(3 * FRAME_RATE, 2)).astype(np.float32) * 0.1
    gain = mixdown._gain_to(noise, -21.0)
    assert lufs(noise * gain * 32768) == pytest.approx(-21, abs=0.3)
    assert mixdown._gain_to(noise * 1e-2, -21.0) == 30.0
    assert mixdown._gain_to(quiet(FRAME_RATE, 0.0), -21.0) == 1.0


def test_clicks_are_no_higher_than_six_decibels_under_full_scale() -> None:
    click = np.zeros((2 * FRAME_RATE, 2), np.float32)
    click[:200] = 0.9
    assert mixdown._click_gain(click) * 0.9 <= 10 ** (-6 / 20) + 1e-6
    assert mixdown._click_gain(quiet(10, 0.0)) == 1.0


@pytest.mark.parametrize(
    ("beat", "swing", "frame"),
    [("0", 1.0, 0), ("1", 1.0, 22_050), ("1/2", 1.0, 11_025), ("1/2", 2.0, 14_700),
     ("-1", 1.0, -22_050), ("1/3", 1.0, 7_350), ("3/2", 2.0, 36_750)],
)  # fmt: skip
def test_a_beat_has_its_frame(beat: str, swing: float, frame: int) -> None:
    """120 beats a minute: half a second, 22 050 frames."""
    assert mixdown.frames_at(Clock(120.0, swing), Fraction(beat)) == frame


@pytest.mark.parametrize("choruses", [1, 2, 5])
def test_a_longer_file_repeats_the_chorus_and_not_the_count_in(
    swing: BandSound, choruses: int
) -> None:
    longer = swing.with_choruses(choruses)
    assert len(mix_of(longer)) == longer.loop[1]
    start, frames = swing.count_in_frames, swing.chorus_frames
    for n in range(choruses):
        chorus = mix_of(longer)[start + n * frames :][:frames]
        assert np.array_equal(chorus, mix_of(swing)[start : start + frames])
    assert np.array_equal(mix_of(longer)[:start], mix_of(swing)[:start])


def test_a_line_that_the_bank_has_not_is_played_by_its_family_with_a_notice(
    swing: BandSound, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mixdown, "_notice", lambda *_: "another one sounds in its place")
    assert with_line(swing, line_of(65)).notices == ("another one sounds in its place",)


def test_a_line_has_the_loop_of_its_band(swing: BandSound) -> None:
    sound = with_line(swing, line_of(65, *EIGHTHS))
    assert sound.loop == swing.loop
    assert len(sound.samples) == len(mix_of(swing))
    assert sound.notices == ()


# An ending


def ended_band(choruses: int = 2) -> BandSound:
    """A band in which everyone plays a bar behind the chorus."""
    chart = chart_of("F7 Bb7 F7 C7", Meter(4, 4))
    band = make_backing(chart, style=style_for(Feel.STRAIGHT))
    last = Bar(5, Meter(4, 4), Fraction(4), (ChordAt(parse_symbol("F7"), ON_ONE),), 5)
    ending = band_ending(band, last, chart.beats)
    return band_sound(
        [ending.after(part) for part in band],
        count_in=count_in(chart.meter),
        clock=Clock(120.0),
        count_in_beats=Fraction(4),
        beats=chart.beats,
        ending_beats=ending.beats,
        choruses=choruses,
    )


@pytest.fixture(scope="module")
def ended() -> BandSound:
    return ended_band()


def test_an_ending_sounds_once_behind_the_last_chorus_and_out_of_the_loop(ended: BandSound) -> None:
    """Its bar of two seconds, and a second and a half in which it rings out to nothing."""
    assert ended.ending_frames == 2 * FRAME_RATE + 1.5 * FRAME_RATE
    start, end = ended.loop
    assert end == start + 2 * ended.chorus_frames
    mix = mix_of(ended)
    assert len(mix) == end + ended.ending_frames
    first, second = np.split(mix[start:end], 2)
    assert np.array_equal(first, second)
    assert np.abs(mix[end : end + 4000].astype(int)).max() > 3000
    assert not mix[-1].any()
    summed = sum(ended.tiled(once).astype(np.int64) for once in ended.once.values())
    assert np.array_equal(summed, mix)


def test_a_band_without_its_ending_stops_with_its_chorus(ended: BandSound) -> None:
    plain = ended.without_ending()
    assert (plain.ending_frames, plain.loop) == (0, ended.loop)
    assert np.array_equal(mix_of(plain), mix_of(ended)[: ended.loop[1]])


def test_an_ending_leaves_the_chorus_as_it_was(ended: BandSound) -> None:
    """Each part has the loudness of its chorus, whatever it plays behind it."""
    chart = chart_of("F7 Bb7 F7 C7", Meter(4, 4))
    plain = band_of(chart, Feel.STRAIGHT, 120)
    assert set(plain.once) == set(ended.once)
    for name, once in plain.once.items():
        assert np.abs(once.astype(int) - ended.without_ending().once[name]).max() <= 1


def test_what_rings_on_from_the_chorus_is_heard_in_the_ending(ended: BandSound) -> None:
    """A long note struck late goes on behind the last chorus as it does into the next one."""
    late = with_line(ended, line_of(4, note(15.5, 0.5, 60))).samples.astype(int)
    silent = with_line(ended, line_of(4)).samples
    end = ended.loop[1]
    assert np.abs(late[end:] - silent[end:]).max() > 200


def test_a_line_is_held_in_the_ending_and_nowhere_else(ended: BandSound) -> None:
    held = with_line(ended, line_of(65, *EIGHTHS, note(16, 4, 65))).samples.astype(int)
    without = with_line(ended, line_of(65, *EIGHTHS)).samples
    apart = np.abs(held - without).max(axis=1)
    end = ended.loop[1]
    assert apart[:end].max() <= 1
    assert apart[end + 2000 : end + round(1.9 * FRAME_RATE)].max() > 3000
