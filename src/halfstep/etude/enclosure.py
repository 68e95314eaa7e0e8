"""Step 10: a note above and a note below before the chord tone on a strong beat.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfstep.etude.approach import INSIDE, NOT_FAR, neighbours
from halfstep.etude.costs import costs_of
from halfstep.etude.frame import Flags, Leads, Midis, Palette, Slot, line_slots
from halfstep.etude.parts import Brief
from halfstep.etude.rules import NOT_THREE_EQUAL, LocalRule, chord_tone, palette
from halfstep.harmony.analysis import Analysis


def layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], _rng: np.random.Generator
) -> list[Slot]:
    """A line of eighths; before each strong beat two notes stand around its tone.

    Where a chord is too short for two, one neighbour leads to it.
    """
    slots = line_slots(analysis, brief, found)
    for place in range(1, len(slots)):
        goal, last = slots[place], slots[place - 1]
        if not _is_goal(goal) or not _is_free(last):
            continue
        before = slots[place - 2] if place > 1 else None
        if before is not None and _is_free(before):
            slots[place - 2] = replace(before, leads=Leads.AROUND_FIRST)
            slots[place - 1] = replace(last, leads=Leads.AROUND_SECOND)
        else:
            slots[place - 1] = replace(last, leads=Leads.NEIGHBOUR)
    return slots


def _is_goal(slot: Slot) -> bool:
    return slot.palette is not None and (slot.strong or slot.last)


def _is_free(slot: Slot) -> bool:
    """True for a weak note inside a phrase, which may stand around the next tone."""
    return slot.palette is not None and not (slot.strong or slot.closes or slot.last)


def around(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """One note above and one below, each a half step away or a step of the scale."""
    first, second, goal = midis
    here = palette(slots[2])
    kept = here.tones[goal] & ((first - goal) * (second - goal) < 0)
    for slot, midi in zip(slots, (first, second), strict=False):
        size = np.abs(midi - goal)
        in_scale = here.scale[midi] | palette(slot).scale[midi]
        kept = kept & ((size == 1) | ((size == 2) & in_scale))
    return np.asarray(kept)


def _encloses(slots: Sequence[Slot]) -> bool:
    return slots[0].leads is Leads.AROUND_FIRST


def _leading(slots: Sequence[Slot]) -> bool:
    return slots[0].leads is Leads.NEIGHBOUR


RULES = (
    INSIDE,
    LocalRule("a chord tone on every strong beat", 1, chord_tone, lambda slots: slots[0].strong),
    LocalRule("a note above and a note below lead to the tone", 3, around, _encloses),
    LocalRule("where there is room for one, it is a neighbour", 2, neighbours, _leading),
    NOT_FAR,
    NOT_THREE_EQUAL,
)
COSTS = costs_of(10)
