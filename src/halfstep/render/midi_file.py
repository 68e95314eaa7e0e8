"""What are the notes, for another program? Parts -> a standard MIDI file.

Conventions
-----------
- Format 1, `TICKS_A_BEAT` to the quarter: a first track with tempo, metre and key, then one
  track for each part with its name and program.
- Beat 0 is tick 0; notes before it are left out. A place is an exact fraction until it is
  rounded to its tick, half to even.
- A MIDI tempo counts quarters whatever the metre: 6/8 at a dotted quarter of 60 stands
  as 90 quarters a minute, 666 667 microseconds each.
- A swing moves what lies inside a quarter, as it does in the sound (`halfstep.meter.Clock`);
  without one eighths are straight, as written. What a note is late or longer by goes to its
  ticks, but none before tick 0. Names are UTF-8.
- A scoop and a fall are turns of the pitch wheel (`halfstep.render.bent_pitch`), which goes an
  octave either way on such a part.

Sources: Standard MIDI Files 1.0; General MIDI level 1 for the tenth channel; MIDI 1.0, registered
parameter number 0, for the range of the wheel.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from halfstep.meter import Clock, Meter, clock_for
from halfstep.pitch import name_at
from halfstep.played import Bend, PlayedNote, PlayedPart
from halfstep.render.bent_pitch import bend_curve

if TYPE_CHECKING:
    import mido

TICKS_A_BEAT = 480

_PERCUSSION_CHANNEL = 9
_CHANNELS = 16
_CLOCKS_A_BEAT = 24
_MICROSECONDS_A_MINUTE = 60e6
_MINOR_FIFTHS = 3  # from a major key up to its relative minor
_ENDS_FIRST = {"note_off": 0, "pitchwheel": 1, "note_on": 2}
_BENT_SEMITONES = 12
"""How far the pitch wheel goes on a part that bends notes, to both sides."""
_WHEEL = 8192


@dataclass(frozen=True, slots=True)
class _Event:
    """A message of a part at its tick."""

    tick: int
    message: mido.Message

    @property
    def order(self) -> tuple[int, ...]:
        """Where it stands in its track: at one tick ends come before beginnings."""
        message = self.message
        place = self.tick, _ENDS_FIRST[message.type]
        if message.type == "pitchwheel":  # in the order that they were made in
            return place
        return *place, message.note, message.velocity


def midi_bytes(
    parts: Sequence[PlayedPart],
    *,
    meter: Meter,
    tempo_bpm: float,
    swing: float = 1.0,
    key_fifths: int = 0,
    minor: bool = False,
    title: str = "",
) -> bytes:
    """A standard MIDI file of some parts.

    Parameters
    ----------
    parts : sequence of PlayedPart
        Concert pitch.
    meter : Meter
    tempo_bpm : float
        Pulses a minute, see `halfstep.meter.clock_for`.
    swing : float
        Long eighth over short eighth; 1 is straight.
    key_fifths : int
        Concert key signature, -7 to 7.
    minor : bool
    title : str
    """
    import mido

    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_A_BEAT)
    file.tracks.append(
        mido.MidiTrack(
            [
                *([_named(title)] if title else []),
                _tempo(meter, tempo_bpm),
                _time_signature(meter),
                _key_signature(key_fifths, minor=minor),
            ]
        )
    )
    clock = clock_for(meter, tempo_bpm, swing=swing)
    for part, channel in zip(parts, _channels(parts), strict=True):
        file.tracks.append(_part_track(part, channel, clock))
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


def _named(name: str) -> Any:
    """The name of a track; the library writes Latin-1, which keeps the bytes of UTF-8."""
    import mido

    return mido.MetaMessage("track_name", name=name.encode().decode("latin-1"))


def _tempo(meter: Meter, tempo_bpm: float) -> Any:
    import mido

    quarters = clock_for(meter, tempo_bpm).beats_per_minute
    return mido.MetaMessage("set_tempo", tempo=round(_MICROSECONDS_A_MINUTE / quarters))


def _time_signature(meter: Meter) -> Any:
    """Count, unit, and how many MIDI clocks a pulse lasts."""
    import mido

    return mido.MetaMessage(
        "time_signature",
        numerator=meter.count,
        denominator=meter.unit,
        clocks_per_click=max(1, int(meter.pulse_beats * _CLOCKS_A_BEAT)),
        notated_32nd_notes_per_beat=8,
    )


def _key_signature(fifths: int, *, minor: bool) -> Any:
    import mido

    tonic = name_at(fifths + _MINOR_FIFTHS * minor).ascii
    return mido.MetaMessage("key_signature", key=f"{tonic}{'m' if minor else ''}")


def _channels(parts: Sequence[PlayedPart]) -> Iterator[int]:
    """A channel for each part: the tenth for percussion, the others in turn."""
    melodic = [n for n in range(_CHANNELS) if n != _PERCUSSION_CHANNEL]
    used = 0
    for part in parts:
        yield _PERCUSSION_CHANNEL if part.percussion else melodic[used % len(melodic)]
        used += not part.percussion


def _part_track(part: PlayedPart, channel: int, clock: Clock) -> Any:
    """Name, program and notes of a part."""
    import mido

    track = mido.MidiTrack([_named(part.name)])
    if not part.percussion or part.program:  # a standard kit needs no word
        track.append(mido.Message("program_change", channel=channel, program=part.program))
    notes = [note for note in part.notes if note.onset >= 0]
    events = [event for note in notes for event in _note_events(note, channel, clock)]
    if any(note.bend for note in notes):
        track += _wheel_range(channel)
        for note, after in zip(notes, [*notes[1:], None], strict=True):
            events += _bend_events(note, after, channel, clock)
    track += _after_each_other(events)
    return track


def _note_events(note: PlayedNote, channel: int, clock: Clock) -> Iterator[_Event]:
    """A note's beginning and its end."""
    import mido

    start, end = _ends(note, clock)
    key = {"channel": channel, "note": note.midi}
    yield _Event(start, mido.Message("note_on", velocity=note.velocity, **key))
    yield _Event(end, mido.Message("note_off", velocity=0, **key))


def _bend_events(
    note: PlayedNote, after: PlayedNote | None, channel: int, clock: Clock
) -> Iterator[_Event]:
    """The pitch wheel of a note that is scooped into or falls off.

    After a fall it is back in the middle where the next note begins, so that nobody hears it.
    """
    import mido

    if note.bend is None:
        return
    start, end = _ends(note, clock)
    ticks_a_second = TICKS_A_BEAT / clock.beat_s
    for at_s, cents in bend_curve(note.bend, (end - start) / ticks_a_second):
        pitch = round(cents / (100 * _BENT_SEMITONES) * _WHEEL)
        tick = min(end, start + round(at_s * ticks_a_second))
        yield _Event(tick, mido.Message("pitchwheel", channel=channel, pitch=pitch))
    if note.bend is Bend.FALL:
        back = _ends(after, clock)[0] if after else end + TICKS_A_BEAT
        yield _Event(max(end, back), mido.Message("pitchwheel", channel=channel, pitch=0))


def _wheel_range(channel: int) -> Iterator[mido.Message]:
    """How far the pitch wheel goes: registered parameter 0, and none after it."""
    import mido

    for control, value in (
        (101, 0),
        (100, 0),
        (6, _BENT_SEMITONES),
        (38, 0),
        (101, 127),
        (100, 127),
    ):
        yield mido.Message("control_change", channel=channel, control=control, value=value)


def _ends(note: PlayedNote, clock: Clock) -> tuple[int, int]:
    """The ticks on which a note begins and ends, one tick later at least."""
    start = _tick(note.onset, clock, note.late_s)
    end_late_s = note.late_s + note.longer_s
    return start, max(start + 1, _tick(note.onset + note.beats, clock, end_late_s))


def _tick(beat: Fraction, clock: Clock, late_s: float) -> int:
    if clock.swing == 1 and not late_s:
        return round(beat * TICKS_A_BEAT)
    return max(0, round((clock.seconds(beat) + late_s) / clock.beat_s * TICKS_A_BEAT))


def _after_each_other(events: Iterable[_Event]) -> Iterator[mido.Message]:
    """The messages in order, each with the ticks since the one before."""
    before = 0
    for event in sorted(events, key=lambda event: event.order):
        yield event.message.copy(time=event.tick - before)
        before = event.tick
