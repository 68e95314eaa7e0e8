"""What a player is about to play, as numbers for the ear: from a written line or a chart.

A written note makes its pitch likelier around its onset, and its octaves less likely; a
chord makes its notes a little likelier while it lasts. The weights are small: they decide
where the sound leaves two readings open, as for a note struck again in an echoing room,
and never against what is plainly heard.

Conventions
-----------
- Onsets are quarter notes from the start of bar 1, as they sound, swing and all.
- Time is that of the backing, where bar 1 begins at ``start_s``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.harmony.note_likelihoods import chord_family, log_shares
from halfstep.harmony.outline import LineNote
from halfstep.listen.pitch_prior import PitchPrior
from halfstep.listen.spectra import LOW, SEMITONES
from halfstep.progression.chart import Chart, spans

STEP_S = 0.02
NEAR_S = 0.12
"""A player begins a note within so much of its place, mostly."""
WRITTEN_NATS, OCTAVE_NATS = 1.5, -0.7
"""For the written note at its onset, and for its octaves while it lasts."""
CHORD_NATS = 0.5
"""The most that a chord says for or against a note."""


def prior_of_line(
    line: Sequence[LineNote],
    *,
    quarter_s: float,
    start_s: float,
    choruses: int = 1,
    form_beats: float = 0.0,
) -> PitchPrior:
    """What a written line makes likely.

    Parameters
    ----------
    line : sequence of LineNote
    quarter_s : float
        The length of a quarter note.
    start_s : float
        Where bar 1 begins.
    choruses : int
        How often the line is played, ``form_beats`` apart.
    form_beats : float
        Quarter notes.
    """
    notes = [
        (start_s + (chorus * form_beats + float(note.onset)) * quarter_s, note)
        for chorus in range(choruses)
        for note in line
    ]
    end_s = max((onset_s + float(n.beats) * quarter_s for onset_s, n in notes), default=0.0)
    times = np.arange(round((end_s + 1) / STEP_S)) * STEP_S
    weights = np.zeros((len(times), SEMITONES), dtype=np.float32)
    for onset_s, note in notes:
        semitone = note.midi - LOW
        near = np.exp(-0.5 * ((times - onset_s) / NEAR_S) ** 2) * WRITTEN_NATS
        lasts = (times >= onset_s - NEAR_S) & (times < onset_s + float(note.beats) * quarter_s)
        if 0 <= semitone < SEMITONES:
            weights[:, semitone] = np.maximum(weights[:, semitone], near)
        for octave in (semitone - 12, semitone + 12):
            if 0 <= octave < SEMITONES:
                weights[lasts, octave] = np.where(
                    weights[lasts, octave] > 0, weights[lasts, octave], OCTAVE_NATS
                )
    return PitchPrior(STEP_S, weights)


def prior_of_chart(
    chart: Chart, *, quarter_s: float, start_s: float, choruses: int = 1
) -> PitchPrior:
    """What the chords make likely, by the shares that players of solos played over them.

    Parameters
    ----------
    chart : Chart
    quarter_s : float
        The length of a quarter note.
    start_s : float
        Where bar 1 begins.
    choruses : int
    """
    form_s = float(chart.beats) * quarter_s
    times = np.arange(round((start_s + choruses * form_s) / STEP_S)) * STEP_S
    weights = np.zeros((len(times), SEMITONES), dtype=np.float32)
    into_form_s = np.mod(times - start_s, form_s) if form_s else times
    for span in spans(chart):
        family = chord_family(span.symbol)
        if family is None:
            continue
        begin_s = float(span.start) * quarter_s
        within = (into_form_s >= begin_s) & (into_form_s < begin_s + float(span.beats) * quarter_s)
        weights[within & (times >= start_s)] = _of_chord(
            log_shares(family, span.symbol.root.pitch_class)
        )
    return PitchPrior(STEP_S, weights)


def _of_chord(rows: Sequence[float]) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    """Nats for each semitone, against all notes being played alike."""
    classes = [float(np.log(np.exp(rows[pc::12]).mean() * 12)) for pc in range(12)]
    nats = np.clip(classes, -1, 1) * CHORD_NATS
    return np.array([nats[(LOW + n) % 12] for n in range(SEMITONES)], dtype=np.float32)
