"""A full solo chorus: phrases as players phrase, room to breathe, a figure that returns.

Where phrases begin and end, their rhythm, their shape, and how notes and intervals follow one
another are drawn from counts of transcribed solos (`halfstep.etude.solo_counts`); what a chord
tells weighs more than with them, so that the changes are heard. A short figure opens the first
phrase; a later one opens with it turned round, another past the middle brings it back. Notes
may leave the scale where they move on by step into it, and on strong beats where they go to a
tone of the chord.

Source: the counts; beyond them common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from halfstep.etude.costs import (
    Amounts,
    Cost,
    comes_to_rest,
    in_figure,
    of_notes,
    pauses,
    tells,
    unlike_figure,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach
from halfstep.etude.layouts import tried_again
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.phrase_contour import with_contours
from halfstep.etude.phrase_rhythm import PhraseTimes, phrase_times
from halfstep.etude.rules import (
    BREATHES_IN_RESTS,
    HIGH_POINT,
    NOT_THREE_EQUAL,
    WITHIN_OCTAVE,
    LocalRule,
    on_strong,
    palette_at,
)
from halfstep.etude.sentences import PartLine, highest, leading_in_words
from halfstep.etude.slots import Leads, Piece, Slot, is_strong, pieces
from halfstep.etude.solo_counts import WIDEST, interval_class, solo_shares
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight, weight_at
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

FIGURE_SIZES = (1, 1, 1, 1, 2, 2, 3)
"""Sizes that the steps of a figure are drawn from, in steps of the scale."""


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """Phrases with rests between them, over the whole form."""
    cut = pieces(analysis)
    slots: list[Slot] = []
    at, place = Fraction(0), 0
    plan = phrase_times(cut, brief, rng)
    for note in _notes(cut, palettes, plan, early=brief.level is not Level.BEGINNER):
        while cut[place].end <= note.start:
            if at < cut[place].end:
                slots.append(_rest(max(at, cut[place].start), cut[place].end))
            place += 1
        if (start := max(at, cut[place].start)) < note.start:
            slots.append(_rest(start, note.start))
        slots.append(_slot(cut[place], note, palettes[note.chord]))
        at = note.stop
    slots += [_rest(max(at, piece.start), piece.end) for piece in cut[place:] if at < piece.end]
    return _with_figure(with_contours(_marked(slots, brief), brief, rng), plan, rng)


class _Note(NamedTuple):
    """Start and end of a note, its chord, and how many of its chord stand before it."""

    start: Fraction
    stop: Fraction
    chord: int
    entry: int


def _notes(
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    phrases: Sequence[PhraseTimes],
    *,
    early: bool,
) -> Iterator[_Note]:
    """The notes of phrases, each over a chord that sounds.

    A note that is struck half a beat or less before the chord that follows, and held into it as
    long, belongs to that one; any other that would be held into a chord is struck again where it
    begins. Who comes in after a chord has begun has no first note of it.
    """
    spans = [(chord, list(group)[-1].end) for chord, group in groupby(cut, lambda p: p.chord)]
    now, begun, entry = 0, Fraction(0), 0
    for phrase in phrases:
        for onset, stop in pairwise([*phrase.onsets, phrase.end]):
            while spans[now][1] <= onset:
                begun, now, entry = spans[now][1], now + 1, 0
            start, place, first = onset, now, begun
            entry += entry == 0 and start > first
            while spans[place][1] < stop:
                end = spans[place][1]
                comes_early = early and first < start and end - start <= min(EIGHTH, stop - end)
                if not comes_early or palettes[spans[place + 1][0]] is None:
                    if palettes[spans[place][0]] is not None:
                        yield _Note(start, end, spans[place][0], entry)
                    start = end
                first, place, entry = end, place + 1, 0
            if palettes[spans[place][0]] is not None:
                yield _Note(start, stop, spans[place][0], entry)
            begun, now, entry = first, place, entry + 1


def _rest(start: Fraction, stop: Fraction) -> Slot:
    return Slot(start, stop - start, None, False, 0)


def _slot(piece: Piece, note: _Note, palette: Palette | None) -> Slot:
    weight = weight_at(piece.bar.meter, float(note.start - piece.bar_start))
    strong = is_strong(piece, note.start, first=note.entry == 0)
    beats = note.stop - note.start
    return Slot(note.start, beats, palette, strong, note.entry, weight=weight)


def _marked(slots: Sequence[Slot], brief: Brief) -> list[Slot]:
    """Where phrases end, where notes may leave the scale, and the last note."""
    marked: list[Slot] = []
    for place, slot in enumerate(slots):
        if slot.palette is None:
            marked.append(slot)
            continue
        after = slots[place + 1] if place + 1 < len(slots) else None
        closes = after is None or after.palette is None
        breath = brief.instrument.breath and closes
        comes_early = slot.strong and slot.weight is Weight.OFF
        short = slot.beats < 1 and not comes_early and not closes
        free = short and brief.level is not Level.BEGINNER
        leads = Leads.FREE if free else Leads.NOT
        marked.append(slot._replace(closes=closes, breath=breath, last=after is None, leads=leads))
    return marked


def _with_figure(
    slots: Sequence[Slot], plan: Sequence[PhraseTimes], rng: RandomStream
) -> list[Slot]:
    """The slots of the figure with its moves, where phrases begin with it; turned round once."""
    opened = [phrase for phrase in plan if phrase.figure]
    figured = list(slots)
    if len(opened) < 2:
        return figured
    place_of = {slot.onset: n for n, slot in enumerate(slots) if slot.palette is not None}
    first = place_of.get(opened[0].onsets[0])
    if first is None:
        return figured
    ways = [slots[n].way for n in range(first + 1, first + opened[0].figure)]
    moves = [way * rng.choice(FIGURE_SIZES) for way in ways]
    for number, phrase in enumerate(opened):
        sign = -1 if number == 1 and len(opened) > 2 else 1
        for onset, move in zip(phrase.onsets[1:], moves, strict=False):
            place = place_of.get(onset)
            if place is not None and move:
                way = sign * (1 if move > 0 else -1)
                figured[place] = figured[place]._replace(motif=sign * move, way=way)
    return figured


def inside_or_free(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In range, and in the scale unless the place is free."""
    palette = palette_at(slots[0])
    return (palette.open if slots[0].leads is Leads.FREE else palette.scale)[midis[0]]


def is_free(slots: Sequence[Slot]) -> bool:
    """True where the note may leave the scale."""
    return slots[0].leads is Leads.FREE


def moves_on(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A note from outside moves on by step into the scale."""
    old, new = midis
    size = np.abs(new - old)
    inside = palette_at(slots[0]).scale[old]
    return np.asarray(inside | (palette_at(slots[1]).scale[new] & (size >= 1) & (size <= 2)))


def resolves(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the chord, or by step to one."""
    old, new = midis
    size = np.abs(new - old)
    to_tone = palette_at(slots[1]).tones[new] & (size >= 1) & (size <= 2)
    return np.asarray(palette_at(slots[0]).tones[old] | to_tone)


_MOVES = np.arange(-WIDEST, WIDEST + 1)
_CLASS_OF_MOVE = np.array([interval_class(int(move)) for move in _MOVES])
STAYING = 0.15
"""What a note that is struck again costs where the line should go up or down."""
WIDER = 12.0
"""Nats for an interval wider than an octave."""


def as_solos_go_on(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """An interval costs what makes it as frequent after the one before as it is in solos."""
    first, second, third = midis
    before = _CLASS_OF_MOVE[np.clip(second - first, -WIDEST, WIDEST) + WIDEST]
    move = third - second
    nats = -np.log(solo_shares().moves)[before, np.clip(move, -WIDEST, WIDEST) + WIDEST]
    return np.asarray(np.where(np.abs(move) > WIDEST, WIDER, nats))


def as_solos_choose(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note costs what makes it as frequent over its chord as it is in solos."""
    return np.asarray(palette_at(slots[0]).surprise[slots[0].weight][midis[0]])


def falling(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note that falls costs one, one that stays a little."""
    gone = midis[1] - midis[0]
    return np.where(gone > 0, 0.0, np.where(gone == 0, STAYING, 1.0))


def rising(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note that rises costs one, one that stays a little."""
    return falling((), midis[::-1])


def is_to_rise(slots: Sequence[Slot]) -> bool:
    """True where the planned direction is up."""
    return slots[1].way > 0


def is_to_fall(slots: Sequence[Slot]) -> bool:
    """True where the planned direction is down."""
    return slots[1].way < 0


def stays_inside(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note inside the scale costs one: rules leave few ways to one from outside."""
    return np.where(palette_at(slots[0]).scale[midis[0]], 1.0, 0.0)


_NUMBERS = {
    2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six", 7: "Seven", 8: "Eight", 9: "Nine",
    10: "Ten", 11: "Eleven", 12: "Twelve",
}  # fmt: skip


def phrases(line: PartLine) -> str:
    """How many phrases, and in which bars they begin."""
    played = line.phrases()
    if len(played) < 2:
        return ""
    starts = [str(bar) for bar in dict.fromkeys(line.bar(phrase[0]) for phrase in played)]
    count = _NUMBERS.get(len(played), str(len(played)))
    breathes = any(note.breath for note in line.notes)
    rests = "Breathe in the rests" if breathes else "Keep the rests"
    where = f"bar{'s' * (len(starts) > 1)} {joined_by_and(starts)}"
    return f"{count} phrases: they begin in {where}. {rests} between them."


def outside(line: PartLine) -> str:
    """Notes from outside the scale, and where they go."""
    leading = [pair for pair in line.joined() if pair[0].approach is Approach.CHROMATIC]
    text = leading_in_words(line, leading, 2)
    if len(leading) == 1:
        return f"One note from outside the scale moves on by step: {text}."
    return f"Notes from outside the scale move on by step: {text}." if text else ""


STEP = Step(
    name="chorus",
    title="Chorus",
    task="A whole chorus: phrases with room to breathe, and a high point past the middle. "
    "Learn one phrase at a time.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        wishes=False,
        costs=(
            of_notes(3, as_solos_go_on, 0.26),  # below the temperature: rules ask for steps as well
            Cost(1, as_solos_choose, 0.3),
            Cost(1, tells, 0.25),
            of_notes(2, falling, 1.5, is_to_rise),
            of_notes(2, rising, 1.5, is_to_fall),
            Cost(2, unlike_figure, 1.5, in_figure),
            Cost(1, stays_inside, 0.15),
            Cost(1, pauses, 0.1),
            Cost(1, comes_to_rest, 1.0),
        ),
        contour=0.15,
    ),
    rules=(
        HIGH_POINT,
        LocalRule("only a note that moves on may leave the scale", 1, inside_or_free),
        LocalRule("a note from outside moves on by step into the scale", 2, moves_on, is_free),
        LocalRule(
            "on a strong beat stands a tone of the chord, or a note that goes to one by step",
            2,
            resolves,
            on_strong,
        ),
        WITHIN_OCTAVE,
        NOT_THREE_EQUAL,
    ),
    sentences=(phrases, highest, outside),
    breathing=BREATHES_IN_RESTS,
    least_outline=0.45,
    is_performed=True,
)
