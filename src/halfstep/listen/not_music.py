"""Is it an instrument at all? Clicks and speech give notes too, which mean nothing.

A metronome's events are short and all alike; no tongue is as regular. Speech glides: within
what passes for a note the pitch moves by most of a semitone, and no pitch is sure.

Source: common practice, no source; the limits lie between made-up and synthetic clicks and
speech on one side, and recorded staccato, tremolo and vibrato on the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.spectra import RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

_FRAME = RATE // 400
"""Samples between levels: 2.5 ms."""
_BEFORE, _RISE, _TOP, _APART = 8, 3.0, 16, 40
"""Frames before an event and how much louder it is, frames in which it is loudest, frames to
the next."""
FEWEST_CLICKS, CLICK_S, ECHOED_CLICK_S = 6, 0.04, 0.095
"""A click has sunk by 10 dB after the second, in a room after the third."""
MOSTLY, REGULAR, REGULARITY = 0.85, 0.8, 0.012
"""Shares of events, and how far from the middle interval a regular one may lie."""
SHORTEST_FRAMES, FEWEST_PIECES = 6, 12
SPEECH_CERTAINTY, SPEECH_SPREAD, SPEECH_GLIDE = 0.79, 0.045, 1.0


def are_clicks(sound: Floats) -> bool:
    """True where nothing but clicks sounds, as of a metronome.

    Parameters
    ----------
    sound : float32 array, shape (samples,)
        At `spectra.RATE`.
    """
    events = _events(sound)
    if len(events) < FEWEST_CLICKS:
        return False
    onset_s, length_s = (np.array(column) for column in zip(*events, strict=True))
    if np.percentile(length_s, 90) >= ECHOED_CLICK_S:
        return False
    steps_s = np.diff(onset_s)
    middle_s = np.median(steps_s)
    regular = np.mean(np.abs(steps_s - middle_s) < REGULARITY * middle_s)
    return bool(regular >= REGULAR or np.mean(length_s < CLICK_S) >= MOSTLY)


def _events(sound: Floats) -> list[tuple[float, float]]:
    """Onset of each sudden rise, and how long until it has sunk by 10 dB, in seconds."""
    whole = sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME)
    levels = np.sqrt(np.mean(np.square(whole), axis=1))
    if len(levels) < 2:
        return []
    levels[1:] = np.maximum(levels[1:], levels[:-1])
    loud = float(np.percentile(levels, 99.7)) / 6
    events = []
    frame = 1
    while frame < len(levels):
        before = levels[max(0, frame - _BEFORE) : frame].min()
        if levels[frame] <= loud or levels[frame] <= _RISE * before:
            frame += 1
            continue
        rise = levels[frame : frame + _TOP]
        begin = frame + int(np.argmax(rise >= rise.max() / 2))
        sunk = levels[frame + int(rise.argmax()) :] <= rise.max() * 10**-0.5
        end = frame + int(rise.argmax()) + (int(sunk.argmax()) if sunk.any() else len(sunk))
        events.append((begin * _FRAME / RATE, (end - begin) * _FRAME / RATE))
        frame = max(end, begin + _APART)
    return events


@dataclass(slots=True)
class SpeechSigns:
    """What tells speech from playing, gathered note by note.

    Attributes
    ----------
    lengths : list of int
        Frames.
    certainties : list of float
    spreads, glides : list of float
        Standard deviation of the pitch in semitones, and its slope in semitones a second.
    """

    lengths: list[int] = field(default_factory=list)
    certainties: list[float] = field(default_factory=list)
    spreads: list[float] = field(default_factory=list)
    glides: list[float] = field(default_factory=list)

    def add(self, bend: Floats, certainty: float, frames_a_second: float) -> None:
        """Take in a note by the course of its pitch, in semitones a frame."""
        if len(bend) < SHORTEST_FRAMES - 2:
            return
        time = np.arange(len(bend)) - (len(bend) - 1) / 2
        self.lengths.append(len(bend))
        self.certainties.append(certainty)
        self.spreads.append(float(np.std(bend)))
        self.glides.append(abs(float(time @ bend / (time @ time))) * frames_a_second)

    def are_of_speech(self) -> bool:
        """True where what sounds is spoken."""
        return (
            len(self.lengths) >= FEWEST_PIECES
            and float(np.average(self.certainties, weights=self.lengths)) < SPEECH_CERTAINTY
            and float(np.median(self.spreads)) > SPEECH_SPREAD
            and float(np.median(self.glides)) > SPEECH_GLIDE
        )
