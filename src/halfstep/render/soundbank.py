"""Which recording sounds for a note? The presets and zones of a sound bank.

A bank holds presets (an instrument of General MIDI each), a preset holds *zones*: a
recorded sample with the keys and velocities it serves, its tuning and its envelope.
`read_bank` opens a file, `Bank.serving` answers the question, `Bank.recording` has the sound.

Conventions
-----------
- Program numbers count from 0; percussion is the format's bank 128.
- Tuning is in cents, times in seconds, attenuation in decibels, cutoff in hertz.
- Places in a recording count from its first sample, ends from its last.
- An instrument's value replaces the format's default; a preset's value is added to it.
- Vibrato, the modulators and the effects (reverb, chorus) are left out; the envelope
  that moves pitch and low-pass is kept, since many presets are dull without it.

Sources: SoundFont Technical Specification 2.04 (from memory), section 8 (generators);
General MIDI level 1 for the families of programs.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.errors import ReadError
from halfstep.render.bank_file import BankFile, read_bank_file

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Recording = npt.NDArray[np.float32]

TUNED = "halfstep"
"""What stands first in the chunk ``ISFT`` of a bank whose zones are in tune as they stand."""

PERCUSSION_BANK = 128
_ATTENUATION_SCALE = 0.4  # banks are voiced for players that apply this (from memory)
_COMPRESSED = 0x10
_ROM = 0x8000

_STAND_INS = {
    52: (73, 71), 53: (73, 71), 54: (73, 71),  # voices: a flute has as few partials
    68: (64, 71), 69: (65, 71), 70: (67, 71),  # oboe, English horn, bassoon: reeds of their size
    58: (57,), 60: (57,),  # tuba, horn
    11: (4,), 12: (4,), 16: (4,), 19: (4,),  # bars and pipes
    40: (73,), 41: (71,), 42: (67,), 48: (71,),  # strings
}  # fmt: skip
"""The nearest in sound, best first, where a bank lacks a program; else one of its family."""

# generator numbers, section 8.1.2
_START, _END, _LOOP_START, _LOOP_END = 0, 1, 2, 3
_START_COARSE, _END_COARSE, _LOOP_START_COARSE, _LOOP_END_COARSE = 4, 12, 45, 50
_BEND, _CUTOFF, _RESONANCE, _SWEEP, _PAN = 7, 8, 9, 11, 17
_MOVE_DELAY, _MOVE_ATTACK, _MOVE_HOLD, _MOVE_DECAY, _MOVE_SUSTAIN = 25, 26, 27, 28, 29
_DELAY, _ATTACK, _HOLD, _DECAY, _SUSTAIN, _RELEASE = 33, 34, 35, 36, 37, 38
_INSTRUMENT, _KEYS, _VELOCITIES, _ATTENUATION = 41, 43, 44, 48
_COARSE_TUNE, _FINE_TUNE, _SAMPLE, _MODE, _SCALE, _ROOT = 51, 52, 53, 54, 56, 58
_EXCLUSIVE = 57

_DEFAULTS = {
    _CUTOFF: 13500, _DELAY: -12000, _ATTACK: -12000, _HOLD: -12000, _DECAY: -12000,
    _RELEASE: -12000, _SCALE: 100, _ROOT: -1, _MOVE_DELAY: -12000, _MOVE_ATTACK: -12000,
    _MOVE_HOLD: -12000, _MOVE_DECAY: -12000,
}  # fmt: skip
_NOT_ADDED = {_KEYS, _VELOCITIES, _INSTRUMENT, _SAMPLE, _MODE, _ROOT, _EXCLUSIVE}

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
    sample : int
        The number of its recording.
    start : int
        Samples passed over at the beginning.
    end : int
        Samples added at the end; as a rule 0 or less.
    loop_start, loop_end : int
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
    exclusive : int
        The class of zones of which one alone sounds, as of a hi-hat; 0 for none.
    """

    sample: int
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
    exclusive: int

    @property
    def stated_hz(self) -> float:
        """The pitch at which the recording is said to sound at its own rate."""
        return float(440.0 * 2.0 ** ((self.root - self.tune_cents / 100.0 - 69) / 12.0))

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
    file : BankFile
    """

    def __init__(self, path: Path, file: BankFile) -> None:
        self.path = path
        self.texts = file.texts
        self._tables = file.tables
        self._samples = file.samples
        headers = self._tables[b"phdr"][:-1]
        self._presets = {(int(h["bank"]), int(h["program"])): n for n, h in enumerate(headers)}
        self._zones: dict[int, tuple[Zone, ...]] = {}
        self._serving: dict[tuple[int, int], tuple[Zone, ...]] = {}
        self._recordings: dict[int, Recording] = {}

    @property
    def presets(self) -> Mapping[tuple[int, int], str]:
        """The names of all presets, by the format's bank and program."""
        names = self._tables[b"phdr"]["name"]
        return {place: _name(names[number]) for place, number in sorted(self._presets.items())}

    @property
    def programs(self) -> frozenset[int]:
        """The melodic programs that the bank has."""
        return frozenset(program for bank, program in self._presets if bank == 0)

    @property
    def tuned(self) -> bool:
        """True where the bank states that its zones are in tune as they stand."""
        return self.texts.get(b"ISFT", "").startswith(TUNED)

    def preset(self, program: int, *, percussion: bool = False) -> tuple[int, str]:
        """The preset for a program, and a notice where another one has to stand in.

        Another kit stands in for a drum kit without a word, as General MIDI has it. For an
        instrument it is the nearest in sound, else one of the same General MIDI family (eight
        programs to a family), else the first preset there is.
        """
        if percussion:
            return self._kit(program)
        if (0, program) in self._presets:
            return self._presets[0, program], ""
        near = [p for p in _STAND_INS.get(program, ()) if p in self.programs]
        family = [p for p in sorted(self.programs) if p // 8 == program // 8]
        stand_ins = [(0, p) for p in (*near, *family)] or [min(self._presets)]
        name = self.presets[stand_ins[0]]
        notice = f"{self.path.name} has no program {program}; {name} sounds in its place"
        return self._presets[stand_ins[0]], notice

    def _kit(self, program: int) -> tuple[int, str]:
        kits = sorted(place for place in self._presets if place[0] == PERCUSSION_BANK)
        if not kits:
            return self._presets[min(self._presets)], f"{self.path.name} has no drum kit"
        kit = (PERCUSSION_BANK, program)
        return self._presets[kit if kit in kits else kits[0]], ""

    def zones(self, preset: int) -> tuple[Zone, ...]:
        """The zones of a preset, by the number that `preset` gave."""
        if preset not in self._zones:
            self._zones[preset] = tuple(self._read_zones(preset))
        return self._zones[preset]

    def serving(self, preset: int, key: int, velocity: int) -> tuple[Zone, ...]:
        """The zones that sound; outside the preset's compass the nearest one is stretched."""
        place = (preset, key)
        if place not in self._serving:
            self._serving[place] = _of_key(self.zones(preset), key)
        zones = self._serving[place]
        return tuple(z for z in zones if _within(velocity, z.velocities)) or zones[:1]

    def recording(self, sample: int) -> Recording:
        """A sample's sound, by the number that a zone has; decoded once, on first use.

        Returns
        -------
        numpy.ndarray
            float32, 1.0 at full scale, mono.

        Raises
        ------
        ReadError
            When a compressed sample cannot be decoded.
        """
        if sample not in self._recordings:
            self._recordings[sample] = self._read_recording(self._tables[b"shdr"][sample])
        return self._recordings[sample]

    def _read_recording(self, header: Any) -> Recording:
        import numpy as np

        start, end = int(header["start"]), int(header["end"])
        if header["kind"] & _COMPRESSED:
            return _decoded(self._samples[start:end].tobytes(), f"{self.path}: {_name(header[0])}")
        return self._samples[2 * start : 2 * end].view("<i2").astype(np.float32) / 32768.0

    def _read_zones(self, preset: int) -> Iterator[Zone]:
        for outer in self._merged(_PRESETS, preset):
            for inner in self._merged(_INSTRUMENTS, outer[_INSTRUMENT]):
                header = self._tables[b"shdr"][inner[_SAMPLE]]
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
    first = 0 if header["kind"] & _COMPRESSED else int(header["start"])
    return Zone(
        sample=inner[_SAMPLE],
        start=place(0, _START, _START_COARSE),
        end=place(0, _END, _END_COARSE),
        loop_start=place(int(header["loop_start"]) - first, _LOOP_START, _LOOP_START_COARSE),
        loop_end=place(int(header["loop_end"]) - first, _LOOP_END, _LOOP_END_COARSE),
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
        exclusive=value(_EXCLUSIVE),
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


def _of_key(zones: tuple[Zone, ...], key: int) -> tuple[Zone, ...]:
    """The zones that serve a key, else those that share the nearest one's keys."""
    serving = tuple(zone for zone in zones if _within(key, zone.keys))
    if serving or not zones:
        return serving
    nearest = min(zones, key=lambda zone: _distance(key, zone))
    return tuple(zone for zone in zones if zone.keys == nearest.keys)


def _distance(key: int, zone: Zone) -> int:
    """How many keys lie between a key and those that a zone serves; 0 within."""
    low, high = zone.keys
    return max(low - key, key - high, 0)


def _within(number: int, span: tuple[int, int]) -> bool:
    return span[0] <= number <= span[1]


def _name(field: Any) -> str:
    """A name of a record."""
    return bytes(field).decode("latin-1").strip()


def _decoded(stream: bytes, place: str) -> Recording:
    """A compressed sample."""
    import numpy as np
    import soundfile

    try:
        sound, _ = soundfile.read(io.BytesIO(stream), dtype="float32", always_2d=True)
    except soundfile.SoundFileError as error:
        raise ReadError(f"a sample of sound bank {place} cannot be decoded: {error}") from None
    return np.ascontiguousarray(sound[:, 0])


def read_bank(path: str | Path) -> Bank:
    """Open a sound bank, compressed (.sf3) or not (.sf2).

    Raises
    ------
    ReadError
        When the file cannot be read or is no SoundFont 2 bank.
    """
    path = Path(path)
    return Bank(path, read_bank_file(path))


@lru_cache(maxsize=4)
def opened_bank(path: Path) -> Bank:
    """The bank at ``path``, opened once in a process."""
    return read_bank(path)
