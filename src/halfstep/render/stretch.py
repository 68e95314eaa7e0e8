"""What do some bars of one part sound like, by themselves, with all that rings on behind them?

A page that plays a band puts such stretches after one another, each on its beat and each ringing
on into the next: nothing has to fit at a seam, any bars can go round, and what is on its way can
sound while the next bars are made.

Conventions
-----------
- A part has the level that it has in `halfstep.render.mixdown`, measured by its beginning alone,
  so that the first bars sound before the others are made; the whole has the gain and the width
  that mixes come to (measured, all styles at 60 and at 200: gain .78 to .88, width 1.9 to 2.6).
- A stretch begins `LEAD` frames before its first beat, for strokes that come early, and ends where
  nothing is heard any more; its length is a whole number of packets.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.meter import Clock
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.mixdown import PACKET, clicks_gain, integers, part_bus, part_gain
from halfstep.render.passage import FilePlan, PartLayout, PartNotes, cut, faded, frames_at
from halfstep.render.room import MEMORY, in_room
from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Sound = npt.NDArray[np.float32]
    Samples = npt.NDArray[np.int16]

LEAD = 4410
"""Frames before the first beat."""
CLICKS = "click"
"""The part whose level goes by its peaks."""
_GAIN, _WIDTH = 0.84, 2.1
_MEASURED_S = 6.0
"""So much of a part tells its level."""
_SILENT = 10.0 ** (-54.0 / 20.0)
_FADE_S = 0.15


@dataclass(frozen=True, slots=True)
class LevelledPart:
    """A part at its level, and the clock that it is played by.

    Attributes
    ----------
    part : PlayedPart
        Some choruses from beat 0; what lies before and behind them, too.
    clock : Clock
    beats : Fraction
        Of a chorus.
    bank : Path
    level : float
        What it is multiplied by.
    """

    part: PlayedPart
    clock: Clock
    beats: Fraction
    bank: Path
    level: float


def levelled(part: PlayedPart, clock: Clock, beats: Fraction, bank: Path) -> LevelledPart:
    """A part brought to its level by its first seconds."""
    played = LevelledPart(part, clock, beats, bank, 1.0)
    if not part.notes:
        return played
    dry = _dry(played, tuple(_beginning(played)), frames_at(clock, part.notes[0].onset))
    gain = clicks_gain(dry) if part.name == CLICKS else part_gain(part.name, dry)
    return replace(played, level=float(gain))


def stretch_sound(played: LevelledPart, start: Fraction, end: Fraction) -> Samples | None:
    """What begins in a stretch of a part; None where nothing does.

    Parameters
    ----------
    played : PartInTime
    start, end : Fraction
        In quarter notes from beat 0.

    Returns
    -------
    numpy.ndarray
        Shape (frames, 2); the first beat is frame `LEAD`.
    """
    notes = [note for note in played.part.notes if start <= note.onset < end]
    if not notes:
        return None
    dry = _dry(played, notes, frames_at(played.clock, start) - LEAD)
    bus = part_bus(played.part.name, cut(dry, dry.shape[-1] + MEMORY))
    return integers(_trimmed(in_room(bus, width=_WIDTH) * _GAIN), _whole())


def held_in(part: PlayedPart, start: Fraction, end: Fraction) -> PlayedPart:
    """The part with what is held over the edges of a stretch begun and ended there."""
    held = (note for note in part.notes if note.onset < end and start < note.onset + note.beats)
    return replace(part, notes=tuple(_held(note, start, end) for note in held))


def _held(note: PlayedNote, start: Fraction, end: Fraction) -> PlayedNote:
    first, last = max(note.onset, start), min(note.onset + note.beats, end)
    return replace(note, onset=first, beats=last - first)


def _beginning(played: LevelledPart) -> Iterator[PlayedNote]:
    begun_s = played.clock.seconds(played.part.notes[0].onset)
    for note in played.part.notes:
        if played.clock.seconds(note.onset) - begun_s <= _MEASURED_S:
            yield note


def _dry(played: LevelledPart, notes: Sequence[PlayedNote], first: int) -> Sound:
    """Notes at the part's level, before the room, from a frame on."""
    import numpy as np

    choruses = max(1, int(notes[-1].onset // played.beats) + 1)
    plan = FilePlan(
        clock=played.clock,
        beats=played.beats,
        count_in_frames=0,
        starts=tuple(frames_at(played.clock, played.beats * n) for n in range(choruses + 1)),
        choruses=choruses,
    )
    layout = PartLayout(PartNotes(played.part), plan, played.bank)
    return layout.stretch(notes, first) * np.float32(played.level)


def _trimmed(sound: Sound) -> Sound:
    """A sound without its inaudible end, in whole packets."""
    import numpy as np

    loud = np.flatnonzero(np.abs(sound).max(axis=0) > _SILENT)
    last = int(loud[-1]) + 1 if len(loud) else LEAD
    ringing = sound[:, : last + round(_FADE_S * FRAME_RATE)]
    return cut(faded(ringing, _FADE_S), -(-ringing.shape[-1] // PACKET) * PACKET)


@lru_cache(maxsize=1)
def _whole() -> Sound:
    import numpy as np

    return np.ones(1, np.float32)
