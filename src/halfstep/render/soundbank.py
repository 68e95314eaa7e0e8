"""Which recording sounds for a note? Reads a sound bank in the SoundFont 2 format.

A bank holds presets (an instrument of General MIDI each), a preset holds *zones*: a
recorded sample with the keys and velocities it serves, its tuning and its envelope.
`find_bank` chooses the file, `read_bank` opens it, `Bank.zones` answers the question.

Conventions
-----------
- Program numbers count from 0; percussion is the format's bank 128.
- Tuning is in cents, times in seconds, attenuation in decibels, cutoff in hertz.
- An instrument's value replaces the format's default; a preset's value is added to it.
- Vibrato, the modulators and the effects (reverb, chorus) are left out; the envelope
  that moves pitch and low-pass is kept, since many presets are dull without it.

Sources: SoundFont Technical Specification 2.04 (from memory), sections 7 (chunks) and
8 (generators); General MIDI level 1 for the families of programs.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.errors import MissingExtra, ReadError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

BANK_VARIABLE = "HALFSTEP_SOUND_BANK"
"""Environment variable naming the sound bank to use."""

_SYSTEM_BANKS = (
    "/usr/share/sounds/sf2/FluidR3_GM.sf2",
    "/usr/share/sounds/sf2/default-GM.sf2",
    "/usr/share/sounds/sf2/TimGM6mb.sf2",
    "/usr/share/soundfonts/FluidR3_GM.sf2",
)
_PERCUSSION_BANK = 128
_ATTENUATION_SCALE = 0.4  # banks are voiced for players that apply this (from memory)
_COMPRESSED = 0x10  # sample kind of banks that hold Vorbis streams
_ROM = 0x8000

_RECORDS: dict[bytes, list[Any]] = {
    b"phdr": [
        ("name", "S20"), ("program", "<u2"), ("bank", "<u2"), ("bag", "<u2"), ("rest", "<u4", 3),
    ],
    b"pbag": [("first", "<u2"), ("modulator", "<u2")],
    b"pgen": [("operator", "<u2"), ("amount", "<i2")],
    b"inst": [("name", "S20"), ("bag", "<u2")],
    b"ibag": [("first", "<u2"), ("modulator", "<u2")],
    b"igen": [("operator", "<u2"), ("amount", "<i2")],
    b"shdr": [
        ("name", "S20"), ("start", "<u4"), ("end", "<u4"), ("loop_start", "<u4"),
        ("loop_end", "<u4"), ("rate", "<u4"), ("root", "u1"), ("correction", "i1"),
        ("link", "<u2"), ("kind", "<u2"),
    ],
}  # fmt: skip

# generator numbers, section 8.1.2
_START, _END, _LOOP_START, _LOOP_END = 0, 1, 2, 3
_START_COARSE, _END_COARSE, _LOOP_START_COARSE, _LOOP_END_COARSE = 4, 12, 45, 50
_BEND, _CUTOFF, _RESONANCE, _SWEEP, _PAN = 7, 8, 9, 11, 17
_MOVE_DELAY, _MOVE_ATTACK, _MOVE_HOLD, _MOVE_DECAY, _MOVE_SUSTAIN = 25, 26, 27, 28, 29
_DELAY, _ATTACK, _HOLD, _DECAY, _SUSTAIN, _RELEASE = 33, 34, 35, 36, 37, 38
_INSTRUMENT, _KEYS, _VELOCITIES, _ATTENUATION = 41, 43, 44, 48
_COARSE_TUNE, _FINE_TUNE, _SAMPLE, _MODE, _SCALE, _ROOT = 51, 52, 53, 54, 56, 58

_DEFAULTS = {
    _CUTOFF: 13500, _DELAY: -12000, _ATTACK: -12000, _HOLD: -12000, _DECAY: -12000,
    _RELEASE: -12000, _SCALE: 100, _ROOT: -1, _MOVE_DELAY: -12000, _MOVE_ATTACK: -12000,
    _MOVE_HOLD: -12000, _MOVE_DECAY: -12000,
}  # fmt: skip
_NOT_ADDED = {_KEYS, _VELOCITIES, _INSTRUMENT, _SAMPLE, _MODE, _ROOT}

_Level = tuple[bytes, bytes, bytes, int]
_PRESETS: _Level = (b"phdr", b"pbag", b"pgen", _INSTRUMENT)
_INSTRUMENTS: _Level = (b"inst", b"ibag", b"igen", _SAMPLE)
"""The tables of a level, and the generator that every zone but a global one ends in."""

Generators = Mapping[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeEnvelope:
    """How loudness runs over a note: times in seconds, falls timed over 100 dB.

    Attributes
    ----------
    delay_s, attack_s, hold_s : float
    decay_s, release_s : float
        The time in which the level would fall by 100 dB.
    sustain_db : float
        How far the level falls while the note is held; 0 keeps it.
    """

    delay_s: float
    attack_s: float
    hold_s: float
    decay_s: float
    sustain_db: float
    release_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ModulationEnvelope:
    """How pitch and low-pass move over a note: an envelope from 0 up to 1 and back.

    Attributes
    ----------
    delay_s, attack_s, hold_s, decay_s : float
        The decay is timed from 1 to 0.
    sustain : float
        Where the decay ends, 0 to 1.
    bend_cents, sweep_cents : float
        How far pitch and cutoff move at 1.
    """

    delay_s: float
    attack_s: float
    hold_s: float
    decay_s: float
    sustain: float
    bend_cents: float
    sweep_cents: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """One recording and how to play it.

    Attributes
    ----------
    start, end, loop_start, loop_end : int
        Places in the bank's samples.
    rate : int
        Samples a second of the recording.
    looped : bool
        True where the loop is repeated while the note lasts.
    keys, velocities : tuple of (int, int)
        First and last MIDI number that the zone serves.
    root : int
        The MIDI number that the recording sounds at.
    scale_cents : int
        Cents from one key to the next; 100 but for some drums.
    tune_cents : float
    pan : float
        -1 left to 1 right.
    attenuation_db : float
    cutoff_hz : float
        Of the low-pass; 19 kHz and more is open.
    resonance_db : float
    envelope : VolumeEnvelope
    movement : ModulationEnvelope
    """

    start: int
    end: int
    loop_start: int
    loop_end: int
    rate: int
    looped: bool
    keys: tuple[int, int]
    velocities: tuple[int, int]
    root: int
    scale_cents: int
    tune_cents: float
    pan: float
    attenuation_db: float
    cutoff_hz: float
    resonance_db: float
    envelope: VolumeEnvelope
    movement: ModulationEnvelope

    def serves(self, key: int, velocity: int) -> bool:
        """True where the zone sounds for a key struck at a velocity."""
        low, high = self.keys
        soft, loud = self.velocities
        return low <= key <= high and soft <= velocity <= loud

    def step(self, key: int, frame_rate: int) -> float:
        """Samples of the recording that pass in one frame of sound at ``key``."""
        cents = (key - self.root) * self.scale_cents + self.tune_cents
        return float(2.0 ** (cents / 1200.0) * self.rate / frame_rate)


class Bank:
    """An opened sound bank.

    Parameters
    ----------
    path : Path
        Shown in messages.
    tables : mapping of bytes to numpy.ndarray
        The records of the chunk ``pdta``.
    samples : numpy.ndarray
        int16, shape (samples,).
    """

    def __init__(
        self, path: Path, tables: Mapping[bytes, Any], samples: npt.NDArray[np.int16]
    ) -> None:
        self.path = path
        self.samples = samples
        self._tables = tables
        headers = tables[b"phdr"][:-1]
        self._presets = {(int(h["bank"]), int(h["program"])): n for n, h in enumerate(headers)}
        self._zones: dict[int, tuple[Zone, ...]] = {}

    @property
    def programs(self) -> frozenset[int]:
        """The melodic programs that the bank has."""
        return frozenset(program for bank, program in self._presets if bank == 0)

    def preset(self, program: int, *, percussion: bool = False) -> tuple[int, str]:
        """The preset for a program, and a notice where another one has to stand in.

        The stand-in is a neighbour of the same General MIDI family (eight programs to a
        family), else the first preset there is.
        """
        if percussion:
            kits = sorted(place for place in self._presets if place[0] == _PERCUSSION_BANK)
            first = kits[0] if kits else min(self._presets)
            return self._presets[first], "" if kits else f"{self.path.name} has no drum kit"
        if (0, program) in self._presets:
            return self._presets[0, program], ""
        family = [p for p in sorted(self.programs) if p // 8 == program // 8]
        stand_in = (0, family[0]) if family else min(self._presets)
        notice = f"{self.path.name} has no program {program}; {stand_in[1]} sounds in its place"
        return self._presets[stand_in], notice

    def zones(self, preset: int) -> tuple[Zone, ...]:
        """The zones of a preset, by the number that `preset` gave."""
        if preset not in self._zones:
            self._zones[preset] = tuple(self._read_zones(preset))
        return self._zones[preset]

    def _read_zones(self, preset: int) -> Iterator[Zone]:
        for outer in self._merged(_PRESETS, preset):
            for inner in self._merged(_INSTRUMENTS, outer[_INSTRUMENT]):
                header = self._tables[b"shdr"][inner[_SAMPLE]]
                if header["kind"] & _COMPRESSED:
                    raise ReadError(
                        f"sound bank {self.path} holds compressed samples; use an .sf2 bank"
                    )
                zone = None if header["kind"] & _ROM else _zone(outer, inner, header)
                if zone is not None:
                    yield zone

    def _merged(self, level: _Level, number: int) -> Iterator[dict[int, int]]:
        """Each zone's generators over those of the global zone before them."""
        headers, bags, generators, ends_in = level
        table = self._tables[headers]
        shared: dict[int, int] = {}
        for bag in range(int(table[number]["bag"]), int(table[number + 1]["bag"])):
            first, last = (int(self._tables[bags][bag + k]["first"]) for k in (0, 1))
            local = {int(op): int(value) for op, value in self._tables[generators][first:last]}
            if ends_in in local:
                yield shared | local
            else:
                shared = local


@dataclass(frozen=True, slots=True)
class _SummedGenerators:
    """The generators of a preset's zone added to those of an instrument's zone."""

    outer: Generators
    inner: Generators

    def value(self, operator: int) -> int:
        """A generator's value: the instrument's or the default, and the preset's added."""
        added = 0 if operator in _NOT_ADDED else self.outer.get(operator, 0)
        return self.inner.get(operator, _DEFAULTS.get(operator, 0)) + added

    def seconds(self, operator: int) -> float:
        """A time that is given in timecents."""
        return float(2.0 ** (self.value(operator) / 1200.0))

    def place(self, start: int, fine: int, coarse: int) -> int:
        """A place in the samples, moved by its two offsets."""
        return start + self.value(fine) + 32768 * self.value(coarse)

    def shared_range(self, operator: int) -> tuple[int, int]:
        """Where both ranges meet; a range is two bytes, low and high."""
        ranges = [
            divmod(generators.get(operator, 0x7F00) & 0xFFFF, 256)[::-1]
            for generators in (self.outer, self.inner)
        ]
        return max(low for low, _ in ranges), min(high for _, high in ranges)


def _zone(outer: Generators, inner: Generators, header: Any) -> Zone | None:
    """The zone of an instrument within a preset; None where they serve no key together."""
    summed = _SummedGenerators(outer, inner)
    value, place = summed.value, summed.place
    keys, velocities = summed.shared_range(_KEYS), summed.shared_range(_VELOCITIES)
    if keys[0] > keys[1] or velocities[0] > velocities[1]:
        return None
    root = value(_ROOT)
    return Zone(
        start=place(int(header["start"]), _START, _START_COARSE),
        end=place(int(header["end"]), _END, _END_COARSE),
        loop_start=place(int(header["loop_start"]), _LOOP_START, _LOOP_START_COARSE),
        loop_end=place(int(header["loop_end"]), _LOOP_END, _LOOP_END_COARSE),
        rate=int(header["rate"]),
        looped=value(_MODE) in {1, 3},
        keys=keys,
        velocities=velocities,
        root=root if root >= 0 else int(header["root"]),
        scale_cents=value(_SCALE),
        tune_cents=100.0 * value(_COARSE_TUNE) + value(_FINE_TUNE) + int(header["correction"]),
        pan=max(-1.0, min(1.0, value(_PAN) / 500.0)),
        attenuation_db=max(0.0, _ATTENUATION_SCALE * value(_ATTENUATION) / 10.0),
        cutoff_hz=8.176 * 2.0 ** (value(_CUTOFF) / 1200.0),
        resonance_db=max(0.0, value(_RESONANCE) / 10.0),
        envelope=_volume_envelope(summed),
        movement=_modulation_envelope(summed),
    )


def _volume_envelope(summed: _SummedGenerators) -> VolumeEnvelope:
    return VolumeEnvelope(
        delay_s=summed.seconds(_DELAY),
        attack_s=summed.seconds(_ATTACK),
        hold_s=summed.seconds(_HOLD),
        decay_s=summed.seconds(_DECAY),
        sustain_db=max(0.0, summed.value(_SUSTAIN) / 10.0),
        release_s=summed.seconds(_RELEASE),
    )


def _modulation_envelope(summed: _SummedGenerators) -> ModulationEnvelope:
    return ModulationEnvelope(
        delay_s=summed.seconds(_MOVE_DELAY),
        attack_s=summed.seconds(_MOVE_ATTACK),
        hold_s=summed.seconds(_MOVE_HOLD),
        decay_s=summed.seconds(_MOVE_DECAY),
        sustain=max(0.0, min(1.0, 1.0 - summed.value(_MOVE_SUSTAIN) / 1000.0)),
        bend_cents=summed.value(_BEND),
        sweep_cents=summed.value(_SWEEP),
    )


def read_bank(path: str | Path) -> Bank:
    """Open a sound bank.

    Raises
    ------
    ReadError
        When the file cannot be read or is no SoundFont 2 bank.
    """
    import numpy as np

    path = Path(path)
    try:
        data = np.memmap(path, dtype=np.uint8, mode="r")
    except (OSError, ValueError) as error:
        raise ReadError(f"sound bank {path} cannot be read: {error}") from None
    if bytes(data[:4]) != b"RIFF" or bytes(data[8:12]) != b"sfbk":
        raise ReadError(f"{path} is no sound bank in the SoundFont 2 format (.sf2)")
    chunks = _chunks(data)
    missing = [name.decode() for name in (b"smpl", *_RECORDS) if name not in chunks]
    if missing:
        raise ReadError(f"sound bank {path} lacks the chunk {missing[0]}")
    tables = {
        name: np.frombuffer(chunks[name].tobytes(), dtype=np.dtype(fields))
        for name, fields in _RECORDS.items()
    }
    return Bank(path, tables, chunks[b"smpl"].view("<i2"))


def _chunks(data: npt.NDArray[np.uint8]) -> dict[bytes, npt.NDArray[np.uint8]]:
    """The chunks inside the file's lists, by name; views, so that nothing is copied."""
    chunks = {}
    place = 12
    while place + 8 <= len(data):
        name, size = bytes(data[place : place + 4]), int(data[place + 4 : place + 8].view("<u4")[0])
        if name == b"LIST":
            place += 12
            continue
        chunks[name] = data[place + 8 : place + 8 + size]
        place += 8 + size + size % 2
    return chunks


def find_bank(path: str | Path | None = None) -> Path:
    """The sound bank to use.

    Parameters
    ----------
    path : str or Path, optional
        A bank by its file. Without one: the file named by ``HALFSTEP_SOUND_BANK``, then
        banks that the system has, then the small one inside the package pretty_midi,
        which is found as a file and never imported.

    Raises
    ------
    MissingExtra
        When there is none.
    ReadError
        When the file that is named is not there.
    """
    named = path or os.environ.get(BANK_VARIABLE)
    if named:
        if not Path(named).is_file():
            raise ReadError(f"there is no sound bank at {named}")
        return Path(named)
    for candidate in (*map(Path, _SYSTEM_BANKS), *_packaged_banks()):
        if candidate.is_file():
            return candidate
    raise MissingExtra(
        f"no sound bank was found; install the package pretty_midi or set {BANK_VARIABLE} "
        "to an .sf2 file"
    )


def _packaged_banks() -> Iterator[Path]:
    spec = find_spec("pretty_midi")
    for place in (spec.submodule_search_locations or ()) if spec else ():
        yield Path(place) / "TimGM6mb.sf2"


@lru_cache(maxsize=4)
def opened_bank(path: Path) -> Bank:
    """The bank at ``path``, opened once in a process."""
    return read_bank(path)
