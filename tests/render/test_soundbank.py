"""Sound banks: which file, what is read in it, what is refused.

Source: SoundFont Technical Specification 2.04 (from memory): sections 7 for the records,
8.1.2 for generators and their defaults, 8.5 and 9.4 for how preset and instrument add up;
General MIDI level 1 for families.
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_banks import (
    APART,
    LOOPED,
    MadeBank,
    Preset,
    Recording,
    Zone,
    bank_of,
    chunk,
    group,
    looped_sine,
    sine,
    span,
)

from halfstep.errors import MissingExtra, ReadError
from halfstep.render import soundbank
from halfstep.render.soundbank import BANK_VARIABLE, Bank, find_bank, opened_bank, read_bank


@pytest.fixture(scope="module")
def packaged() -> Bank:
    """The bank inside pretty_midi, so that the figures do not depend on the machine."""
    return opened_bank(next(soundbank._packaged_banks()))


def opened(made: MadeBank, folder: Path) -> Bank:
    path = folder / "made.sf2"
    path.write_bytes(made.bytes())
    return read_bank(path)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("banks")


def zone_of(folder: Path, zone: Zone, outer: Zone | None = None, **header: int) -> soundbank.Zone:
    """The one zone of a bank, its preset's generators before the instrument."""
    presets = [Preset([{**(outer or {}), "instrument": 0}])]
    made = MadeBank([looped_sine(**header)], [[{**zone, "sample": 0}]], presets)
    (read,) = opened(made, folder).zones(0)
    return read


# Which file


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


def test_a_bank_of_the_system_comes_before_the_packaged_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "system.sf2").touch()
    monkeypatch.delenv(BANK_VARIABLE, raising=False)
    monkeypatch.setattr(soundbank, "_SYSTEM_BANKS", (tmp_path / "no.sf2", tmp_path / "system.sf2"))
    assert find_bank() == tmp_path / "system.sf2"
    (tmp_path / "system.sf2").unlink()
    assert find_bank().name == "TimGM6mb.sf2"


def test_without_any_bank_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv(BANK_VARIABLE, raising=False)
    monkeypatch.setattr(soundbank, "_SYSTEM_BANKS", ())
    monkeypatch.setattr(soundbank, "find_spec", lambda _name: None)
    with pytest.raises(MissingExtra, match="install the package pretty_midi"):
        find_bank()


def test_a_bank_is_opened_once(folder: Path) -> None:
    path = folder / "once.sf2"
    path.write_bytes(bank_of().bytes())
    assert opened_bank(path) is opened_bank(path)


# What is refused


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"no bank at all, just some text", "is no sound bank"),
        (b"RIFF\0\0\0\0WAVE", "is no sound bank"),
        (b"RIFF\0\0\0\0sfbk", "lacks the chunk smpl"),
        (b"", "cannot be read"),
    ],
)
def test_a_file_that_is_no_bank_is_refused(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "a.sf2"
    path.write_bytes(content)
    with pytest.raises(ReadError, match=message):
        read_bank(path)


def test_a_bank_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="cannot be read"):
        read_bank(tmp_path / "none.sf2")


@pytest.mark.parametrize("name", ["phdr", "pbag", "pgen", "inst", "ibag", "igen", "shdr"])
def test_a_table_that_is_missing_is_named(tmp_path: Path, name: str) -> None:
    path = tmp_path / "a.sf2"
    path.write_bytes(bank_of().bytes().replace(name.encode(), b"none"))
    with pytest.raises(ReadError, match=f"lacks the chunk {name}"):
        read_bank(path)


def test_compressed_samples_are_refused_with_what_to_do(folder: Path) -> None:
    bank = opened(bank_of(recording=Recording(sine(), kind=0x11)), folder)
    with pytest.raises(ReadError, match=r"compressed samples; use an \.sf2 bank"):
        bank.zones(0)


def test_samples_in_rom_are_passed_over(folder: Path) -> None:
    """8001 hex: a sample of a chip that is not there."""
    assert opened(bank_of(recording=Recording(sine(), kind=0x8001)), folder).zones(0) == ()


# The chunks


def test_samples_are_read_as_they_stand(folder: Path) -> None:
    samples = np.array([0, 1, -1, 32767, -32768], "<i2")
    bank = opened(bank_of(recording=Recording(samples)), folder)
    assert bank.samples[:5].tolist() == samples.tolist()
    assert bank.samples.dtype == np.int16


def test_a_chunk_of_odd_size_has_a_byte_more(tmp_path: Path) -> None:
    """RIFF pads to words; what stands before the tables may be of any size."""
    data = bank_of().bytes()
    odd = group(b"INFO", chunk(b"INAM", b"odd"))
    path = tmp_path / "a.sf2"
    path.write_bytes(data[:12] + odd + data[12:])
    assert len(read_bank(path).zones(0)) == 1


def test_a_file_cut_short_in_a_chunks_head_is_read_up_to_there(tmp_path: Path) -> None:
    path = tmp_path / "a.sf2"
    path.write_bytes(bank_of().bytes() + b"junk")
    assert len(read_bank(path).zones(0)) == 1


# A zone


def test_a_zone_without_generators_has_the_defaults(folder: Path) -> None:
    """Timecents of -12000 are 1 ms (2^-10 s); a cutoff of 13500 cents is 19.9 kHz: open."""
    zone = zone_of(folder, {})
    assert (zone.keys, zone.velocities) == ((0, 127), (0, 127))
    assert (zone.root, zone.scale_cents, zone.tune_cents, zone.looped) == (69, 100, 0, False)
    assert (zone.pan, zone.attenuation_db, zone.resonance_db) == (0, 0, 0)
    assert zone.cutoff_hz == pytest.approx(19_912, abs=1)
    envelope = zone.envelope
    times = (envelope.delay_s, envelope.attack_s, envelope.hold_s, envelope.decay_s)
    assert (*times, envelope.release_s) == pytest.approx([2**-10] * 5)
    assert envelope.sustain_db == 0
    assert (zone.movement.bend_cents, zone.movement.sweep_cents) == (0, 0)
    assert zone.movement.sustain == 1


def test_the_header_of_the_sample_gives_places_rate_root_and_correction(folder: Path) -> None:
    zone = zone_of(folder, {}, rate=22050, root=60, correction=-7)
    assert (zone.start, zone.end, zone.loop_start, zone.loop_end) == (0, 8820, 2205, 6615)
    assert (zone.rate, zone.root, zone.tune_cents) == (22050, 60, -7)


def test_a_second_sample_begins_after_the_silence_between(folder: Path) -> None:
    made = MadeBank([Recording(sine(length_s=0.1))] * 2, [[{"sample": 1}]])
    (zone,) = opened(made, folder).zones(0)
    assert (zone.start, zone.end) == (4410 + APART, 8820 + APART)


@pytest.mark.parametrize(
    ("generator", "amount", "attribute", "value"),
    [
        ("root", 60, "root", 60),
        ("coarse_tune", -2, "tune_cents", -200),
        ("fine_tune", 35, "tune_cents", 35),
        ("scale", 50, "scale_cents", 50),
        ("pan", -500, "pan", -1.0),
        ("pan", 250, "pan", 0.5),
        ("pan", 900, "pan", 1.0),
        ("attenuation", 100, "attenuation_db", 4.0),
        ("attenuation", -100, "attenuation_db", 0.0),
        ("resonance", 60, "resonance_db", 6.0),
        ("resonance", -60, "resonance_db", 0.0),
        ("mode", 0, "looped", False),
        ("mode", 1, "looped", True),
        ("mode", 2, "looped", False),
        ("mode", 3, "looped", True),
        ("start", 12, "start", 12),
        ("end", -12, "end", 8820 - 12),
        ("loop_start", 5, "loop_start", 2205 + 5),
        ("loop_end", -5, "loop_end", 6615 - 5),
        ("start_coarse", 1, "start", 32768),
        ("end_coarse", 1, "end", 8820 + 32768),
        ("loop_start_coarse", 1, "loop_start", 2205 + 32768),
        ("loop_end_coarse", 2, "loop_end", 6615 + 65536),
    ],
)
def test_a_generator_sets_its_value(
    folder: Path, generator: str, amount: int, attribute: str, value: float
) -> None:
    """Section 8.1.2; attenuation is scaled by 0.4, as players do (from memory)."""
    assert getattr(zone_of(folder, {generator: amount}), attribute) == value


@pytest.mark.parametrize(
    ("generator", "attribute"),
    [("delay", "delay_s"), ("attack", "attack_s"), ("hold", "hold_s"), ("decay", "decay_s"),
     ("release", "release_s")],
)  # fmt: skip
@pytest.mark.parametrize(("timecents", "seconds"), [(0, 1.0), (1200, 2.0), (-1200, 0.5)])
def test_times_of_the_volume_envelope_are_timecents(
    folder: Path, generator: str, attribute: str, timecents: int, seconds: float
) -> None:
    envelope = zone_of(folder, {generator: timecents}).envelope
    assert getattr(envelope, attribute) == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("generator", "attribute"),
    [("move_delay", "delay_s"), ("move_attack", "attack_s"), ("move_hold", "hold_s"),
     ("move_decay", "decay_s")],
)  # fmt: skip
def test_times_of_the_modulation_envelope_are_timecents(
    folder: Path, generator: str, attribute: str
) -> None:
    movement = zone_of(folder, {generator: -2400}).movement
    assert getattr(movement, attribute) == pytest.approx(0.25)


@pytest.mark.parametrize(("amount", "sustain"), [(0, 1.0), (250, 0.75), (1000, 0.0), (2000, 0.0)])
def test_the_sustain_of_modulation_is_a_share_taken_away(
    folder: Path, amount: int, sustain: float
) -> None:
    """In tenths of a per cent from the top."""
    assert zone_of(folder, {"move_sustain": amount}).movement.sustain == sustain


def test_sustain_and_what_moves_are_in_decibels_and_cents(folder: Path) -> None:
    zone = zone_of(folder, {"sustain": 144, "bend": -700, "sweep": 2400, "cutoff": 6900})
    assert zone.envelope.sustain_db == 14.4
    assert (zone.movement.bend_cents, zone.movement.sweep_cents) == (-700, 2400)
    assert zone.cutoff_hz == pytest.approx(440, abs=0.1)


# Preset over instrument


@pytest.mark.parametrize(
    ("generator", "inner", "outer", "attribute", "value"),
    [
        ("fine_tune", 10, 5, "tune_cents", 15),
        ("coarse_tune", 1, -1, "tune_cents", 0),
        ("pan", 100, 150, "pan", 0.5),
        ("attenuation", 50, 50, "attenuation_db", 4.0),
        ("scale", 100, -50, "scale_cents", 50),
        ("root", 60, 72, "root", 60),
        ("mode", 1, 2, "looped", True),
    ],
)
def test_a_presets_value_is_added_but_to_what_cannot_be_added_to(
    folder: Path, generator: str, inner: int, outer: int, attribute: str, value: float
) -> None:
    """Section 8.5: sample modes and the overriding root stand in instruments alone."""
    zone = zone_of(folder, {generator: inner}, {generator: outer})
    assert getattr(zone, attribute) == value


def test_a_presets_value_is_added_to_the_default(folder: Path) -> None:
    zone = zone_of(folder, {}, {"cutoff": -1200, "release": 12000})
    assert zone.cutoff_hz == pytest.approx(19_912 / 2, abs=1)
    assert zone.envelope.release_s == pytest.approx(1)


def test_a_zone_serves_where_preset_and_instrument_meet(folder: Path) -> None:
    inner = {"keys": span(40, 80), "velocities": span(1, 90)}
    outer = {"keys": span(60, 100), "velocities": span(64, 127)}
    zone = zone_of(folder, inner, outer)
    assert (zone.keys, zone.velocities) == ((60, 80), (64, 90))


@pytest.mark.parametrize("generator", ["keys", "velocities"])
def test_a_zone_that_serves_nothing_is_left_out(folder: Path, generator: str) -> None:
    presets = [Preset([{generator: span(0, 50), "instrument": 0}])]
    made = MadeBank([looped_sine()], [[{generator: span(60, 127), "sample": 0}]], presets)
    assert opened(made, folder).zones(0) == ()


@given(st.integers(0, 127), st.integers(0, 127))
def test_a_zone_serves_its_range_with_both_ends(key: int, velocity: int) -> None:
    zone = STANDING
    assert zone.serves(key, velocity) == (48 <= key <= 72 and 10 <= velocity <= 100)


def test_a_global_zone_holds_for_those_after_it(folder: Path) -> None:
    """Section 9.4: a first zone without a sample gives what the others do not say."""
    zones: list[Zone] = [
        {"pan": 500, "fine_tune": 20},
        {"keys": span(0, 60), "sample": 0},
        {"keys": span(61, 127), "pan": -500, "sample": 0},
    ]
    low, high = opened(MadeBank([looped_sine()], [zones]), folder).zones(0)
    assert [(zone.pan, zone.tune_cents) for zone in (low, high)] == [(1.0, 20), (-1.0, 20)]
    assert (low.keys, high.keys) == ((0, 60), (61, 127))


def test_a_global_zone_of_a_preset_holds_for_its_instruments(folder: Path) -> None:
    preset = Preset([{"fine_tune": 7}, {"instrument": 0}, {"fine_tune": -7, "instrument": 1}])
    made = MadeBank([looped_sine()], [[LOOPED], [LOOPED]], [preset])
    assert [zone.tune_cents for zone in opened(made, folder).zones(0)] == [7, -7]


def test_zones_of_two_presets_are_kept_apart(folder: Path) -> None:
    instruments = [[{"pan": 100, "sample": 0}], [{"pan": -100, "sample": 0}, LOOPED]]
    presets = [Preset([{"instrument": 0}]), Preset([{"instrument": 1}], program=1)]
    bank = opened(MadeBank([looped_sine()], instruments, presets), folder)
    assert [zone.pan for zone in bank.zones(0)] == [0.2]
    assert [zone.pan for zone in bank.zones(1)] == [-0.2, 0]
    assert bank.zones(1) is bank.zones(1)


# Which preset


def made_with(folder: Path, *places: tuple[int, int]) -> Bank:
    """A bank with these presets: bank and program."""
    presets = [Preset([{"instrument": 0}], program=p, bank=b) for b, p in places]
    return opened(MadeBank([looped_sine()], [[LOOPED]], presets), folder)


def test_the_bank_has_every_general_midi_program(packaged: Bank) -> None:
    assert packaged.programs == frozenset(range(128))


def test_a_program_is_found_by_its_number_in_bank_zero(folder: Path) -> None:
    bank = made_with(folder, (1, 5), (0, 5), (128, 0), (0, 2))
    assert bank.preset(5) == (1, "")
    assert bank.preset(2) == (3, "")
    assert bank.programs == {2, 5}


@pytest.mark.parametrize(
    ("program", "stand_in"), [(66, 64), (71, 64), (64, 64), (57, 56), (56, 56), (0, 56)]
)
def test_a_missing_program_is_played_by_its_family(
    folder: Path, program: int, stand_in: int
) -> None:
    """Eight programs to a family (General MIDI); with no family, the first preset there is."""
    bank = made_with(folder, (0, 56), (0, 64), (128, 0))
    preset, notice = bank.preset(program)
    assert preset == (0 if stand_in == 56 else 1)
    expected = f"made.sf2 has no program {program}; {stand_in} sounds in its place"
    assert notice == ("" if program == stand_in else expected)


def test_drums_are_the_first_kit_of_bank_128(folder: Path) -> None:
    assert made_with(folder, (0, 0), (128, 8), (128, 0)).preset(0, percussion=True) == (2, "")
    assert made_with(folder, (0, 0), (128, 8)).preset(0, percussion=True) == (1, "")


def test_a_bank_without_drums_says_so(folder: Path) -> None:
    assert made_with(folder, (0, 3)).preset(0, percussion=True) == (0, "made.sf2 has no drum kit")


# Speed


@pytest.mark.parametrize(
    ("key", "header", "zone", "step"),
    [
        (69, {}, {}, 1.0),
        (81, {}, {}, 2.0),
        (57, {}, {}, 0.5),
        (70, {}, {}, 2 ** (1 / 12)),
        (69, {"rate": 22050}, {}, 0.5),
        (69, {"root": 57}, {}, 2.0),
        (69, {"correction": 50}, {}, 2 ** (50 / 1200)),
        (69, {}, {"fine_tune": -50, "coarse_tune": 12}, 2 ** (1150 / 1200)),
        (93, {}, {"scale": 50}, 2.0),
        (93, {}, {"scale": 0}, 1.0),
    ],
)
def test_a_key_is_a_speed_of_the_recording(
    folder: Path, key: int, header: dict[str, int], zone: Zone, step: float
) -> None:
    """An octave is twice as fast; a recording of half the rate is read half as fast."""
    assert zone_of(folder, zone, **header).step(key, 44_100) == pytest.approx(step)


def test_records_have_the_sizes_of_the_standard() -> None:
    """Section 7: 38 bytes a preset, 22 an instrument, 46 a sample, 4 a bag or a generator."""
    sizes = {name: np.dtype(fields).itemsize for name, fields in soundbank._RECORDS.items()}
    assert sizes == {
        b"phdr": 38, b"pbag": 4, b"pgen": 4, b"inst": 22, b"ibag": 4, b"igen": 4, b"shdr": 46,
    }  # fmt: skip
    assert struct.calcsize("<20s5IBbHH") == sizes[b"shdr"]


STANDING = soundbank.Zone(
    start=0,
    end=100,
    loop_start=0,
    loop_end=0,
    rate=44_100,
    looped=False,
    keys=(48, 72),
    velocities=(10, 100),
    root=60,
    scale_cents=100,
    tune_cents=0,
    pan=0,
    attenuation_db=0,
    cutoff_hz=20_000,
    resonance_db=0,
    envelope=soundbank.VolumeEnvelope(
        delay_s=0, attack_s=0, hold_s=0, decay_s=0, sustain_db=0, release_s=0
    ),
    movement=soundbank.ModulationEnvelope(
        delay_s=0, attack_s=0, hold_s=0, decay_s=0, sustain=1, bend_cents=0, sweep_cents=0
    ),
)
