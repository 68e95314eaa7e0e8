"""Step 12: two bars played, two bars left for the player, over the same changes.

A call asks: it ends on a held tone of its chord that is not the root. Only where the form
itself ends on a call may that one come home.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import (
    Cost,
    leaping_twice,
    lingering,
    new_note_first,
    pauses,
    returning,
    rooted,
    skipping,
    tells,
)
from halfstep.etude.frame import Flags, Midis, Palette, Piece, Slot, pieces
from halfstep.etude.layouts import with_phrases
from halfstep.etude.parts import Brief
from halfstep.etude.rhythm import filled_in, held_last
from halfstep.etude.rules import (
    IN_SCALE,
    MOVES_IN_SCALE,
    NOT_THREE_EQUAL,
    LocalRule,
    chord_tone,
    palette,
)
from halfstep.etude.shapes import slots_of
from halfstep.harmony.analysis import Analysis

CALL_BARS = 2
"""Bars of a call, and of the answer that is left open."""
ASKS = 9
"""The motif of a slot that ends a question."""


def layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """Calls in a rhythm that varies, and rests for the answers."""
    calls = call_bars(len(analysis.chart.form))
    slots: list[Slot] = []
    rhythm: list[Fraction] = []
    entry, chord = 0, -1
    for piece in pieces(analysis):
        here = found[piece.chord]
        if here is None or piece.bar.number not in calls:
            slots += _silence(piece, whole=piece.bar.number not in calls)
            chord = -1
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        at = piece.start - piece.bar_start
        rhythm = filled_in(
            piece.bar.meter, at, piece.beats, brief.level, rng, not_like=rhythm, feel=brief.feel
        )
        asks = piece.bar.number + 1 not in calls
        ends = piece.end == piece.bar_start + piece.bar.beats
        lengths = held_last(rhythm) if asks and ends else rhythm
        made = slots_of(piece, piece.start, lengths, here, entry)
        slots += made
        entry += len(made)
    marked = with_phrases(slots, analysis, brief)
    breath = brief.instrument.breath
    for place, (slot, after) in enumerate(pairwise(marked)):
        if slot.palette is not None and after.palette is None:
            marked[place] = replace(slot, closes=True, breath=breath, motif=ASKS)
    return marked


def _silence(piece: Piece, *, whole: bool) -> list[Slot]:
    """A rest for a piece; for a ``whole`` bar one rest, whatever chords it has."""
    if not whole:
        return [Slot(piece.start, piece.beats, None, True, 0)]
    first = piece.start == piece.bar_start
    return [Slot(piece.start, piece.bar.beats, None, True, 0)] if first else []


def call_bars(bars: int) -> set[int]:
    """Numbers of the bars that are played: two of every four; half of what is left.

    >>> sorted(call_bars(10)), sorted(call_bars(3))
    ([1, 2, 5, 6, 9], [1, 2])
    """
    played = {n for n in range(1, bars + 1) if (n - 1) % (2 * CALL_BARS) < CALL_BARS}
    left = bars % (2 * CALL_BARS)
    return played - ({bars} if left == CALL_BARS else set())


def off_root(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A chord tone that is not the root, where the player has one."""
    here = palette(slots[0])
    open_end = here.tones & (np.arange(128) % 12 != here.root_class)
    return (open_end if open_end.any() else here.tones)[midis[0]]


def asks(slots: Sequence[Slot]) -> bool:
    """True for the last note of a question."""
    return slots[0].motif == ASKS


RULES = (
    IN_SCALE,
    NOT_THREE_EQUAL,
    MOVES_IN_SCALE,
    LocalRule("a call ends on a chord tone", 1, chord_tone, lambda slots: slots[0].closes),
    LocalRule("a call that is answered does not end on the root", 1, off_root, asks),
)
COSTS = (
    Cost(2, skipping, 0.8),
    Cost(1, tells, 0.6),
    Cost(1, rooted, 0.6),
    Cost(1, new_note_first, 1.0),
    Cost(1, pauses, 1.0),
    Cost(1, lingering, 2.0),
    Cost(3, returning, 0.8),
    Cost(3, leaping_twice, 0.8),
)
