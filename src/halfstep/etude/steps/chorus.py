"""A full solo chorus, with phrases, breaths, repetition and a high point.

The chorus is cut into phrases with rests between them. A phrase is mostly eighths, with
quarters, syncopations, triplets or sixteenths as the level and feel have them, and ends on
a note that is held; now and then it takes the rhythm of the phrase before. Some notes come
early: they belong to the chord that follows, and are held into it, over the bar line too.
Notes off the beat may leave the scale where they move on by step, and so may a note that
leans: a neighbour on a strong beat that goes to the chord tone by step.

Conventions
-----------
- Lengths of phrases and rests are drawn between the quartiles of real solos; intervals
  cost what makes them about as frequent as saxophonists play them. Context, not a target:
  the chord tones on strong beats are more than theirs.

Source: the counts are of 250 transcribed saxophone solos (jazzodata derived tables, MIT).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import (
    Amounts,
    Cost,
    by_size,
    comes_to_rest,
    leaping_twice,
    new_note_first,
    pauses,
    returning,
    rooted,
    tells,
    turning,
)
from halfstep.etude.etude_brief import BREATH_S, Brief
from halfstep.etude.etude_notes import Approach
from halfstep.etude.layouts import tried_again
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rhythm_grammar import Habit, flowing, habit_of
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
from halfstep.etude.slots import Leads, Piece, Slot, breath_beats, final_onset, is_strong, pieces
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight, weight_at
from halfstep.level import Level
from halfstep.meter import EIGHTH, clock_for
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

LEAST_LEFT = 5
"""Beats at the end of the form that are no phrase of their own."""
EARLY_BEATS = (EIGHTH, EIGHTH / 2)
"""What a note that comes early may take of the beat before."""
LEANS = 8
"""The motif of a slot on a strong beat with a note that leans on the next one."""
AT_CHANGE = 0.4
"""How much rarer that is where a chord begins, so that the change is heard."""
LEANS_NOT = 5.0
"""What a tone of the chord costs there, beside 1.5 for another note on a strong beat."""
SAME_RHYTHM = 0.35
"""How often a phrase takes the rhythm of the one before."""


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """Phrases with rests between them, over the whole form."""
    cut = pieces(analysis)
    bounds = list(_bounds(cut, analysis, brief, rng))
    slots = [
        _slot(piece, start, stop, palettes, sounds=sounds) for piece, start, stop, sounds in bounds
    ]
    habit = _habit(analysis, brief)
    bars = {piece.bar_start for piece in cut}
    early = _anticipated(_entered(slots), bars, habit.early, rng)
    marked = _leaning(_marked(early, brief), habit.leans, rng)
    return _led_high(marked, brief, rng)


def _habit(analysis: Analysis, brief: Brief) -> Habit:
    return habit_of(brief.level, brief.feel, analysis.chart.meter)


def _bounds(
    cut: Sequence[Piece], analysis: Analysis, brief: Brief, rng: RandomStream
) -> Iterator[tuple[Piece, Fraction, Fraction, bool]]:
    """The notes and rests, each within one chord of one bar."""
    phrases = list(_phrases(cut, analysis, brief, rng))
    habit = _habit(analysis, brief)
    last = final_onset(cut[-1])
    for piece in cut:
        for start, stop, seed in phrases:
            low, high = max(start, piece.start), min(stop, piece.end)
            if low >= high:
                continue
            if seed is None:
                yield piece, low, high, False
                continue
            bar = piece.bar_start
            onsets = flowing(piece.bar.meter, low - bar, high - bar, habit, start - bar, seed)
            edges = [bar + at for at in onsets]
            if piece is cut[-1] and low < last < high:
                edges = sorted({*(edge for edge in edges if edge < last), last, high})
            while high == stop and len(edges) > 2 and _too_short(edges[-1] - edges[-2], piece):
                del edges[-2]
            yield from (
                (piece, start_of_note, end_of_note, True)
                for start_of_note, end_of_note in pairwise(edges)
            )


def _too_short(beats: Fraction, piece: Piece) -> bool:
    """Less than a beat, or a beat and part of a triplet."""
    return beats < breath_beats(piece.bar.meter) or beats.denominator % 3 == 0


def _phrases(
    cut: Sequence[Piece], analysis: Analysis, brief: Brief, rng: RandomStream
) -> Iterator[tuple[Fraction, Fraction, int | None]]:
    """Start, stop and the seed of each phrase's rhythm; rests between have none."""
    habit, total = _habit(analysis, brief), analysis.chart.beats
    breath = BREATH_S / clock_for(analysis.chart.meter, brief.tempo_bpm).beat_s
    longest = max(2.0, min(habit.phrase_beats[1], breath))
    shortest = min(habit.phrase_beats[0], longest)
    at, seed = Fraction(0), rng.integers(2**31)
    rest = _drawn(0.0, 1.5, rng)
    while True:
        if rest:
            yield at, min(at + rest, total), None
        at = min(at + rest, total)
        length = max(Fraction(1), _drawn(shortest, longest, rng))
        stop = max(at + EIGHTH, _held(at + length, cut))
        if total - stop < LEAST_LEFT:
            stop = total
        if rng.random() > SAME_RHYTHM:
            seed = rng.integers(2**31)
        if at < stop:
            yield at, stop, seed
        if stop >= total:
            return
        at, rest = stop, max(EIGHTH, _drawn(*habit.rest_beats, rng))


def _held(stop: Fraction, cut: Sequence[Piece]) -> Fraction:
    """A place near ``stop`` that leaves the last note a beat in its chord."""
    ending = next((piece for piece in cut if piece.start < stop <= piece.end), None)
    if ending is None or stop - ending.start >= 1:
        return stop
    return ending.start + 1 if ending.beats >= 1 else ending.start


def _drawn(low: float, high: float, rng: RandomStream) -> Fraction:
    """A length between two, in eighths."""
    return round(Fraction(rng.uniform(low, high)) / EIGHTH) * EIGHTH


def _slot(
    piece: Piece,
    start: Fraction,
    stop: Fraction,
    palettes: Sequence[Palette | None],
    *,
    sounds: bool,
) -> Slot:
    palette = palettes[piece.chord] if sounds else None
    weight = weight_at(piece.bar.meter, float(start - piece.bar_start))
    strong = is_strong(piece, start, first=start == piece.start and palette is not None)
    return Slot(start, stop - start, palette, strong, 0, weight=weight)


def _entered(slots: Sequence[Slot]) -> list[Slot]:
    """Each note with its number in its chord."""
    counted: list[Slot] = []
    entry, now = 0, -1
    for slot in slots:
        if slot.palette is None:
            counted.append(slot)
            continue
        entry = entry + 1 if slot.palette.chord == now else 0
        now = slot.palette.chord
        counted.append(slot._replace(entry=entry))
    return counted


def _anticipated(
    slots: Sequence[Slot], bars: set[Fraction], share: float, rng: RandomStream
) -> list[Slot]:
    """Some first notes of chords and of bars are struck before them, off the beat, and held.

    The note belongs to the new chord. Where it crosses a bar line it is written as two, tied.
    """
    moved: list[Slot] = []
    for slot in slots:
        before = moved[-1] if moved else None
        if before and _may_come_early(before, slot, bars) and rng.random() < share:
            onset, beats = before.onset, before.beats + slot.beats
            moved[-1] = slot._replace(onset=onset, beats=beats, weight=Weight.OFF)
        else:
            moved.append(slot)
    return moved


def _may_come_early(before: Slot, slot: Slot, bars: set[Fraction]) -> bool:
    """True for the first note of a chord or bar after a short one off the beat.

    The chord before keeps a note at least, and no note stays long.
    """
    if before.palette is None or slot.palette is None or before.weight is not Weight.OFF:
        return False
    changes = slot.entry == 0 and before.entry > 0
    goes_on = slot.palette is before.palette and slot.onset in bars
    short = slot.beats <= 1 and not slot.beats % (EIGHTH / 2)
    return (changes or goes_on) and before.beats in EARLY_BEATS and short


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
        free = not closes and slot.weight is Weight.OFF and brief.level is not Level.BEGINNER
        leads = Leads.FREE if free and not slot.strong else Leads.NOT
        marked.append(slot._replace(closes=closes, breath=breath, last=after is None, leads=leads))
    return marked


def _leaning(slots: Sequence[Slot], share: float, rng: RandomStream) -> list[Slot]:
    """Some of the strong beats lean: a neighbour sounds there, and resolves."""
    strong = [n for n, slot in enumerate(slots) if slot.palette is not None and slot.strong]
    may = [n for n in strong if _may_lean(slots[n], slots[n + 1 : n + 2])]
    count = min(len(may), round(share * len(strong)))
    leaning = list(slots)
    if not count:
        return leaning
    weights = np.array([1.0 if slots[n].entry else AT_CHANGE for n in may])
    shares = (weights / weights.sum()).tolist()
    for n in rng.several(may, count, shares):
        leaning[n] = slots[n]._replace(motif=LEANS)
    return leaning


def _may_lean(slot: Slot, after: Sequence[Slot]) -> bool:
    """True for a short note with room to resolve in its chord."""
    resolves = after and after[0].palette is slot.palette
    on_beat = slot.weight is not Weight.OFF and slot.beats <= 1
    return bool(resolves) and on_beat and not slot.closes


def _led_high(slots: Sequence[Slot], brief: Brief, rng: RandomStream) -> list[Slot]:
    """Heights to aim at: each phrase its own, and one high point past the middle."""
    low, high = brief.concert_low, brief.concert_high
    middle, reach = (low + high) / 2, min(high - low, 26) / 2
    peak, total = rng.uniform(0.6, 0.8), float(slots[-1].onset) or 1.0
    led, turn = [], 0.0
    for place, slot in enumerate(slots):
        if slot.palette is None or not place:
            turn = rng.uniform(-0.3, 0.3)
        at = float(slot.onset) / total
        arch = np.exp(-(((at - peak) / 0.14) ** 2))
        height = middle + reach * (0.95 * arch - 0.25 + turn * (1 - arch))
        led.append(slot._replace(target=float(height)))
    return led


def is_free(slots: Sequence[Slot]) -> bool:
    """True off the beat, and where a strong beat leans."""
    return slots[0].leads is Leads.FREE or slots[0].motif == LEANS


def inside_or_free(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In range, and in the scale unless the place is free."""
    palette = palette_at(slots[0])
    return (palette.open if is_free(slots) else palette.scale)[midis[0]]


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


# semitones:            0    1     2    3     4    5    6    7    8    9   10   11   12
_SOLO = np.array([1.0, 0.1, 0.1, 0.25, 0.3, 0.5, 1.0, 0.55, 0.9, 0.9, 1.4, 2.0, 1.2])


def as_solos_move(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Intervals cost what makes them as frequent as in solos."""
    return by_size(_SOLO, midis)


def from_outside(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note from outside the scale is colour, and costs a little."""
    return np.where(palette_at(slots[0]).scale[midis[0]], 0.0, 1.0)


def leans(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Where a strong beat leans a tone of the chord costs one; elsewhere what `rooted` says."""
    if slots[0].motif != LEANS:
        return rooted(slots, midis)
    return np.where(palette_at(slots[0]).tones[midis[0]], LEANS_NOT, 0.0)


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
        costs=(
            Cost(2, as_solos_move, 1.0),
            Cost(1, tells, 0.7),
            Cost(1, from_outside, 0.5),
            Cost(1, leans, 0.5),
            Cost(1, new_note_first, 0.4),
            Cost(1, pauses, 0.8),
            Cost(1, comes_to_rest, 1.0),
            Cost(3, turning, 0.2),
            Cost(3, returning, 0.5),
            Cost(3, leaping_twice, 0.8),
        ),
    ),
    rules=(
        HIGH_POINT,
        LocalRule(
            "only a note off the beat, or one that leans, may leave the scale", 1, inside_or_free
        ),
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
