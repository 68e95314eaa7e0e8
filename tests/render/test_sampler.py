"""One note as sound: pitch, length, loudness, loop and filter against what they must be.

Three kinds of truth: by construction (a bank of one sine, made by hand), analytic (the
envelope's formula, the gain of a two-pole low-pass), and the packaged bank in tune by
ISO 16 (A is 440 Hz). Source: SoundFont Technical Specification 2.04 (from memory).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from made_banks import (
    LOOPED,
    RATE,
    MadeBank,
    Preset,
    Recording,
    Zone,
    bank_of,
    looped_sine,
    sine,
    span,
)

from halfstep.played import Bend, Slur
from halfstep.render import sampler as module
from halfstep.render.known_banks import SHIPPED_BANK
from halfstep.render.sampler import (
    FRAME_RATE,
    JOINT_S,
    RING_S,
    SampledNote,
    Sampler,
    zone_error_cents,
)
from halfstep.render.soundbank import opened_bank, read_bank


@pytest.fixture(scope="module")
def packaged() -> Sampler:
    """The program's own bank."""
    return Sampler(opened_bank(SHIPPED_BANK))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("banks")


def sampler_of(folder: Path, made: MadeBank) -> Sampler:
    path = folder / f"made{len(list(folder.iterdir()))}.sf2"  # mapped into memory: write once
    path.write_bytes(made.bytes())
    return Sampler(read_bank(path))


@pytest.fixture(scope="module")
def plain(folder: Path) -> Sampler:
    """A looped sine of 440 Hz at half of full scale, without envelope, in the middle."""
    return sampler_of(folder, bank_of())


def note(
    sampler: Sampler,
    key: int = 69,
    *,
    velocity: int = 127,
    length_s: float = 0.5,
    rings: bool = False,
) -> np.ndarray:
    return sampler.note(0, key, velocity, length_s, rings=rings)


def strongest_hz(sound: np.ndarray, near_hz: float) -> float:
    """The strongest frequency within a quarter tone or so of ``near_hz``."""
    steady = sound[len(sound) // 9 :, 0]
    size = 1 << 21
    spectrum = np.abs(np.fft.rfft(steady * np.hanning(len(steady)), size))
    hz = np.fft.rfftfreq(size, 1 / FRAME_RATE)
    spectrum[(hz < near_hz * 0.97) | (hz > near_hz * 1.03)] = 0
    return float(hz[spectrum.argmax()])


def cents_off(sound: np.ndarray, expected_hz: float) -> float:
    return float(1200 * np.log2(strongest_hz(sound, expected_hz) / expected_hz))


def hz_of(key: int) -> float:
    """ISO 16: A4, key 69, is 440 Hz."""
    return 440.0 * 2 ** ((key - 69) / 12)


def level_db(sound: np.ndarray, at_s: float, *, over_s: float = 0.02) -> float:
    """The level around a moment, in decibels."""
    first = round(at_s * RATE)
    piece = sound[first : first + round(over_s * RATE), 0]
    return float(20 * np.log10(np.sqrt(np.mean(piece**2)) + 1e-12))


# Pitch


@pytest.mark.sampled
@pytest.mark.parametrize("key", [45, 57, 62, 69, 76, 81, 93])
def test_a_key_sounds_at_its_frequency(plain: Sampler, key: int) -> None:
    assert abs(cents_off(note(plain, key, length_s=1.0), hz_of(key))) < 0.5


@pytest.mark.parametrize(
    ("zone", "key", "hz"),
    [
        ({"fine_tune": 25}, 69, 440 * 2 ** (25 / 1200)),
        ({"coarse_tune": -12}, 69, 220.0),
        ({"root": 57}, 69, 880.0),
        ({"scale": 50}, 81, 440 * 2**0.5),
        ({"scale": 0}, 40, 440.0),
    ],
)
def test_tuning_moves_the_pitch(
    folder: Path, monkeypatch: pytest.MonkeyPatch, zone: Zone, key: int, hz: float
) -> None:
    """Here the bank's word is believed, whatever its recording sounds at."""
    monkeypatch.setattr(module, "zone_error_cents", lambda *_: 0.0)
    sampler = sampler_of(folder, bank_of({**zone, **LOOPED}))
    assert abs(cents_off(note(sampler, key, length_s=1.0), hz)) < 0.5


@pytest.mark.sampled
@pytest.mark.parametrize("off_cents", [-30, -8, 5, 20, 35])
def test_a_loop_that_is_a_little_off_is_put_in_tune(folder: Path, off_cents: int) -> None:
    """The bank states a pitch that the recording has not: its fault is measured and undone."""
    sampler = sampler_of(folder, bank_of(recording=looped_sine(correction=off_cents)))
    assert abs(cents_off(note(sampler, length_s=1.0), 440.0)) < 1.0


def test_a_loop_that_is_another_note_is_left_as_it_is(folder: Path) -> None:
    """A drum or a bell need not sound at its key: beyond 45 cents nothing is corrected."""
    sampler = sampler_of(folder, bank_of(recording=looped_sine(correction=60)))
    assert abs(cents_off(note(sampler, length_s=1.0), 440.0 * 2 ** (60 / 1200))) < 1.5


def test_noise_has_no_pitch_to_correct(folder: Path) -> None:
    noise = np.random.default_rng(3).integers(-9000, 9000, 8820).astype("<i2")
    sampler = sampler_of(folder, bank_of(recording=Recording(noise, loop=(2205, 6615))))
    (zone,) = sampler.bank.zones(0)
    assert zone_error_cents(sampler.bank, zone) == 0.0


# Loop


def test_a_loop_goes_on_without_a_seam(plain: Sampler) -> None:
    """A sine moves by no more than its steepest step anywhere in two seconds but its onset."""
    sound = note(plain, length_s=2.0)[200 : 2 * RATE - 600, 0]
    steepest = 2 * np.pi * 440 / RATE * np.abs(sound).max()
    assert np.abs(np.diff(sound)).max() <= 1.01 * steepest


def test_a_loop_that_jumps_is_joined(folder: Path) -> None:
    """44.4 periods: its end is blended into what stands before its beginning."""
    jumping = Recording(sine(), loop=(22_050, 22_050 + 4450))
    sound = note(sampler_of(folder, bank_of(recording=jumping)), length_s=2.0)[200:-2000, 0]
    steepest = 2 * np.pi * 440 / RATE * np.abs(sound).max()
    assert np.abs(np.diff(sound)).max() <= 1.1 * steepest


def test_a_loop_beside_zero_is_put_there(folder: Path) -> None:
    beside = Recording(sine(level=0.3) + 3000, loop=(22_050, 26_460))
    sound = note(sampler_of(folder, bank_of(recording=beside)), length_s=2.0)[2000:-2000, 0]
    assert abs(sound[:-100].mean()) < 1e-3 * np.abs(sound).max()  # 3000 steps are 0.09


def test_a_loop_is_the_sine_that_it_was_made_of(plain: Sampler) -> None:
    """By construction: the error of 16 bits and of a cubic through four samples."""
    sound = note(plain, length_s=1.0)[:RATE, 0]
    made = 0.5 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    attack = round(0.01 * RATE)
    assert np.abs(sound[attack:] - made[attack:]).max() < 2e-3


def test_a_recording_without_a_loop_ends_where_it_ends(folder: Path) -> None:
    zone: Zone = {"release": 12000, "sample": 0}
    sampler = sampler_of(folder, bank_of(zone, Recording(sine(length_s=0.3))))
    sound = note(sampler, length_s=1.0)
    assert len(sound) == pytest.approx(0.3 * RATE, abs=3)
    assert len(note(sampler, 81, length_s=1.0)) == pytest.approx(0.15 * RATE, abs=3)


def test_a_recording_of_another_rate_sounds_at_its_pitch(folder: Path) -> None:
    samples = sine(880.0, 0.2)
    recording = Recording(samples, rate=RATE // 2, loop=(0, 4410))
    sampler = sampler_of(folder, bank_of(recording=recording))
    assert abs(cents_off(note(sampler, length_s=1.0), 440.0)) < 1


# Loudness


@pytest.mark.parametrize("velocity", [1, 32, 64, 100, 127])
def test_gain_is_the_square_of_velocity(plain: Sampler, velocity: int) -> None:
    """Section 8.4: 40 log10 of 127 over velocity decibels of attenuation."""
    soft, loud = level_db(note(plain, velocity=velocity), 0.3), level_db(note(plain), 0.3)
    assert soft - loud == pytest.approx(40 * np.log10(velocity / 127), abs=0.02)


@pytest.mark.parametrize(("amount", "decibels"), [(0, 0.0), (50, 2.0), (250, 10.0)])
def test_attenuation_is_in_decibels(
    folder: Path, plain: Sampler, amount: int, decibels: float
) -> None:
    """Centibels, scaled by 0.4 (from memory)."""
    softer = sampler_of(folder, bank_of({"attenuation": amount, **LOOPED}))
    loss = level_db(note(plain), 0.2) - level_db(note(softer), 0.2)
    assert loss == pytest.approx(decibels, abs=0.05)


@pytest.mark.parametrize(
    ("pan", "left", "right"), [(0, 1.0, 1.0), (-500, 1.345, 0.437), (500, 0.437, 1.345)]
)
def test_panning_keeps_the_power_and_is_not_quite_hard(
    folder: Path, pan: int, left: float, right: float
) -> None:
    """0.6 of the way: √2·cos and √2·sin of 0.4 · 45° and 1.6 · 45°."""
    sound = note(sampler_of(folder, bank_of({"pan": pan, **LOOPED})))
    middle = note(sampler_of(folder, bank_of()))
    gains = np.abs(sound).max(axis=0) / np.abs(middle).max(axis=0)
    assert gains == pytest.approx([left, right], abs=2e-3)
    assert (gains**2).sum() == pytest.approx(2, abs=1e-3)


# The volume envelope


def test_an_attack_is_a_straight_line(folder: Path) -> None:
    """Half a second: a quarter of the level after an eighth of a second."""
    sound = note(sampler_of(folder, bank_of({"attack": -1200, **LOOPED})), length_s=1.0)
    full = level_db(sound, 0.7)
    for at_s, share in ((0.125, 0.25), (0.25, 0.5), (0.375, 0.75)):
        expected = full + 20 * np.log10(share)
        assert level_db(sound, at_s - 0.01) == pytest.approx(expected, abs=0.2)


def test_a_delay_is_silence(folder: Path) -> None:
    sound = note(sampler_of(folder, bank_of({"delay": -2400, **LOOPED})), length_s=1.0)
    assert np.abs(sound[: round(0.24 * RATE)]).max() < 1e-3
    assert np.abs(sound[round(0.26 * RATE) : round(0.27 * RATE)]).max() > 0.4


def test_a_decay_falls_by_decibels_to_its_sustain(folder: Path) -> None:
    """100 dB in 2 s are 5 dB in a tenth of a second; then 12 dB under the top for good."""
    zone: Zone = {"hold": -2400, "decay": 1200, "sustain": 120, "mode": 1, "sample": 0}
    sound = note(sampler_of(folder, bank_of(zone)), length_s=1.5)
    top = level_db(sound, 0.1)
    assert level_db(sound, 0.2) == pytest.approx(top, abs=0.1)
    assert level_db(sound, 0.25 + 0.1 - 0.01) == pytest.approx(top - 5, abs=0.3)
    assert level_db(sound, 0.9) == pytest.approx(top - 12, abs=0.1)
    assert level_db(sound, 1.4) == pytest.approx(top - 12, abs=0.1)


def test_a_release_falls_by_decibels(folder: Path) -> None:
    """100 dB in 1 s: 20 dB two tenths of a second after the end of the note."""
    zone: Zone = {"release": 0, "mode": 1, "sample": 0}
    sound = note(sampler_of(folder, bank_of(zone)), length_s=0.5)
    top = level_db(sound, 0.4)
    assert level_db(sound, 0.7 - 0.01) == pytest.approx(top - 20, abs=0.3)
    assert len(sound) == pytest.approx((0.5 + 0.7) * RATE, abs=2)
    assert np.abs(sound[-5:]).max() < 1e-4


@pytest.mark.parametrize("length_s", [0.1, 0.25, 0.5, 1.0, 1.7])
def test_a_note_ends_soon_after_its_length(plain: Sampler, length_s: float) -> None:
    """The shortest release is 30 ms, so that no end clicks."""
    sound = note(plain, length_s=length_s)
    assert len(sound) == pytest.approx((length_s + 0.03) * RATE, abs=2)
    assert np.abs(np.diff(sound[:, 0])).max() < 0.05
    assert np.abs(sound[-1]).max() < 1e-4


def test_a_note_of_the_packaged_bank_ends_after_its_length(packaged: Sampler) -> None:
    """No click: it fades within the release of its recording."""
    preset, _ = packaged.bank.preset(32)
    sound = packaged.note(preset, 40, 100, 0.5, rings=False)
    assert FRAME_RATE / 2 < len(sound) < FRAME_RATE
    assert np.abs(sound[-10:]).max() < 1e-3
    assert np.abs(sound[FRAME_RATE // 2 - 500 : FRAME_RATE // 2]).max() > 0.02


def test_percussion_rings_whatever_its_length(plain: Sampler) -> None:
    struck, short = note(plain, length_s=0.05, rings=True), note(plain, length_s=0.05)
    assert len(struck) == pytest.approx((RING_S + 0.03) * RATE, abs=2)
    assert len(short) < 0.1 * RATE


def test_a_cymbal_rings_past_its_written_length(packaged: Sampler) -> None:
    preset, _ = packaged.bank.preset(0, percussion=True)
    assert len(packaged.note(preset, 51, 100, 0.1, rings=True)) > 2 * FRAME_RATE


# What ends another stroke

CLASSES = ((69, 1), (70, 1), (71, 0), (72, 2))
"""Keys with their exclusive class."""


@pytest.mark.slow
def test_a_stroke_ends_the_one_of_its_class_before_it(folder: Path) -> None:
    """Within 30 ms and without a click; those of no class, and of one start, ring on (8.1.2)."""
    zones = [{"keys": span(key, key), "exclusive": number, **LOOPED} for key, number in CLASSES]
    sampler = sampler_of(folder, MadeBank([looped_sine()], [zones]))
    for key, number in CLASSES:
        strokes = [SampledNote(0, key, 100, 0.1), SampledNote(RATE, 69, 1, 0.1)]
        sound = sampler.part(0, strokes, rings=True)
        assert level_db(sound, 0.9) == pytest.approx(level_db(sound, 0.1), abs=0.3)
        assert (level_db(sound, 1.04) < level_db(sound, 0.9) - 40) == (number == 1)
        assert np.abs(np.diff(sound[RATE - 100 :, 0])).max() < 0.05
    together = [SampledNote(0, 69, 100, 0.1), SampledNote(0, 70, 100, 0.1)]
    assert level_db(sampler.part(0, together, rings=True), 1.0) > -20


def test_a_closed_hi_hat_no_longer_rings(packaged: Sampler) -> None:
    """Open, then closed by the foot half a second later; an open one alone rings on."""
    preset, _ = packaged.bank.preset(0, percussion=True)
    opened, closed = SampledNote(0, 46, 100, 0.1), SampledNote(RATE // 2, 44, 1, 0.1)
    alone, damped = (
        packaged.part(preset, strokes, rings=True) for strokes in ([opened], [opened, closed])
    )
    assert level_db(damped, 0.56) < level_db(alone, 0.56) - 30
    assert np.array_equal(alone[: RATE // 2], damped[: RATE // 2])


# Filter and modulation


def two_pole_db(hz: float, cutoff_hz: float) -> float:
    """A low-pass of second order without a peak: its gain at a frequency, in decibels."""
    ratio, quality = hz / cutoff_hz, 10 ** (-3.01 / 20)
    return float(-10 * np.log10((1 - ratio**2) ** 2 + (ratio / quality) ** 2))


def cutoff_cents(hz: float) -> int:
    return round(1200 * np.log2(hz / 8.176))


@pytest.mark.parametrize("cutoff_hz", [220.0, 440.0, 880.0, 2000.0])
def test_a_low_pass_takes_what_a_second_order_takes(
    folder: Path, plain: Sampler, cutoff_hz: float
) -> None:
    """3 dB at its cutoff, 12 dB an octave beyond: analytic."""
    sampler = sampler_of(folder, bank_of({"cutoff": cutoff_cents(cutoff_hz), **LOOPED}))
    gain = level_db(note(sampler, length_s=1.0), 0.5) - level_db(note(plain, length_s=1.0), 0.5)
    assert gain == pytest.approx(two_pole_db(440.0, cutoff_hz), abs=0.4)


def test_an_open_low_pass_changes_nothing(folder: Path, plain: Sampler) -> None:
    sampler = sampler_of(folder, bank_of({"cutoff": 13500, **LOOPED}))
    assert np.array_equal(note(sampler), note(plain))


def test_resonance_lifts_the_cutoff(folder: Path) -> None:
    """12 dB of it, half of them taken from the whole: 6 dB more at the cutoff itself."""
    cutoff = cutoff_cents(440.0)
    flat = note(sampler_of(folder, bank_of({"cutoff": cutoff, **LOOPED})), length_s=1.0)
    peaked = sampler_of(folder, bank_of({"cutoff": cutoff, "resonance": 120, **LOOPED}))
    lift = level_db(note(peaked, length_s=1.0), 0.5) - level_db(flat, 0.5)
    assert lift == pytest.approx(6, abs=0.3)


def test_a_sweep_opens_the_low_pass(folder: Path) -> None:
    """Up three octaves in half a second, from under the tone to over it."""
    zone: Zone = {"cutoff": cutoff_cents(110.0), "sweep": 3600, "move_attack": -1200, **LOOPED}
    sound = note(sampler_of(folder, bank_of(zone)), length_s=1.0)
    assert level_db(sound, 0.9) - level_db(sound, 0.05) > 12


@pytest.mark.slow
def test_a_bend_moves_the_pitch_and_comes_back(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An octave up at once, held for half a second, then home."""
    monkeypatch.setattr(module, "zone_error_cents", lambda *_: 0.0)
    zone: Zone = {"bend": 1200, "move_hold": -1200, "move_sustain": 1000, **LOOPED}
    sound = note(sampler_of(folder, bank_of(zone)), length_s=2.0)
    high, home = sound[2000 : round(0.45 * RATE)], sound[RATE : round(1.9 * RATE)]
    assert abs(cents_off(high, 880.0)) < 2
    assert abs(cents_off(home, 440.0)) < 2


# Zones and what is kept


def test_two_zones_of_a_key_sound_together(folder: Path, plain: Sampler) -> None:
    made = MadeBank([looped_sine()], [[LOOPED, LOOPED]])
    both = note(sampler_of(folder, made))
    assert np.allclose(both, 2 * note(plain), atol=1e-6)


def test_a_key_outside_all_zones_takes_the_nearest(folder: Path) -> None:
    low: Zone = {"keys": span(40, 50), **LOOPED}
    high: Zone = {"keys": span(60, 70), "root": 57, **LOOPED}
    bank = sampler_of(folder, MadeBank([looped_sine()], [[low, high]])).bank
    zones = bank.zones(0)
    nearest = {30: 0, 54: 0, 56: 1, 65: 1, 90: 1}
    for key, place in nearest.items():
        assert bank.serving(0, key, 100) == (zones[place],)


def test_velocity_chooses_the_zone(folder: Path) -> None:
    soft: Zone = {"velocities": span(0, 63), **LOOPED}
    loud: Zone = {"velocities": span(64, 127), **LOOPED}
    bank = sampler_of(folder, MadeBank([looped_sine()], [[soft, loud]])).bank
    assert [bank.serving(0, 69, v) for v in (63, 64)] == [(zone,) for zone in bank.zones(0)]


def test_a_preset_without_zones_is_silent(folder: Path) -> None:
    made = MadeBank([looped_sine(kind=0x8001)], [[LOOPED]], [Preset([{"instrument": 0}])])
    assert note(sampler_of(folder, made)).shape == (0, 2)


def test_a_key_is_held_once_for_all_velocities_and_strokes(folder: Path) -> None:
    sampler = sampler_of(folder, bank_of())
    (zone,) = sampler.bank.zones(0)
    held = sampler.held(zone, 69, 0.5)
    for number, velocity in enumerate((40, 80, 120)):
        sampler.note(0, 69, velocity, 0.7, rings=False, number=number)
    assert sampler.held(zone, 69, 1.0) is held
    assert sampler.held(zone, 69, 1.1) is not held
    assert sampler.held(zone, 70, 1.0) is not held


def test_the_oldest_held_keys_are_let_go(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three keys of a second and its release are all that there is room for."""
    monkeypatch.setattr(module, "_KEPT_FRAMES", 3 * 1.1 * RATE)
    sampler = sampler_of(folder, bank_of())
    (zone,) = sampler.bank.zones(0)
    held = [sampler.held(zone, key, 1.0) for key in range(60, 66)]
    kept = [
        sampler.held(zone, key, 1.0) is note
        for key, note in zip(range(65, 59, -1), held[::-1], strict=True)
    ]
    assert kept == [True, True, True, False, False, False]


def test_a_note_of_any_length_begins_alike(plain: Sampler) -> None:
    """Held sounds are shared by notes of one second and less, of two, and so on."""
    long = note(plain, length_s=1.9)
    for length_s in (0.2, 0.7, 1.3):
        frames = round(length_s * RATE)
        assert np.allclose(note(plain, length_s=length_s)[:frames], long[:frames], atol=1e-6)


def test_sound_is_stereo_in_single_precision(plain: Sampler) -> None:
    sound = note(plain)
    assert (sound.dtype, sound.shape[1]) == (np.float32, 2)


@pytest.mark.parametrize("program", [0, 4, 24, 26, 32, 33, 56])
def test_a_struck_note_is_heard_when_it_is_said(packaged: Sampler, program: int) -> None:
    """To 3 ms: a quarter of the way up to its steepest, by powers of 3 ms."""
    preset, _ = packaged.bank.preset(program)
    for key in (52, 59, 66):
        sound = packaged.part(preset, [SampledNote(22_050, key, 90, 0.4)], rings=False)
        steep = np.square(np.diff(sound.mean(1)))
        power = np.convolve(steep, np.ones(132) / 132, "same")[: 22_050 + 4410]
        heard = int(np.argmax(power > power.max() / 16))
        assert abs(heard - 22_050 - packaged.rise(preset, key, 90)) < 0.003 * 44_100


@pytest.mark.sampled
@pytest.mark.parametrize("program", [57, 64, 65, 66, 67, 71, 73])
def test_a_reed_is_heard_a_little_later(packaged: Sampler, program: int) -> None:
    preset, _ = packaged.bank.preset(program)
    rises = [packaged.rise(preset, key, 90) / 44_100 for key in range(50, 80, 5)]
    assert max(rises) <= 0.0201
    assert sorted(rises)[3] > 0.005


# Slurs and bends


def slurred_pair(sampler: Sampler, slurs: tuple[Slur, Slur]) -> np.ndarray:
    """Two notes of half a second, a step apart, as one side."""
    half, early = FRAME_RATE // 2, round(JOINT_S * FRAME_RATE) // 2
    strokes = [
        SampledNote(n * (half - early), key, 100, 0.5, slur)
        for n, (key, slur) in enumerate(zip((60, 62), slurs, strict=True))
    ]
    return sampler.part(sampler.bank.preset(65)[0], strokes, rings=False)[:, 0]


def rms_db(sound: np.ndarray, at_s: float, over_s: float = 0.01) -> float:
    piece = sound[round(at_s * FRAME_RATE) : round((at_s + over_s) * FRAME_RATE)]
    return float(10 * np.log10(np.mean(piece**2) + 1e-12))


def test_slurred_notes_of_a_saxophone_join_without_a_gap_and_without_a_click(
    packaged: Sampler,
) -> None:
    joined = slurred_pair(packaged, (Slur.INTO, Slur.FROM))
    steady = min(rms_db(joined, 0.3, 0.1), rms_db(joined, 0.6, 0.1))
    assert min(rms_db(joined, 0.45 + k / 200) for k in range(20)) > steady - 4.0
    bends = np.abs(np.diff(joined, 2))
    at_joint = bends[round(0.47 * FRAME_RATE) : round(0.53 * FRAME_RATE)].max()
    assert at_joint < 1.6 * bends[round(0.25 * FRAME_RATE) : round(0.45 * FRAME_RATE)].max()


def test_a_note_that_is_slurred_to_begins_behind_its_attack(packaged: Sampler) -> None:
    preset = packaged.bank.preset(65)[0]

    def sound(slur: Slur) -> np.ndarray:
        return packaged.part(preset, [SampledNote(0, 60, 100, 0.5, slur)], rings=False)[:, 0]

    skipped, joint = (round(s * FRAME_RATE) for s in (module._ATTACK_S, JOINT_S))
    later, whole = sound(Slur.FROM)[joint:9000], sound(Slur.NONE)[skipped + joint : skipped + 9000]
    assert later == pytest.approx(whole, abs=1e-6)
    assert sound(Slur.FROM)[0] == 0.0


def test_a_scoop_begins_low_and_a_fall_ends_low(plain: Sampler) -> None:
    def hz(bend: Bend | None, at_s: float) -> float:
        strokes = [SampledNote(0, 69, 127, 1.0, Slur.NONE, bend)]
        sound = plain.part(0, strokes, rings=False)[:, 0]
        first = round(at_s * FRAME_RATE)
        crossings = np.flatnonzero(np.diff(np.signbit(sound[first : first + FRAME_RATE // 20])))
        return float((len(crossings) - 1) / 2 / (crossings[-1] - crossings[0]) * FRAME_RATE)

    assert hz(None, 0.005) == pytest.approx(440, abs=2)
    assert hz(Bend.SCOOP, 0.005) < 440 * 2 ** (-0.5 / 12)
    assert hz(Bend.SCOOP, 0.3) == pytest.approx(440, abs=2)
    assert hz(Bend.FALL, 0.3) == pytest.approx(440, abs=2)
    assert hz(Bend.FALL, 0.93) < 440 * 2 ** (-2 / 12)
