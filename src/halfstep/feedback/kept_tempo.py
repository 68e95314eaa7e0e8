"""Which tempo does a player alone keep, and is the recording itself too fast or too slow?

Without a backing in the take nothing holds the player to the tempo that was said. Every tempo
around it is laid under the notes, stretch by stretch, and the likeliest is taken if it is
clearly likelier than the one that was said: a player who only drifts keeps that one.

A file that states a wrong sampling rate is another thing: tempo and pitch are then off by the
same known ratio, and the take is put right.

Source: the bounds were chosen on made-up takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import permutations
from math import log2

import numpy as np

from halfstep.feedback.beat_following import (
    PHASES,
    Floats,
    eighth_timing,
    quarter_timing,
)
from halfstep.listen.heard_take import HeardNote, HeardTake

_FARTHEST = 1.3
"""How many times as fast or as slow as said a player may be."""
_STEP = 0.004
_STRETCH = 16.0
"""Cells in which a tempo is held against the notes."""
_SPREAD_S = 0.03
_NEAR = 0.045
"""What lies so near to the tempo that was said is followed from there."""
_FEWEST_NOTES = 24
_CLEAR_NATS, _NATS_A_NOTE = 8.0, 0.08
"""How much likelier another tempo must be, in all and for each note."""
_DOUBT = 0.15
"""How far from what was said, as a natural logarithm, players are, mostly; the doubt grows as in
a normal distribution, eight times over."""
_RATES = (48_000, 44_100)
_SAME_SPEED, _SAME_CENTS = 0.006, 15.0


def kept_quarter_s(onsets_s: Sequence[float], quarter_s: float, cell: Fraction) -> float:
    """The quarter note that is played in; the one that was said where no other is clear.

    Parameters
    ----------
    onsets_s : sequence of float
        In order.
    quarter_s : float
        The one that was said.
    cell : Fraction
        What is counted in, in quarter notes.
    """
    if len(onsets_s) < _FEWEST_NOTES:
        return quarter_s
    steps = round(np.log(_FARTHEST) / _STEP)
    logs = np.arange(-steps, steps + 1) * _STEP
    onsets = np.array(onsets_s) - onsets_s[0]
    cell_s = float(cell) * quarter_s
    nats = np.array([_nats(onsets, cell_s * np.exp(away), cell, cell_s) for away in logs])
    nats -= 4 * (logs / _DOUBT) ** 2
    best = int(nats.argmax())
    usual = float(nats[np.abs(logs) <= _NEAR].max())
    if nats[best] - usual < _CLEAR_NATS + _NATS_A_NOTE * len(onsets):
        return quarter_s
    return quarter_s * float(np.exp(logs[best]))


def _nats(onsets: Floats, cell_s: float, cell: Fraction, said_cell_s: float) -> float:
    """How likely the notes are at a tempo, each stretch where it fits best."""
    timing = (quarter_timing if cell == 1 else eighth_timing)(_SPREAD_S / cell_s)
    phases = np.round(onsets / cell_s * PHASES).astype(np.int64) % PHASES
    stretches = (onsets / (_STRETCH * said_cell_s)).astype(np.int64)
    counts = np.bincount(stretches * PHASES + phases, minlength=(stretches[-1] + 1) * PHASES)
    spectra = np.fft.rfft(counts.reshape(-1, PHASES), axis=1)
    table = np.conj(np.fft.rfft(timing.log_likelihoods()))
    fits = np.fft.irfft(spectra * table, PHASES, axis=1)
    return float(fits.max(axis=1).sum())


def speed_of(take: HeardTake, quarter_s: float, kept_s: float) -> float:
    """How many times too fast a recording is by a wrong sampling rate; 1 where it is right.

    Parameters
    ----------
    take : HeardTake
    quarter_s, kept_s : float
        The quarter note that was said, and the one that is played in.
    """
    for stated, true in permutations(_RATES, 2):
        speed = stated / true
        cents = (take.tuning_cents - 1200 * log2(speed) + 50) % 100 - 50
        if abs(quarter_s / kept_s / speed - 1) < _SAME_SPEED and abs(cents) < _SAME_CENTS:
            return speed
    return 1.0


def at_true_speed(take: HeardTake, speed: float) -> HeardTake:
    """A take as it was played, where the recording is so many times too fast."""
    fall = 12 * log2(speed)
    notes = tuple(_slowed(note, speed, fall) for note in take.notes)
    slowed = replace(
        take,
        notes=notes,
        length_s=take.length_s * speed,
        rate_ratio=take.rate_ratio / speed,
    )
    cents = take.tuning_cents - 100 * fall
    return slowed.named((cents + 50) % 100 - 50)


def _slowed(note: HeardNote, speed: float, fall: float) -> HeardNote:
    return replace(
        note,
        onset_s=note.onset_s * speed,
        offset_s=note.offset_s * speed,
        pitch_midi=note.pitch_midi - fall,
    )
