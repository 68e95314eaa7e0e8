"""Chord tones out of order, the nearest one at each change.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from halfstep.etude.costs import (
    Amounts,
    Cost,
    by_size,
    comes_to_rest,
    leaping_twice,
    new_note_first,
    of_notes,
    returning,
    rocking,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import tried_again
from halfstep.etude.line_rhythm import with_eighths, with_rhythm
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import (
    CORE_TONES,
    HIGH_POINT,
    IN_SCALE,
    NOT_THREE_EQUAL,
    LocalRule,
    at_change,
    palette_at,
)
from halfstep.etude.sentences import PartLine, changes, smallest_change
from halfstep.etude.slots import Slot, line_slots
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.random_stream import RandomStream

_BROKEN = np.array([3.0, 1.2, 0.9, 0.2, 0.2, 0.2, 0.6, 0.6, 1.4, 1.6, 2.4, 2.6, 2.4])
OFTEN = 0.3
"""How often eighths give way to another rhythm, beside the steps that follow."""


def broken_line(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """A line of eighths in a rhythm for the level, or of quarters and eighths for a beginner."""
    if brief.level is Level.BEGINNER:
        return with_eighths(line_slots(analysis, brief, palettes, unit=Fraction(1)), rng)
    return with_rhythm(line_slots(analysis, brief, palettes), analysis, brief, rng, often=OFTEN)


def nearest_across(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The chord tone nearest to the note before, or that very note where it stays."""
    old, new = midis
    tones = np.flatnonzero(palette_at(slots[1]).core)
    distances = np.abs(tones - np.asarray(old)[..., None])
    distances = np.where(distances == 0, 99, distances)
    return np.asarray(np.abs(new - old) <= distances.min(axis=-1))


def out_of_order(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Three tones in a row never run through the arpeggio in order."""
    rank = palette_at(slots[2]).core_rank
    first, second, third = (rank[midi] for midi in midis)
    up, on = second - first, third - second
    return np.asarray((np.abs(up) != 1) | (up != on))


def _within_chord(slots: Sequence[Slot]) -> bool:
    return slots[0].palette is slots[2].palette


def broken(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Skips of a third to a fifth are what a broken arpeggio is made of."""
    return by_size(_BROKEN, midis)


def nearest(line: PartLine) -> str:
    """How the line goes on at changes."""
    return smallest_change(
        line, "The smallest move at a change is in {place}: {move} over {chord}."
    )


STEP = Step(
    name="broken-arpeggio",
    title="Broken arpeggio",
    task="Chord tones out of order. At each change go to the nearest tone of the new chord.",
    writing=NoteByNote(
        layouts=tried_again(broken_line),
        costs=(
            of_notes(2, broken, 1.0),
            Cost(1, tells, 1.4),
            Cost(1, new_note_first, 1.5),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, returning, 1.2),
            of_notes(3, rocking, 0.5),  # over a triad the line climbs instead
            of_notes(3, leaping_twice, 0.8),
        ),
    ),
    rules=(
        HIGH_POINT,
        IN_SCALE,
        NOT_THREE_EQUAL,
        CORE_TONES,
        LocalRule("tones out of order", 3, out_of_order, _within_chord),
        LocalRule("the nearest chord tone across the change", 2, nearest_across, at_change),
    ),
    sentences=(nearest, changes),
    least_outline=0.9,
)
