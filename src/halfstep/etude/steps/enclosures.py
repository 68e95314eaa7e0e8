"""A note above and a note below before the chord tone on a strong beat.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from halfstep.etude.chromatic_leads import CHROMATIC_SHARE, FROM_OUTSIDE, with_chromatic_leads
from halfstep.etude.costs import (
    Cost,
    comes_to_rest,
    leaping_twice,
    new_note_first,
    of_notes,
    pauses,
    recovering,
    skipping,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach
from halfstep.etude.layouts import tried_again
from halfstep.etude.line_rhythm import EVERY, REST_ON_BEAT, with_rhythm
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import (
    CHORD_TONE_ON_STRONG,
    HIGH_POINT,
    INSIDE,
    NOT_FAR,
    NOT_THREE_EQUAL,
    LocalRule,
    neighbours,
    palette_at,
)
from halfstep.etude.sentences import PartLine, highest
from halfstep.etude.slots import FIRST_AROUND, Leads, Slot, line_slots
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.random_stream import RandomStream

RHYTHMS = tuple(rhythm for rhythm in EVERY if rhythm is not REST_ON_BEAT)
"""A rest before a strong beat would leave no room for two notes."""


ADVANCED_SHARE = Fraction(3, 4)
"""Of the advanced players' enclosures, how many end on a note from outside the scale."""
_FREE = (Leads.AROUND_FIRST, Leads.AROUND_SECOND, Leads.NEIGHBOUR)
_IN_SCALE = (Leads.SCALE_AROUND_FIRST, Leads.SCALE_AROUND_SECOND, Leads.SCALE_NEIGHBOUR)


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """A line in a rhythm for the level; before each strong beat two notes stand around its tone.

    Where a chord is too short for two, one neighbour leads to it. A beginner stays in the scale;
    for the others some of the notes that come last come from outside it.
    """
    slots = with_rhythm(line_slots(analysis, brief, palettes), analysis, brief, rng, RHYTHMS)
    first, second, single = _IN_SCALE if brief.level is Level.BEGINNER else _FREE
    for place in range(1, len(slots)):
        goal, last = slots[place], slots[place - 1]
        if not _is_goal(goal) or not _is_free(last):
            continue
        before = slots[place - 2] if place > 1 else None
        if before is not None and _is_free(before):
            slots[place - 2] = before._replace(leads=first)
            slots[place - 1] = last._replace(leads=second)
        else:
            slots[place - 1] = last._replace(leads=single)
    if brief.level is Level.BEGINNER:
        return slots
    share = ADVANCED_SHARE if brief.level is Level.ADVANCED else CHROMATIC_SHARE
    leading = [place for place, slot in enumerate(slots) if slot.leads in {second, single}]
    return with_chromatic_leads(slots, leading, rng, share)


def _is_goal(slot: Slot) -> bool:
    return slot.palette is not None and (slot.strong or slot.last)


def _is_free(slot: Slot) -> bool:
    """True for a weak note inside a phrase, which may stand around the next tone."""
    return slot.palette is not None and not (slot.strong or slot.closes or slot.last)


def around(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """One note above and one below, each a half step away or a step of the scale."""
    first, second, goal = midis
    palette = palette_at(slots[2])
    kept = palette.tones[goal] & ((first - goal) * (second - goal) < 0)
    for slot, midi in zip(slots, (first, second), strict=False):
        size = np.abs(midi - goal)
        in_scale = palette.scale[midi] | palette_at(slot).scale[midi]
        kept = kept & ((size == 1) | ((size == 2) & in_scale))
    return np.asarray(kept)


def _encloses(slots: Sequence[Slot]) -> bool:
    return slots[0].leads in FIRST_AROUND


def _leading(slots: Sequence[Slot]) -> bool:
    return slots[0].leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}


def enclosures(line: PartLine) -> str:
    """Which notes to play around which, in the order they come."""
    triples = list(zip(line.notes, line.notes[1:], line.notes[2:], strict=False))
    enclosing = [
        triple
        for triple in triples
        if triple[0].approach is triple[1].approach is Approach.ENCLOSURE
        and triple[0].end == triple[1].onset
        and triple[1].end == triple[2].onset
        and triple[2].approach is not Approach.ENCLOSURE
    ]
    texts = [
        f"{line.name(a)} and {line.name(b)} before {line.name(goal)}, the {line.role(goal)}, "
        f"in {line.place(goal)}"
        for a, b, goal in enclosing[:2]
    ]
    return f"Play {'; '.join(texts)}." if texts else ""


STEP = Step(
    name="enclosures",
    title="Enclosures",
    task="Play a note above and a note below, then the chord tone between them on the strong beat.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(  # none for returning: the rules themselves go around a tone
            of_notes(2, skipping, 0.5),
            Cost(1, tells, 3.6),
            Cost(1, new_note_first, 1.5),
            Cost(1, pauses, 1.0),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, leaping_twice, 0.8),
            of_notes(3, recovering, 0.4),
        ),
    ),
    rules=(
        HIGH_POINT,
        INSIDE,
        CHORD_TONE_ON_STRONG,
        LocalRule("a note above and a note below lead to the tone", 3, around, _encloses),
        LocalRule("where there is room for one, it is a neighbour", 2, neighbours, _leading),
        FROM_OUTSIDE,
        NOT_FAR,
        NOT_THREE_EQUAL,
    ),
    sentences=(enclosures, highest),
    least_outline=0.6,
)
