"""Before step 1: four ways to play over chords without any theory.

- rhythm: one note for as long as it fits the chords, in rhythms that vary. The note
  changes as seldom as can be, which is found exactly.
- echo: two bars of chord tones, and two bars to play them back.
- question: two bars that end on a chord tone but not the root, two bars for an answer;
  the last answer is written out and ends on the root.
- root and third: nothing else, in rhythm.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.etude.calls import ASKS, CALL_BARS, asks, call_bars, off_root
from halfstep.etude.costs import (
    Amounts,
    Cost,
    comes_to_rest,
    leaping_twice,
    new_note_first,
    pauses,
    returning,
    skipping,
    stepwise,
    tells,
)
from halfstep.etude.frame import Flags, Midis, Palette, Piece, Slot, pieces
from halfstep.etude.layouts import Layout, with_phrases
from halfstep.etude.parts import Brief
from halfstep.etude.rhythm import filled_in, held_last, left_out
from halfstep.etude.rules import (
    CORE_TONES,
    IN_SCALE,
    MOVES_IN_SCALE,
    NOT_THREE_EQUAL,
    LineRule,
    LocalRule,
    palette,
)
from halfstep.etude.shapes import slots_of
from halfstep.harmony.analysis import Analysis

RHYTHM, ECHO, QUESTION, ROOT_THIRD = -4, -3, -2, -1
"""The numbers of the steps before step 1, by which they are sorted."""

NEW_NOTE = 6.0
"""What another note costs a one-note solo, beside a chord tone's nothing."""
NO_CHORD_TONE = 0.5
"""What a bar of a note that is in the scale but not in the chord costs."""


def _in_rhythm(
    analysis: Analysis,
    brief: Brief,
    found: Sequence[Palette | None],
    rng: np.random.Generator,
    played: set[int],
    *,
    rests: bool = False,
) -> list[Slot]:
    """Slots in a rhythm that varies in the bars that are played, and rests in the others.

    With ``rests`` some of the notes are left out.
    """
    slots: list[Slot] = []
    rhythm: list[Fraction] = []
    inside: set[Fraction] = set()
    entry, chord = 0, -1
    for piece in pieces(analysis):
        here = found[piece.chord]
        if here is None or piece.bar.number not in played:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            chord = -1
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        at = piece.start - piece.bar_start
        rhythm = filled_in(
            piece.bar.meter, at, piece.beats, brief.level, rng, not_like=rhythm, feel=brief.feel
        )
        stops = piece.end == piece.bar_start + piece.bar.beats
        ends = stops and piece.bar.number + 1 not in played
        lengths = held_last(rhythm) if ends else rhythm
        out = left_out(piece.bar.meter, at, lengths, brief.level, rng) if rests else None
        made = _with_rest(piece, lengths, here, entry, out)
        inside |= {slot.onset for slot in made if slot.palette is None}
        slots += made
        entry += sum(slot.palette is not None for slot in made)
    marked = with_phrases(slots, analysis, brief)
    for place, (slot, after) in enumerate(pairwise(marked)):
        if slot.palette is not None and after.palette is None and after.onset not in inside:
            marked[place] = replace(slot, closes=True, breath=brief.instrument.breath)
    return marked


def _with_rest(
    piece: Piece, lengths: Sequence[Fraction], here: Palette, entry: int, out: int | None
) -> list[Slot]:
    """Slots of those lengths, one of them silent."""
    if out is None:
        return list(slots_of(piece, piece.start, lengths, here, entry))
    at = piece.start + sum(lengths[:out], Fraction(0))
    before = slots_of(piece, piece.start, lengths[:out], here, entry)
    after = slots_of(piece, at + lengths[out], lengths[out + 1 :], here, entry + out)
    return [*before, Slot(at, lengths[out], None, True, 0), *after]


def _every_bar(analysis: Analysis) -> set[int]:
    return {bar.number for bar in analysis.chart.form}


def rhythm_layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """One note, pinned, for as long as it fits."""
    slots = _in_rhythm(analysis, brief, found, rng, _every_bar(analysis), rests=True)
    notes = one_note(found, rng)
    return [
        replace(slot, pin=notes[slot.palette.chord]) if slot.palette else slot for slot in slots
    ]


def one_note(found: Sequence[Palette | None], rng: np.random.Generator) -> dict[int, int]:
    """A note for each chord that sounds, with the fewest changes: the cheapest path.

    A note may stand over a chord whose scale holds it and that it does not rub against;
    over the last chord it is one of the arpeggio.
    """
    sounding = [here for here in found if here is not None]
    if not sounding:
        return {}
    middle = float(np.flatnonzero(sounding[0].open).mean()) + float(rng.integers(-4, 5))
    grid = np.arange(128)
    costs = [_alone(here, grid, middle, last=here is sounding[-1]) for here in sounding]
    distance = np.abs(grid[:, None] - grid[None, :])
    move = np.where(distance == 0, 0.0, NEW_NOTE + 0.3 * distance)
    best, came_from = costs[0], []
    for cost in costs[1:]:
        reach = best[:, None] + move
        came_from.append(reach.argmin(axis=0))
        best = reach.min(axis=0) + cost
    path = [int(best.argmin())]
    for sources in reversed(came_from):
        path.append(int(sources[path[-1]]))
    return {here.chord: midi for here, midi in zip(sounding, reversed(path), strict=True)}


def _alone(here: Palette, grid: Midis, middle: float, *, last: bool) -> Amounts:
    """What each note costs over one chord; infinite where it may not stand."""
    fits = here.core if last else here.scale & ~here.avoid
    bars = float(here.beats) / 4
    price = NO_CHORD_TONE * bars * ~here.tones + 0.01 * np.abs(grid - middle)
    return np.asarray(np.where(fits, price, np.inf))


def same_in_chord(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The note stays as long as the chord does."""
    return np.asarray(midis[0] == midis[1])


def _one_chord(slots: Sequence[Slot]) -> bool:
    return slots[0].palette is slots[1].palette


def echo_layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """Two bars, and two to play them back."""
    return _in_rhythm(analysis, brief, found, rng, call_bars(len(analysis.chart.form)))


def question_layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """Two bars that ask, two that are left; the last answer is written."""
    bars = len(analysis.chart.form)
    answered = {*range(max(1, bars - CALL_BARS + 1), bars + 1)}
    slots = _in_rhythm(analysis, brief, found, rng, call_bars(bars) | answered)
    return [replace(slot, motif=ASKS) if slot.closes and not slot.last else slot for slot in slots]


def on_root(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root, where the player has it."""
    here = palette(slots[0])
    root = here.open & (np.arange(128) % 12 == here.root_class)
    return (root if root.any() else here.core)[midis[0]]


def root_third_layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """The whole form in a rhythm that varies."""
    return _in_rhythm(analysis, brief, found, rng, _every_bar(analysis), rests=True)


def root_or_third(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root or the third, or the fourth or second in its place."""
    here = palette(slots[0])
    above = (np.arange(128) - here.root_class) % 12
    two = here.core & (above <= 5)
    return (two if two.any() else here.core)[midis[0]]


RHYTHM_RULES = (
    IN_SCALE,
    LocalRule("the note stays as long as the chord does", 2, same_in_chord, _one_chord),
)
RHYTHM_COSTS: tuple[Cost, ...] = ()
ECHO_RULES = (IN_SCALE, CORE_TONES, NOT_THREE_EQUAL)
ECHO_COSTS = (
    Cost(2, skipping, 0.6),
    Cost(1, tells, 0.5),
    Cost(3, returning, 0.6),
    Cost(3, leaping_twice, 0.8),
)
QUESTION_RULES = (
    IN_SCALE,
    MOVES_IN_SCALE,
    NOT_THREE_EQUAL,
    LocalRule(
        "a question ends on a chord tone that is not the root",
        1,
        off_root,
        asks,
    ),
    LocalRule("the last answer ends on the root", 1, on_root, lambda slots: slots[0].last),
)
QUESTION_COSTS = (
    Cost(2, stepwise, 0.8),
    Cost(1, tells, 0.5),
    Cost(1, new_note_first, 0.6),
    Cost(1, pauses, 0.6),
    Cost(3, returning, 0.8),
)
ROOT_THIRD_RULES = (
    IN_SCALE,
    LocalRule("only the root and the third", 1, root_or_third),
)
ROOT_THIRD_COSTS = (
    Cost(2, skipping, 0.5),
    Cost(1, tells, 0.3),
    Cost(1, comes_to_rest, 1.0),
    Cost(3, returning, 0.4),
)

LAYOUTS: dict[int, Layout] = {
    RHYTHM: rhythm_layout,
    ECHO: echo_layout,
    QUESTION: question_layout,
    ROOT_THIRD: root_third_layout,
}
RULES: dict[int, tuple[LocalRule | LineRule, ...]] = {
    RHYTHM: RHYTHM_RULES,
    ECHO: ECHO_RULES,
    QUESTION: QUESTION_RULES,
    ROOT_THIRD: ROOT_THIRD_RULES,
}
COSTS: dict[int, tuple[Cost, ...]] = {
    RHYTHM: RHYTHM_COSTS,
    ECHO: ECHO_COSTS,
    QUESTION: QUESTION_COSTS,
    ROOT_THIRD: ROOT_THIRD_COSTS,
}
