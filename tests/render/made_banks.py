"""Sound banks made by hand, record by record, so that what a reader finds is known.

Source: SoundFont Technical Specification 2.04 (from memory), section 7 for the chunks and
their records, 8.1.2 for the numbers of the generators.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from math import pi

import numpy as np
import soundfile

RATE = 44_100
APART = 46
"""Samples of silence that the standard wants between two recordings."""

GENERATORS = {
    "start": 0, "end": 1, "loop_start": 2, "loop_end": 3, "start_coarse": 4, "bend": 7,
    "cutoff": 8, "resonance": 9, "sweep": 11, "end_coarse": 12, "pan": 17, "move_delay": 25,
    "move_attack": 26, "move_hold": 27, "move_decay": 28, "move_sustain": 29, "delay": 33,
    "attack": 34, "hold": 35, "decay": 36, "sustain": 37, "release": 38, "instrument": 41,
    "keys": 43, "velocities": 44, "loop_start_coarse": 45, "attenuation": 48,
    "loop_end_coarse": 50, "coarse_tune": 51, "fine_tune": 52, "sample": 53, "mode": 54,
    "scale": 56, "exclusive": 57, "root": 58,
}  # fmt: skip

Zone = dict[str, int]
"""Generators by name, in the order in which they are written."""


def span(low: int, high: int) -> int:
    """A range of keys or velocities as a generator's amount: low byte, high byte."""
    return struct.unpack("<h", bytes((low, high)))[0]


@dataclass(frozen=True)
class Recording:
    """A sample of a bank with its header."""

    samples: np.ndarray
    rate: int = RATE
    root: int = 69
    correction: int = 0
    loop: tuple[int, int] = (0, 0)
    kind: int = 1


@dataclass(frozen=True)
class Preset:
    """A preset: its bank, its program, and its zones."""

    zones: Sequence[Zone]
    program: int = 0
    bank: int = 0


@dataclass(frozen=True)
class MadeBank:
    """Everything in a bank; ``instruments`` are lists of zones."""

    recordings: Sequence[Recording]
    instruments: Sequence[Sequence[Zone]]
    presets: Sequence[Preset] = field(default_factory=lambda: [Preset([{"instrument": 0}])])

    def bytes(self) -> bytes:
        """The file."""
        version = chunk(b"ifil", struct.pack("<HH", 2, 4))
        tables = b"".join(chunk(name, data) for name, data in self._tables().items())
        body = group(b"INFO", version) + group(b"sdta", chunk(b"smpl", self._samples()))
        return chunk(b"RIFF", b"sfbk" + body + group(b"pdta", tables))

    def _samples(self) -> bytes:
        gap = np.zeros(APART, "<i2")
        return b"".join(r.samples.astype("<i2").tobytes() + gap.tobytes() for r in self.recordings)

    def _tables(self) -> dict[bytes, bytes]:
        presets = [list(preset.zones) for preset in self.presets]
        instruments = [list(zones) for zones in self.instruments]
        return {
            b"phdr": self._preset_headers(presets),
            **zone_tables(b"p", presets),
            b"inst": instrument_headers(instruments),
            **zone_tables(b"i", instruments),
            b"shdr": self._sample_headers(),
        }

    def _preset_headers(self, zones: Sequence[Sequence[Zone]]) -> bytes:
        bags = [0, *accumulate(map(len, zones))]
        rows = [
            struct.pack("<20s3H3I", b"preset", preset.program, preset.bank, bag, 0, 0, 0)
            for preset, bag in zip(self.presets, bags, strict=False)
        ]
        return b"".join(rows) + struct.pack("<20s3H3I", b"EOP", 0, 0, bags[-1], 0, 0, 0)

    def _sample_headers(self) -> bytes:
        rows, start = [], 0
        for recording in self.recordings:
            end = start + len(recording.samples)
            loop = [start + place for place in recording.loop]
            numbers = (
                start,
                end,
                *loop,
                recording.rate,
                recording.root,
                recording.correction,
                0,
                recording.kind,
            )
            rows.append(struct.pack("<20s5IBbHH", b"sample", *numbers))
            start = end + APART
        return b"".join(rows) + struct.pack("<20s5IBbHH", b"EOS", *[0] * 9)


def compressed_bank(recording: Recording, *, padded: bool, extra: int) -> bytes:
    """A bank of one recording as Ogg Vorbis, ``extra`` bytes behind it, its chunk padded or not."""
    file = io.BytesIO()
    soundfile.write(file, recording.samples, recording.rate, format="OGG", subtype="VORBIS")
    stream = file.getvalue()
    stream += b"\0" * ((len(stream) + extra) % 2)  # of odd or of even size, as is wanted
    numbers = (0, len(stream), *recording.loop, recording.rate, recording.root, 0, 0, 0x11)
    tables = bank_of(recording=recording)._tables()
    header = struct.pack("<20s5IBbHH", b"sample", *numbers)
    tables[b"shdr"] = header + struct.pack("<20s5IBbHH", b"EOS", *[0] * 9)
    sound = chunk(b"smpl", stream)
    lists = (
        group(b"INFO", chunk(b"ifil", struct.pack("<HH", 3, 0))),
        group(b"sdta", sound if padded else sound[: 8 + len(stream)]),
        group(b"pdta", b"".join(chunk(name, data) for name, data in tables.items())),
    )
    whole = b"".join(lists if padded else [part[: 8 + size_of(part)] for part in lists])
    return chunk(b"RIFF", b"sfbk" + whole)


def size_of(data: bytes) -> int:
    """The size that a chunk states."""
    return int(struct.unpack("<I", data[4:8])[0])


def chunk(name: bytes, data: bytes) -> bytes:
    """A chunk of RIFF: its name, its size, its data, and a byte more where that is odd."""
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def group(name: bytes, data: bytes) -> bytes:
    """A list of chunks."""
    return chunk(b"LIST", name + data)


def instrument_headers(zones: Sequence[Sequence[Zone]]) -> bytes:
    bags = [0, *accumulate(map(len, zones))]
    rows = [struct.pack("<20sH", b"instrument", bag) for bag in bags[:-1]]
    return b"".join(rows) + struct.pack("<20sH", b"EOI", bags[-1])


def zone_tables(level: bytes, several: Sequence[Sequence[Zone]]) -> dict[bytes, bytes]:
    """Bags, modulators (none) and generators of a level, each with its last empty record."""
    zones = [zone for zones in several for zone in zones]
    firsts = [0, *accumulate(len(zone) for zone in zones)]
    bags = b"".join(struct.pack("<HH", first, 0) for first in firsts)
    generators = [
        struct.pack("<Hh", GENERATORS[name], amount)
        for zone in zones
        for name, amount in zone.items()
    ]
    return {
        level + b"bag": bags,
        level + b"mod": bytes(10),
        level + b"gen": b"".join(generators) + bytes(4),
    }


def sine(hz: float = 440.0, length_s: float = 1.0, level: float = 0.5) -> np.ndarray:
    """A sine as samples of 16 bits."""
    time_s = np.arange(round(length_s * RATE)) / RATE
    return np.rint(32767 * level * np.sin(2 * pi * hz * time_s)).astype("<i2")


def looped_sine(periods: int = 44, samples: int = 4410, **header: int) -> Recording:
    """Whole periods, so that the loop has no seam: 44 in 4410 samples are 440 Hz."""
    hz = periods * RATE / samples
    return Recording(
        sine(hz, 2 * samples / RATE), loop=(samples // 2, samples // 2 + samples), **header
    )


LOOPED: Zone = {"sustain": 0, "release": -12000, "mode": 1, "sample": 0}
"""A zone that plays its loop and ends at once."""


def bank_of(zone: Zone | None = None, recording: Recording | None = None) -> MadeBank:
    """A bank of one recording in one zone."""
    return MadeBank([recording or looped_sine()], [[zone or LOOPED]])
