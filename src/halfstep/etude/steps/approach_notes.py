"""Chord tones reached from a neighbour on the weak beat before.

Every other eighth is a chord tone on a beat; the one before it lies a step of the scale
or a half step away. A beginner approaches the strong beats alone, and in the scale. Of an
advanced player's approach notes a third at least come from outside it.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from halfstep.etude.chromatic_leads import FROM_OUTSIDE, with_chromatic_leads
from halfstep.etude.costs import (
    Cost,
    comes_to_rest,
    leaping_twice,
    new_note_first,
    of_notes,
    pauses,
    recovering,
    returning,
    skipping,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach
from halfstep.etude.layouts import tried_again
from halfstep.etude.line_rhythm import with_rhythm
from halfstep.etude.palette import Palette
from halfstep.etude.rules import (
    CHORD_TONE_ON_STRONG,
    HIGH_POINT,
    INSIDE,
    NOT_FAR,
    NOT_THREE_EQUAL,
    LocalRule,
    neighbours,
)
from halfstep.etude.sentences import EXAMPLES, PartLine, breaths, leading_in_words, size_of_move
from halfstep.etude.slots import Leads, Slot, line_slots
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.random_stream import RandomStream


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """A line in a rhythm for the level whose weak notes lead to the beat after them."""
    slots = with_rhythm(line_slots(analysis, brief, palettes), analysis, brief, rng)
    leads = Leads.SCALE_NEIGHBOUR if brief.level is Level.BEGINNER else Leads.NEIGHBOUR
    leading = leading_places(slots, brief.level)
    for place in leading:
        slots[place] = slots[place]._replace(leads=leads)
    if brief.level is Level.ADVANCED:
        slots = with_chromatic_leads(slots, leading, rng)
    return slots


def leading_places(slots: Sequence[Slot], level: Level) -> list[int]:
    """Where a note leads to the next.

    A chord that comes early is led to as a beat is, from the beat before it, which is then no
    goal itself.
    """
    early = [comes_early(slot) for slot in slots]
    leading = []
    for place, (slot, following) in enumerate(pairwise(slots)):
        if early[place + 1]:
            leads = slot.palette is not None and not slot.closes
        else:
            leads = leads_to(slot, following, level) and not any(early[place + 2 : place + 3])
        leading += [place] if leads else []
    return leading


def comes_early(slot: Slot) -> bool:
    """True for a chord that is struck off the beat and held over it."""
    held = slot.palette is not None and slot.beats > EIGHTH
    return held and slot.strong and slot.weight is Weight.OFF


def leads_to(slot: Slot, following: Slot, level: Level) -> bool:
    """True where the first of two slots may lead to the second, a beat with a chord tone."""
    if slot.palette is None or following.palette is None or is_goal(slot, level):
        return False
    return not slot.closes and is_goal(following, level)


def is_goal(slot: Slot, level: Level) -> bool:
    """True for a place that is led to: strong beats, and any beat from the second level on."""
    on_beat = slot.weight is not Weight.OFF and level is not Level.BEGINNER
    return slot.strong or slot.last or on_beat


def _leading(slots: Sequence[Slot]) -> bool:
    return slots[0].leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}


def approaches(line: PartLine) -> str:
    """The approach notes by shape."""
    approaching = [pair for pair in line.joined() if pair[0].approach is not Approach.NONE]
    chromatic = [pair for pair in approaching if pair[0].approach is Approach.CHROMATIC]
    shown = leading_in_words(line, chromatic or approaching, EXAMPLES)
    if chromatic:
        come = "comes" if len(chromatic) == 1 else "come"
        such = ":" if len(chromatic) == 1 else ", such as"
        return (
            f"{len(chromatic)} of {len(approaching)} approach notes {come} "
            f"from outside the scale{such} {shown}."
        )
    return f"The approach notes are all in the scale, such as {shown}." if shown else ""


def pulled_to(line: PartLine) -> str:
    """A third or seventh that an approach note leads to, by a half step if there is one."""
    pulls = [
        (old, new)
        for old, new in line.joined()
        if old.approach is not Approach.NONE and new.degree and new.degree.number in {3, 7}
    ]
    if not pulls:
        return ""
    old, new = min(pulls, key=lambda both: size_of_move(line, *both))
    pull = f"{line.name(old)} pull to {line.name(new)}, the {line.role(new)}"
    return f"Hear {pull}, in {line.place(new)}."


STEP = Step(
    name="approach-notes",
    title="Approach notes",
    task="Each chord tone on the beat is reached from a neighbour before it. "
    "Hear the neighbour pull.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(
            of_notes(2, skipping, 0.35),  # less: most steps are given by the rules
            Cost(1, tells, 2.3),
            Cost(1, new_note_first, 1.6),
            Cost(1, pauses, 1.0),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, returning, 1.0),
            of_notes(3, leaping_twice, 0.8),
            of_notes(3, recovering, 0.4),
        ),
    ),
    rules=(
        HIGH_POINT,
        INSIDE,
        CHORD_TONE_ON_STRONG,
        LocalRule("the weak note before a chord tone is its neighbour", 2, neighbours, _leading),
        FROM_OUTSIDE,
        NOT_FAR,
        NOT_THREE_EQUAL,
    ),
    sentences=(approaches, pulled_to, breaths),
    least_outline=0.6,
)
