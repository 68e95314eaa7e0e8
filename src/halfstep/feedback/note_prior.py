"""What a player is about to play, as numbers for the ear: from a written line.

A written note makes its pitch likelier around its onset. The weight is small: it decides
where the sound leaves two readings open, as for a note struck again in an echoing room,
and never against what is plainly heard.

Two more were tried and left out, since they hid wrong notes: that the octaves of a written
note are less likely, and that the notes of a chord are likelier while it lasts.

Conventions
-----------
- Onsets are quarter notes from the start of bar 1, as they sound, swing and all.
- Time is that of the take.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from halfstep.harmony.line_over_chords import LineNote
from halfstep.listen.pitch_prior import PitchPrior
from halfstep.listen.spectra import LOW, SEMITONES

STEP_S = 0.02
NEAR_S = 0.12
"""A player begins a note within so much of its place, mostly."""
WRITTEN_NATS = 0.75
"""For the written note at its onset: chosen on made-up lines in rooms as the most with which a note
that was held was not heard twice more often because the line has it twice."""


def prior_of_line(
    line: Sequence[LineNote],
    *,
    time_s: Callable[[float], float],
    choruses: int = 1,
    form_beats: float = 0.0,
) -> PitchPrior:
    """What a written line makes likely.

    Parameters
    ----------
    line : sequence of LineNote
    time_s : callable
        When so many quarter notes after the start of bar 1 are, in seconds of the recording.
    choruses : int
        How often the line is played, ``form_beats`` apart.
    form_beats : float
        Quarter notes.
    """
    notes = [
        (chorus * form_beats + float(note.onset), note)
        for chorus in range(choruses)
        for note in line
    ]
    end_s = max((time_s(onset + float(note.beats)) for onset, note in notes), default=0.0)
    times = np.arange(round((end_s + 1) / STEP_S)) * STEP_S
    weights = np.zeros((len(times), SEMITONES), dtype=np.float32)
    for onset, note in notes:
        semitone = note.midi - LOW
        if 0 <= semitone < SEMITONES:
            near = np.exp(-0.5 * ((times - time_s(onset)) / NEAR_S) ** 2) * WRITTEN_NATS
            weights[:, semitone] = np.maximum(weights[:, semitone], near)
    return PitchPrior(STEP_S, weights)
