"""The tracks of a MIDI file, as the library mido (MIT) reads them."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import mido


class Track(NamedTuple):
    """Channels, programs, and the first ticks of the notes with what they strike."""

    channels: set[int]
    programs: list[int]
    starts: list[int]
    notes: list[int]


def midi_tracks(path: Path) -> dict[str, Track]:
    """Each track that has notes, by its name."""
    tracks = {}
    for track in mido.MidiFile(path).tracks[1:]:
        now, onsets = 0, []
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                onsets.append((now, message.note))
        channels = {m.channel for m in track if m.type == "note_on"}
        programs = [m.program for m in track if m.type == "program_change"]
        tracks[track.name] = Track(channels, programs, *map(list, zip(*onsets, strict=True)))
    return tracks
