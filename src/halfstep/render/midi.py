"""What are the notes, for another program? Parts -> a standard MIDI file.

Conventions
-----------
- Format 1, 480 ticks to the quarter: a first track with tempo, metres and key, then one
  track for each part with its name and program.
- Beat 0 is tick 0; notes before it are left out.
- A MIDI tempo counts quarters whatever the metre: 6/8 at a dotted quarter of 60 stands
  as 90 quarters a minute, 666 667 microseconds each.
- Eighths are straight, as written, unless a swinging clock is given.

Source: Standard MIDI Files 1.0 (from memory); read back by mido and music21 in the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from halfstep.files import write_whole
from halfstep.meter import Clock, Meter, clock_for
from halfstep.played import PlayedNote, PlayedPart

TICKS_A_BEAT = 480

_PERCUSSION_CHANNEL = 9
_CHANNELS = 16
_CLOCKS_A_BEAT = 24
_TITLE, _END, _TEMPO, _METER, _KEY = 0x03, 0x2F, 0x51, 0x58, 0x59

Event = tuple[int, int, bytes]
"""Tick, place among the events of a tick, and the bytes."""


def midi_bytes(
    parts: Sequence[PlayedPart],
    *,
    meter: Meter,
    tempo_bpm: float,
    key_fifths: int = 0,
    minor: bool = False,
    title: str = "",
    meters: Sequence[tuple[Fraction, Meter]] = (),
    clock: Clock | None = None,
) -> bytes:
    """A standard MIDI file of some parts.

    Parameters
    ----------
    parts : sequence of PlayedPart
        Concert pitch.
    meter : Meter
        From beat 0.
    tempo_bpm : float
        Pulses a minute, see `halfstep.meter.clock_for`.
    key_fifths : int
        Concert key signature, -7 to 7.
    minor : bool
    title : str
    meters : sequence of (Fraction, Meter)
        Later metres, each with the beat it begins on.
    clock : Clock, optional
        Gives the file this clock's swing.
    """
    beats_per_minute = clock_for(meter, tempo_bpm).beats_per_minute
    tracks = [_conductor(meter, meters, beats_per_minute, key_fifths, minor, title)]
    for part, channel in zip(parts, _channels(parts), strict=True):
        tracks.append(_part_track(part, channel, clock))
    head = struct.pack(">4sIHHH", b"MThd", 6, 1, len(tracks), TICKS_A_BEAT)
    return head + b"".join(struct.pack(">4sI", b"MTrk", len(t)) + t for t in tracks)


def write_midi(
    path: str | Path,
    parts: Sequence[PlayedPart],
    *,
    meter: Meter,
    tempo_bpm: float,
    key_fifths: int = 0,
    minor: bool = False,
    title: str = "",
    meters: Sequence[tuple[Fraction, Meter]] = (),
    clock: Clock | None = None,
) -> None:
    """Store `midi_bytes`; the file appears whole or not at all."""
    data = midi_bytes(
        parts,
        meter=meter,
        tempo_bpm=tempo_bpm,
        key_fifths=key_fifths,
        minor=minor,
        title=title,
        meters=meters,
        clock=clock,
    )
    write_whole(path, data)


def _channels(parts: Sequence[PlayedPart]) -> Iterator[int]:
    """A channel for each part: the tenth for percussion, the others in turn."""
    melodic = [n for n in range(_CHANNELS) if n != _PERCUSSION_CHANNEL]
    used = 0
    for part in parts:
        yield _PERCUSSION_CHANNEL if part.percussion else melodic[used % len(melodic)]
        used += not part.percussion


def _conductor(
    meter: Meter,
    meters: Sequence[tuple[Fraction, Meter]],
    beats_per_minute: float,
    key_fifths: int,
    minor: bool,
    title: str,
) -> bytes:
    events: list[Event] = [(0, 0, _meta(_TITLE, title.encode()))] if title else []
    events.append((0, 1, _meta(_TEMPO, round(60e6 / beats_per_minute).to_bytes(3, "big"))))
    events.append((0, 2, _meta(_METER, _meter_data(meter))))
    events.append((0, 3, _meta(_KEY, struct.pack(">bB", key_fifths, minor))))
    events += [(_tick(beat, None), 2, _meta(_METER, _meter_data(m))) for beat, m in meters]
    return _track(events)


def _meter_data(meter: Meter) -> bytes:
    """Count, power of two of the unit, MIDI clocks to a pulse, 32nds to a quarter."""
    clocks = int(meter.pulse_beats * _CLOCKS_A_BEAT)
    return bytes((meter.count, meter.unit.bit_length() - 1, max(1, clocks), 8))


def _part_track(part: PlayedPart, channel: int, clock: Clock | None) -> bytes:
    events: list[Event] = [(0, 0, _meta(_TITLE, part.name.encode()))]
    if not part.percussion:
        events.append((0, 1, bytes((0xC0 | channel, part.program))))
    for note in part.notes:
        if note.onset >= 0:
            events += _note_events(note, channel, clock)
    return _track(events)


def _note_events(note: PlayedNote, channel: int, clock: Clock | None) -> Iterator[Event]:
    """A note's two events; at one tick ends come before beginnings."""
    start = _tick(note.onset, clock)
    end = max(start + 1, _tick(note.onset + note.beats, clock))
    yield start, 5, bytes((0x90 | channel, note.midi, note.velocity))
    yield end, 4, bytes((0x80 | channel, note.midi, 0))


def _tick(beat: Fraction, clock: Clock | None) -> int:
    beats = clock.seconds(beat) / clock.beat_s if clock else beat
    return round(beats * TICKS_A_BEAT)


def _track(events: Sequence[Event]) -> bytes:
    """Events in order, each after the ticks since the one before, and the end of track."""
    data, now = bytearray(), 0
    for tick, _, event in sorted(events):
        data += _variable_length(tick - now) + event
        now = tick
    return bytes(data) + _variable_length(0) + _meta(_END, b"")


def _meta(kind: int, data: bytes) -> bytes:
    return bytes((0xFF, kind)) + _variable_length(len(data)) + data


def _variable_length(number: int) -> bytes:
    """A number in groups of seven bits, the high bit set on all but the last.

    >>> _variable_length(480).hex()
    '8360'
    """
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(number & 0x7F | 0x80)
    return bytes(reversed(groups))
