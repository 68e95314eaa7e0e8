"""How well do heard notes fit chords, wherever they are laid? Counted by what they are over them.

A note is a tone of its chord, another note of its scale, or outside. How often each is played
tells a student's line, where hardly a note is outside, from that of a player who means what
lies outside; so the shares are taken from the take itself where it fits best, and one that
fits nowhere better than elsewhere says nothing.

Conventions: counts are arrays whose last axis is `KINDS` long. Likelihoods are in nats.

Source: the first shares are common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from halfstep.feedback.judged_take import JudgedTake
from halfstep.harmony.analysis import Analysis

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Layout = TypeVar("Layout")

KINDS = 3
"""Tone of the chord, other note of its scale, outside."""
_PITCH_CLASSES = np.array([4.0, 3.0, 5.0])
"""How many of the twelve are of each kind over most chords."""
_FIRST_SHARES = np.array([0.6, 0.36, 0.04])
_BY_CHANCE = 0.3
"""The share of notes that say nothing, where one layout is held against others as it is."""
FEWEST_DEGREES, HELD_SHARE = 5, 0.9
"""A take is of few degrees where fewer hold so much of its notes: the root and the fifth are as
well the fourth and the root. So are 7 in 72 lines of the program's steps over their chords, and
1 in 204 over others."""
_LEAST_SHARE = 0.02
_ROUNDS = 3
_NEAR = 1e-6


def kinds_over(analysis: Analysis) -> Ints:
    """What each of the twelve pitch classes is over each chord; all alike over silence.

    Returns
    -------
    (chords, 12) ints
        Places in the last axis of counts.
    """
    kinds = np.full((len(analysis.chords), 12), KINDS - 1)
    for place, chord in enumerate(analysis.chords):
        if chord.silent:
            continue
        kinds[place, list(chord.scale.pitch_classes)] = 1
        kinds[place, [tone.name.pitch_class for tone in chord.tones]] = 0
    return kinds


def kinds_laid(
    take: JudgedTake, lates: Sequence[float], semitones: Sequence[int], *, chords_late: int = 0
) -> Ints:
    """What each note is over its chord, were the take so much late and so much higher.

    Parameters
    ----------
    take : JudgedTake
    lates : sequence of float
        Quarter notes.
    semitones : sequence of int
    chords_late : int
        Over the chord so many before it, as whoever misses a change plays on.

    Returns
    -------
    (lates, notes, semitones) ints
        Places in the last axis of counts.
    """
    onsets = np.array([note.onset for note in take.notes])
    midis = np.array([note.midi for note in take.notes])
    places = (onsets - np.array(lates)[:, None] + _NEAR) % take.form.beats
    chords = np.searchsorted(take.form.chord_starts, places, side="right") - 1
    classes = (midis[:, None] - np.array(semitones)) % 12
    kinds: Ints = kinds_over(take.analysis)[chords[:, :, None] - chords_late, classes]
    return kinds


def counted(kinds: Ints) -> Floats:
    """Each kind as a row of counts of one note."""
    counts: Floats = (kinds[..., None] == np.arange(KINDS)).astype(np.float64)
    return counts


def fitted(
    counts: Floats, choose: Callable[[Floats], tuple[Layout, Floats]]
) -> tuple[Layout, Floats]:
    """The layout of a take that fits best, and the nats of all of them.

    Parameters
    ----------
    counts : (..., KINDS) floats
        How many notes are of each kind, in each layout that can be chosen.
    choose : callable
        Given the nats of each layout, the chosen one and its counts in all, (KINDS,).
    """
    shares = _FIRST_SHARES
    for _ in range(_ROUNDS):
        nats: Floats = counts @ np.log(shares / _PITCH_CLASSES)
        layout, chosen = choose(nats)
        whole = np.maximum(chosen / max(chosen.sum(), 1.0), _LEAST_SHARE)
        shares = whole / whole.sum()
    return layout, nats


def has_few_degrees(take: JudgedTake) -> bool:
    """True for a take of one figure from the root: it follows its chords, and says no more."""
    chords = take.analysis.chords
    symbols = (chords[take.chord_at(note.onset)].span.symbol for note in take.notes)
    steps = Counter(
        (note.midi - symbol.root.pitch_class) % 12
        for note, symbol in zip(take.notes, symbols, strict=True)
        if not symbol.silent
    )
    most = (count for _, count in steps.most_common(FEWEST_DEGREES - 1))
    return sum(most) >= HELD_SHARE * steps.total()


def plain_nats(counts: Floats) -> Floats:
    """The nats of layouts by the first shares, with room for whoever goes outside.

    Parameters
    ----------
    counts : (..., KINDS) floats
        Notes of each kind, or their shares.
    """
    by_chance = _PITCH_CLASSES / _PITCH_CLASSES.sum()
    shares = (1 - _BY_CHANCE) * _FIRST_SHARES + _BY_CHANCE * by_chance
    nats: Floats = counts @ np.log(shares / _PITCH_CLASSES)
    return nats
