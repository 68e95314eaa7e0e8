"""One line without a break that keeps its direction at a change.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

import numpy as np

from halfstep.etude.costs import (
    Cost,
    beyond_step,
    comes_to_rest,
    new_note_first,
    of_notes,
    pauses,
    recovering,
    returning,
    stepwise,
    tells,
    turning,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_words import listing
from halfstep.etude.layouts import LAYOUTS_TRIED
from halfstep.etude.line_rhythm import UNBROKEN, with_rhythm
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rules import (
    CHORD_TONE_ON_STRONG,
    FIFTH,
    HIGH_POINT,
    IN_SCALE,
    MOVES_IN_SCALE,
    NOT_THREE_EQUAL,
    THIRD,
    LocalRule,
    at_change,
    palette_at,
)
from halfstep.etude.sentences import EXAMPLES, PartLine, changes, direction, highest
from halfstep.etude.slots import Slot, line_slots, on_grid
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.meter import EIGHTH
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

OFTEN = 2.2
"""How often eighths give way to another rhythm: it never rests, so that less is open to it."""
FAST_BEATS = 2
"""A chord shorter than this is passed through: a chord tone on its start is all asked."""


def layouts(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    _priors: Sequence[PriorNotes],
) -> Iterator[list[Slot]]:
    """An unbroken line of eighths, some of them held, in threes, or early from intermediate on.

    For a player who may not cross the register break after one, later layouts hold the last
    note of every other bar for a beat, or that of every bar and chord.
    """
    slots = line_slots(analysis, brief, palettes)
    starts = [start for bar, start in analysis.chart.placed() if bar.number >= 1]
    if brief.barrier is None:
        return (
            with_rhythm(slots, analysis, brief, rng, UNBROKEN, often=OFTEN)
            for _ in range(LAYOUTS_TRIED)
        )
    changes = [on_grid(chord.span.start) for chord in analysis.chords]
    return iter([slots, _held(slots, starts[::2]), _held(slots, [*starts, *changes])])


def _held(slots: Sequence[Slot], stops: Iterable[Fraction]) -> list[Slot]:
    """The slots, two eighths of one chord that end on one of those beats made one."""
    held: list[Slot] = []
    stops = frozenset(stops)
    for slot in slots:
        before = held[-1] if held else None
        if before and slot.onset + slot.beats in stops and _is_pair(before, slot):
            held[-1] = before._replace(beats=before.beats + slot.beats)
        else:
            held.append(slot)
    return held


def _is_pair(first: Slot, second: Slot) -> bool:
    """True for two eighths of one chord, which it does not begin with."""
    chord = first.palette is not None and first.palette is second.palette
    return chord and first.entry > 0 and first.beats == second.beats == EIGHTH


def close_across(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Across a change: a step or a third, never the same note; up to a fifth when fast."""
    distance = np.abs(midis[1] - midis[0])
    reach = THIRD if palette_at(slots[1]).beats >= FAST_BEATS else FIFTH
    return np.asarray((distance > 0) & (distance <= reach))


def goes_on(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The direction into the change is kept across it."""
    first, second, third = midis
    return np.asarray((third - second) * (second - first) > 0)


def change_heard(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The first or second note of the chord is a changing note."""
    changing = palette_at(slots[1]).changing
    return np.asarray(changing[midis[0]] | changing[midis[1]])


def change_heard_third(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The third note of the chord is a changing note."""
    return palette_at(slots[2]).changing[midis[2]]


def _at_lasting_change(slots: Sequence[Slot]) -> bool:
    return at_change(slots) and all(palette_at(s).beats >= FAST_BEATS for s in slots[1:])


def _begins_lasting_change(slots: Sequence[Slot]) -> bool:
    """The slots are the first of a chord that lasts and has changing notes."""
    palette = palette_at(slots[0])
    begins = all(s.entry == n and s.palette is palette for n, s in enumerate(slots))
    return begins and palette.beats >= FAST_BEATS and bool(palette.changing.any())


def _changing_only_on_weak(slots: Sequence[Slot]) -> bool:
    """Two notes that must be chord tones begin the chord, and no changing note is one.

    So it is when a chord starts on the long note that ends a phrase.
    """
    palette = palette_at(slots[0])
    bound = slots[0].strong and (slots[1].strong or slots[1].last)
    return bound and not (palette.changing & palette.tones).any()


def _heard_by_second(slots: Sequence[Slot]) -> bool:
    return _begins_lasting_change(slots) and not _changing_only_on_weak(slots)


def _heard_by_third(slots: Sequence[Slot]) -> bool:
    return _begins_lasting_change(slots) and _changing_only_on_weak(slots)


def keeps_direction(line: PartLine) -> str:
    """The changes that are crossed without turning."""
    triples = zip(line.notes, line.notes[1:], line.notes[2:], strict=False)
    kept = [
        (way, new)
        for old, middle, new in triples
        if old.end == middle.onset and middle.end == new.onset
        if middle.chord != new.chord and (way := direction(line, old, middle))
        if way == direction(line, middle, new)
    ]
    ways: dict[str, list[str]] = {}
    for way, new in kept[:EXAMPLES]:
        text = f"{line.part.symbol(new.chord)} in bar {line.bar(new)}"
        ways.setdefault("up" if way > 0 else "down", []).append(text)
    texts = [f"{way} into {joined_by_and(places)}" for way, places in ways.items()]
    return f"Keep going {listing(texts)}." if texts else ""


STEP = Step(
    name="one-line",
    title="One line",
    task="One line without a break. At a change keep your direction and "
    "change only the notes that change.",
    writing=NoteByNote(
        layouts=layouts,
        costs=(
            of_notes(2, stepwise, 1.0),
            of_notes(2, beyond_step, 1.0, at_change),
            Cost(1, tells, 2.7),  # much: rules bind the line
            Cost(1, new_note_first, 1.8),
            Cost(1, pauses, 1.0),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, turning, 0.45),
            of_notes(3, returning, 1.2),
            of_notes(3, recovering, 0.5),
        ),
        contour=0.6,
    ),
    rules=(
        HIGH_POINT,
        IN_SCALE,
        NOT_THREE_EQUAL,
        MOVES_IN_SCALE,
        CHORD_TONE_ON_STRONG,
        LocalRule(
            "the line goes on across the change by step or third", 2, close_across, at_change
        ),
        LocalRule("the direction goes on across the change", 3, goes_on, _at_lasting_change),
        LocalRule(
            "the changing note is heard at the change or right after",
            2,
            change_heard,
            _heard_by_second,
        ),
        LocalRule(
            "a changing note that no strong beat may hold is heard on the first weak one",
            3,
            change_heard_third,
            _heard_by_third,
        ),
    ),
    sentences=(keeps_direction, changes, highest),
    least_outline=0.6,
)
