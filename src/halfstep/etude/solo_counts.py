"""How are solos phrased? Counts made by `training/count_solos.py`, and shares drawn from them.

Nothing but counts is kept: which kind of beat (`halfstep.etude.beat_kinds`) follows which, how
phrases begin and end, how many beats they last, how far they lie apart, and which interval
follows which.

Source: 41 transcribed solos of saxophonists and clarinettists in swing (those with odd numbers
of the shared ``masters``; jazzodata derived tables, MIT). The shares of what is rare lean on
those of what is common: additive smoothing, and shorter contexts.
"""

from __future__ import annotations

import json
from bisect import bisect_left
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

Shares = np.ndarray[Any, np.dtype[np.float64]]
SHIPPED = Path(__file__).with_name("solo-counts.json")
WIDEST = 12
"""Semitones of the widest interval that is counted."""
LONGEST_PHRASE = 32
"""Beats; what is longer counts as so long."""
LONGEST_REST = 20
"""Eighths of rest between two phrases; what is longer, too."""
LONGEST_LAST = 6
LONGEST_RUN = 12
"""Intervals that go one way; what is longer counts as so long."""
SHAPED = 5
"""Notes of a phrase that has a shape."""
WIDEST_COMPASS, COMPASS_CLASS = 30, 3
"""Semitones from the lowest to the highest note of a phrase, counted by minor thirds."""
_CLASSES = (-8, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 7)
"""The top of each class of intervals that another follows, in semitones; above is one more."""
LEAN = 6.0
"""Counts of the shorter context that the shares of a longer one begin with."""


def interval_class(semitones: int) -> int:
    """The class of an interval that another one follows.

    >>> interval_class(-12), interval_class(0), interval_class(2), interval_class(12)
    (0, 6, 8, 12)
    """
    return bisect_left(_CLASSES, semitones)


@dataclass(frozen=True, slots=True, eq=False)
class SoloShares:
    """Shares; the last axis of each adds up to 1.

    Attributes
    ----------
    begins : array, shape (4, 8)
        In which beat of a bar of four phrases begin, and with which kind: all add up to 1.
    follows : array, shape (8, 8, 8)
        The kind of a beat inside a phrase after two others.
    second : array, shape (8, 8)
        After the first one.
    ends : array, shape (8, 8)
        The kind of the last beat after the one before it.
    phrase_beats, rest_eighths, last_eighths : array
        From one on: beats of a phrase, eighths of rest between phrases, eighths of the last note.
    moves : array, shape (13, 25)
        An interval from -12 to 12 semitones after one of a class.
    runs : array, shape (2, 12)
        From one on: intervals that go down, or up, before the line turns.
    shapes : array, shape (4, 4)
        In which fourth of its notes a phrase has its highest and its lowest: all add up to 1.
    compasses : array
        Minor thirds from the lowest to the highest note of a phrase.
    """

    begins: Shares
    follows: Shares
    second: Shares
    ends: Shares
    phrase_beats: Shares
    rest_eighths: Shares
    last_eighths: Shares
    moves: Shares
    runs: Shares
    shapes: Shares
    compasses: Shares


@cache
def solo_shares() -> SoloShares:
    """The shares of the counts that are shipped."""
    counted = {
        name: np.array(rows, float) for name, rows in json.loads(SHIPPED.read_text()).items()
    }
    single = counted["two beats"].sum(axis=0)
    second = _leaning(counted["two beats"], _shares(single))
    moves = counted["intervals"]
    return SoloShares(
        begins=counted["phrases begin"] / counted["phrases begin"].sum(),
        follows=_leaning(counted["three beats"], second[None]),
        second=second,
        ends=_leaning(counted["phrases end"], _shares(counted["phrases end"].sum(axis=0))),
        phrase_beats=_shares(counted["beats of a phrase"]),
        rest_eighths=_shares(counted["eighths of rest between phrases"]),
        last_eighths=_shares(counted["eighths of the last note"]),
        moves=_leaning(moves, _shares(moves.sum(axis=0) + 1.0)),
        runs=_shares(counted["intervals one way"]),
        shapes=counted["top and bottom by fourths"] / counted["top and bottom by fourths"].sum(),
        compasses=_shares(counted["compass in thirds"]),
    )


def _shares(counts: Shares) -> Shares:
    return np.asarray(counts / counts.sum(axis=-1, keepdims=True))


def _leaning(counts: Shares, shorter: Shares) -> Shares:
    """Shares that are those of a shorter context where little was counted."""
    return _shares(counts + LEAN * shorter)
