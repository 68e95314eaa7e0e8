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
    LOOPED,
    MadeBank,
    Preset,
    Recording,
    Zone,
    bank_of,
    chunk,
    compressed_bank,
    group,
    looped_sine,
    sine,
    span,
)

from halfstep.errors import ReadError
from halfstep.instruments import INSTRUMENTS
from halfstep.render import soundbank
from halfstep.render.bank_file import RECORDS
from halfstep.render.known_banks import SHIPPED_BANK
from halfstep.render.soundbank import Bank, opened_bank, read_bank


@pytest.fixture(scope="module")
def packaged() -> Bank:
    """The program's own bank."""
    return opened_bank(SHIPPED_BANK)


def opened(made: MadeBank, folder: Path) -> Bank:
    path = folder / "made.sf2"
    path.write_bytes(made.bytes())
    return read_bank(path)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("banks")


@pytest.fixture(scope="module")
def layered(folder: Path) -> Bank:
    """Zones that overlap, in keys and in velocities."""
    zones: list[Zone] = [
        {"keys": span(0, 60), "velocities": span(0, 80), **LOOPED},
        {"keys": span(0, 60), "velocities": span(81, 127), **LOOPED},
        {"keys": span(50, 127), **LOOPED},
        {"keys": span(61, 64), "velocities": span(100, 127), **LOOPED},
    ]
    return opened(MadeBank([looped_sine()], [zones]), folder)


def zone_of(folder: Path, zone: Zone, outer: Zone | None = None, **header: int) -> soundbank.Zone:
    """The one zone of a bank, its preset's generators before the instrument."""
    presets = [Preset([{**(outer or {}), "instrument": 0}])]
    made = MadeBank([looped_sine(**header)], [[{**zone, "sample": 0}]], presets)
    (read,) = opened(made, folder).zones(0)
    return read


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


def test_a_compressed_sample_that_is_none_is_named(folder: Path) -> None:
    bank = opened(bank_of(recording=Recording(sine(), kind=0x11)), folder)
    with pytest.raises(ReadError, match=r"made\.sf2: sample cannot be decoded"):
        bank.recording(0)


def test_samples_in_rom_are_passed_over(folder: Path) -> None:
    """8001 hex: a sample of a chip that is not there."""
    assert opened(bank_of(recording=Recording(sine(), kind=0x8001)), folder).zones(0) == ()


# The chunks


def test_samples_are_read_as_they_stand(folder: Path) -> None:
    """1.0 is full scale: 32768 steps."""
    samples = np.array([0, 1, -1, 32767, -32768], "<i2")
    bank = opened(bank_of(recording=Recording(samples)), folder)
    assert (bank.recording(0) * 32768).tolist() == samples.tolist()
    assert bank.recording(0).dtype == np.float32
    assert bank.recording(0) is bank.recording(0)


@pytest.mark.parametrize("padded", [True, False])
@pytest.mark.parametrize("extra", [0, 1])
def test_a_compressed_sample_is_decoded(tmp_path: Path, padded: bool, extra: int) -> None:
    """Ogg Vorbis in place of samples; some banks leave out the padding of an odd chunk."""
    path = tmp_path / "a.sf3"
    path.write_bytes(compressed_bank(looped_sine(), padded=padded, extra=extra))
    bank = read_bank(path)
    (zone,) = bank.zones(0)
    assert (zone.loop_start, zone.loop_end) == looped_sine().loop
    read, made = bank.recording(zone.sample), looped_sine().samples / 32768
    assert len(read) == len(made)
    assert np.abs(read - made).max() < 0.02


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
    assert (zone.start, zone.end, zone.loop_start, zone.loop_end) == (0, 0, 2205, 6615)
    assert (zone.rate, zone.root, zone.tune_cents) == (22050, 60, -7)


def test_a_second_sample_begins_after_the_silence_between(folder: Path) -> None:
    made = MadeBank([Recording(sine(length_s=0.1))] * 2, [[{"sample": 1}]])
    (zone,) = opened(made, folder).zones(0)
    assert (zone.sample, zone.start, zone.end) == (1, 0, 0)


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
        ("end", -12, "end", -12),
        ("loop_start", 5, "loop_start", 2205 + 5),
        ("loop_end", -5, "loop_end", 6615 - 5),
        ("start_coarse", 1, "start", 32768),
        ("end_coarse", 1, "end", 32768),
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


@given(key=st.integers(0, 127), velocity=st.integers(1, 127))
def test_the_index_finds_what_asking_every_zone_finds(
    layered: Bank, key: int, velocity: int
) -> None:
    """Against the plain definition; in this bank there is a zone for everything."""
    asked = tuple(
        zone
        for zone in layered.zones(0)
        if zone.keys[0] <= key <= zone.keys[1]
        and zone.velocities[0] <= velocity <= zone.velocities[1]
    )
    assert layered.serving(0, key, velocity) == asked != ()


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


def test_the_bank_has_the_players_of_the_band_and_the_class(packaged: Bank) -> None:
    """General MIDI's numbers; voice, horn and violin have none of their own."""
    assert packaged.programs == {0, 4, 24, 26, 32, 33, 56, 57, 64, 65, 66, 67, 71, 73}
    lacking = {each.key for each in INSTRUMENTS.values() if packaged.preset(each.program)[1]}
    assert lacking == {"voice", "horn", "violin"}
    assert packaged.preset(53)[1] == "bank.sf3 has no program 53; Flute sounds in its place"
    kits = [packaged.preset(program, percussion=True) for program in (0, 40)]
    assert [packaged.presets[128, program] for program in (0, 40)] == ["Standard kit", "Brush kit"]
    assert kits[0] != kits[1]


def test_a_program_is_found_by_its_number_in_bank_zero(folder: Path) -> None:
    bank = made_with(folder, (1, 5), (0, 5), (128, 0), (0, 2))
    assert bank.preset(5) == (1, "")
    assert bank.preset(2) == (3, "")
    assert bank.programs == {2, 5}


@pytest.mark.parametrize(
    ("program", "stand_in"), [(66, 64), (71, 64), (64, 64), (57, 56), (56, 56), (0, 56), (70, 64)]
)
def test_a_missing_program_is_played_by_its_family(
    folder: Path, program: int, stand_in: int
) -> None:
    """Eight programs to a family (General MIDI); with no family, the first preset there is."""
    bank = made_with(folder, (0, 56), (0, 64), (128, 0))
    preset, notice = bank.preset(program)
    assert preset == (0 if stand_in == 56 else 1)
    expected = f"made.sf2 has no program {program}; preset sounds in its place"
    assert notice == ("" if program == stand_in else expected)


@pytest.mark.parametrize(("program", "nearest"), [(53, 73), (68, 64), (70, 67), (60, 57), (48, 71)])
def test_the_nearest_in_sound_comes_before_the_family(
    packaged: Bank, program: int, nearest: int
) -> None:
    """A voice, an oboe, a bassoon, a horn and strings: common practice, no source."""
    assert packaged.preset(program)[0] == packaged.preset(nearest)[0]


def test_drums_are_the_kit_that_is_asked_for_else_the_first(folder: Path) -> None:
    bank = made_with(folder, (0, 0), (128, 8), (128, 0))
    assert bank.preset(0, percussion=True) == (2, "")
    assert bank.preset(8, percussion=True) == (1, "")
    assert bank.preset(40, percussion=True) == (2, "")


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
    sizes = {name: np.dtype(fields).itemsize for name, fields in RECORDS.items()}
    assert sizes == {
        b"phdr": 38, b"pbag": 4, b"pgen": 4, b"inst": 22, b"ibag": 4, b"igen": 4, b"shdr": 46,
    }  # fmt: skip
    assert struct.calcsize("<20s5IBbHH") == sizes[b"shdr"]
