"""Step 9: chord tones reached from a neighbour on the weak beat before.

Every other eighth is a chord tone on a beat; the one before it lies a step of the scale
or a half step away. A beginner approaches the strong beats alone, and in the scale.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import costs_of
from halfstep.etude.frame import Flags, Leads, Midis, Palette, Slot, line_slots
from halfstep.etude.parts import Brief
from halfstep.etude.rules import NOT_THREE_EQUAL, SIXTH, LocalRule, chord_tone, palette
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.emissions import Weight
from halfstep.level import Level


def layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], _rng: np.random.Generator
) -> list[Slot]:
    """A line of eighths whose weak ones lead to the beat after them."""
    slots = line_slots(analysis, brief, found)
    leads = Leads.SCALE_NEIGHBOUR if brief.level is Level.BEGINNER else Leads.NEIGHBOUR
    marked = [
        replace(slot, leads=leads) if leads_to(slot, following, brief.level) else slot
        for slot, following in pairwise(slots)
    ]
    return [*marked, slots[-1]]


def leads_to(slot: Slot, following: Slot, level: Level) -> bool:
    """True where the first of two slots may lead to the second, a beat with a chord tone."""
    if slot.palette is None or following.palette is None or is_goal(slot, level):
        return False
    return not slot.closes and is_goal(following, level)


def is_goal(slot: Slot, level: Level) -> bool:
    """True for a place that is led to: strong beats, and any beat from the second level on."""
    on_beat = slot.weight is not Weight.OFF and level is not Level.BEGINNER
    return slot.strong or slot.last or on_beat


def inside_unless_leading(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In range, and in the scale unless the note leads to the next."""
    here = palette(slots[0])
    free = slots[0].leads in {Leads.NEIGHBOUR, Leads.AROUND_FIRST, Leads.AROUND_SECOND}
    return here.open[midis[0]] if free else here.scale[midis[0]]


def neighbours(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A half step, or a whole step in the scale of either chord, into a chord tone."""
    old, new = midis
    size = np.abs(new - old)
    goal = palette(slots[1])
    in_scale = goal.scale[old] | palette(slots[0]).scale[old]
    near = np.where(slots[0].leads is Leads.SCALE_NEIGHBOUR, in_scale, in_scale | (size == 1))
    return np.asarray(goal.tones[new] & (size >= 1) & (size <= 2) & near)


def not_far(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No more than a sixth, and never the same note."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size > 0) & (size <= SIXTH))


def _leading(slots: Sequence[Slot]) -> bool:
    return slots[0].leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}


def _led_to(slots: Sequence[Slot]) -> bool:
    return slots[0].weight is not Weight.OFF or slots[0].strong


INSIDE = LocalRule("only a note that leads to another leaves the scale", 1, inside_unless_leading)
NOT_FAR = LocalRule("no leap wider than a sixth, and no note twice", 2, not_far)
RULES = (
    INSIDE,
    LocalRule("a chord tone on every strong beat", 1, chord_tone, lambda slots: slots[0].strong),
    LocalRule("the weak note before a chord tone is its neighbour", 2, neighbours, _leading),
    NOT_FAR,
    NOT_THREE_EQUAL,
)
COSTS = costs_of(9)
