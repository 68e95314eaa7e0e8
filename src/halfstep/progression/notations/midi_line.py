"""Which line does a MIDI file hold, and when? Notes with their tempo and metre maps.

Conventions
-----------
- Places are quarter-note beats from the start of the file, exact; tempo counts quarters a
  minute whatever the metre, 120 until the first event (Standard MIDI Files 1.0).
- Tempo and metre events of all tracks hold for all, but in format 2 each track is its own.
- A part is a channel of a track, percussion left out. The line is the part that most
  nearly has one note at a time; of equals, the first.

Source: Standard MIDI Files 1.0; read by the library mido.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from halfstep.errors import ReadError
from halfstep.meter import Meter
from halfstep.played import PlayedNote
from halfstep.progression.chart_file import file_bytes
from halfstep.tempo_map import TempoMap

MAX_BYTES = 5_000_000
MAX_NOTES = 100_000
_PERCUSSION = 9
_UNITS = (1, 2, 4, 8, 16)


@dataclass(frozen=True, slots=True)
class MidiLine:
    """The line of a MIDI file.

    Attributes
    ----------
    notes : tuple of PlayedNote
        In order of onset, concert pitch.
    tempo : TempoMap
    meters : tuple of (Fraction, Meter)
        Beat and metre from there on; the first at 0.
    notices : tuple of str
        What was passed over.
    """

    notes: tuple[PlayedNote, ...]
    tempo: TempoMap
    meters: tuple[tuple[Fraction, Meter], ...]
    notices: tuple[str, ...] = ()


def read_midi_line(path: Path) -> MidiLine:
    """Read the line of a standard MIDI file.

    Raises
    ------
    ReadError
        When it is no MIDI file, is damaged, or has no notes besides drums.
    """
    try:
        return midi_line(file_bytes(path, MAX_BYTES))
    except ReadError as error:
        raise error.at(source=path.name) from None


def midi_line(data: bytes) -> MidiLine:
    """The line in the bytes of a standard MIDI file; see `read_midi_line`."""
    if len(data) > MAX_BYTES:
        raise ReadError(f"larger than {MAX_BYTES // 1_000_000} MB; a line is smaller")
    file, notices = _parsed(data)
    ticks = int(file.ticks_per_beat)
    if not 0 < ticks < 0x8000:
        raise ReadError("counts frames, not beats; export it with a tempo in quarter notes")
    timed = [_timed(track) for track in file.tracks]
    parts = [
        (number, notes) for number, track in enumerate(timed) for notes in _parts(track, ticks)
    ]
    if not parts:
        raise ReadError("no notes besides drums; give a file with a line in it")
    number, notes = max(parts, key=lambda part: (_oneness(part[1]), -part[0]))
    shared = [timed[number]] if file.type == 2 else timed
    events = sorted((event for track in shared for event in track), key=lambda event: event[0])
    return MidiLine(notes, _tempo(events, ticks), _meters(events, ticks), notices)


def _parsed(data: bytes) -> tuple[Any, tuple[str, ...]]:
    """The file, and a notice where a key signature is none; the notes do not need it."""
    import mido

    try:
        return mido.MidiFile(file=io.BytesIO(data), clip=True), ()
    except mido.KeySignatureError as error:
        plain = _no_such_signature().sub(_NO_SIGNATURE, data)
        if plain == data:
            raise ReadError(f"no whole MIDI file: {error}; export it again") from error
        return _parsed(plain)[0], ("a key signature that is none is passed over",)
    except MemoryError:  # no fault of the file: the size of what is read is bounded
        raise
    except Exception as error:  # the library raises many kinds on damaged files
        fault = str(error).splitlines()[0] if str(error) else "it ends too early"
        raise ReadError(f"no whole MIDI file: {fault}; export it again") from error


_NO_SIGNATURE = b"\xff\x59\x02\x00\x00"


@cache
def _no_such_signature() -> re.Pattern[bytes]:
    """A key signature of more than seven signs, or of neither major nor minor."""
    return re.compile(
        rb"\xff\x59\x02 (?! [\x00-\x07\xf9-\xff] [\x00\x01] ) ..", re.VERBOSE | re.DOTALL
    )


def _timed(track: Any) -> list[tuple[int, Any]]:
    """Messages with their absolute ticks."""
    now = 0
    timed = []
    for message in track:
        now += int(message.time)
        timed.append((now, message))
    return timed


def _parts(track: Sequence[tuple[int, Any]], ticks: int) -> list[tuple[PlayedNote, ...]]:
    """The notes of each channel but the drums'."""
    sounding: dict[tuple[int, int], list[tuple[int, int]]] = {}
    notes_of_channels: dict[int, list[PlayedNote]] = {}
    for now, message in track:
        if message.type not in {"note_on", "note_off"} or message.channel == _PERCUSSION:
            continue
        place = (message.channel, message.note)
        if message.type == "note_on" and message.velocity:
            sounding.setdefault(place, []).append((now, message.velocity))
        elif sounding.get(place):
            start, velocity = sounding[place].pop(0)
            if now > start:
                length = Fraction(now - start, ticks)
                note = PlayedNote(Fraction(start, ticks), length, message.note, velocity)
                notes_of_channels.setdefault(message.channel, []).append(note)
    if sum(map(len, notes_of_channels.values())) > MAX_NOTES:
        raise ReadError(f"more than {MAX_NOTES} notes; give a file with the line alone")
    order = [
        sorted(notes, key=lambda note: (note.onset, -note.midi))
        for notes in notes_of_channels.values()
    ]
    return [tuple(notes) for notes in order]


def _oneness(notes: Sequence[PlayedNote]) -> float:
    """The share of notes that have ended when the next begins."""
    if len(notes) < 2:
        return 0.0
    return sum(a.onset + a.beats <= b.onset for a, b in pairwise(notes)) / (len(notes) - 1)


def _tempo(events: Sequence[tuple[int, Any]], ticks: int) -> TempoMap:
    changes = {
        Fraction(now, ticks): 60_000_000 / message.tempo
        for now, message in events
        if message.type == "set_tempo" and message.tempo > 0
    }
    return TempoMap(tuple(sorted(changes.items())))


def _meters(events: Sequence[tuple[int, Any]], ticks: int) -> tuple[tuple[Fraction, Meter], ...]:
    """Metre changes; what no player counts is left out."""
    changes = {Fraction(0): Meter()}
    for now, message in events:
        if message.type == "time_signature":
            count, unit = int(message.numerator), int(message.denominator)
            if 1 <= count <= 32 and unit in _UNITS:
                changes[Fraction(now, ticks)] = Meter(count, unit)
    return tuple(sorted(changes.items(), key=lambda change: change[0]))
