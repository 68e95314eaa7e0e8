"""Step 13: a full solo chorus, with phrases, breaths, repetition and a high point.

The chorus is cut into phrases with rests between them. A phrase is mostly eighths, with
quarters, syncopations and triplets as the level has them, and ends on a note that is held;
now and then it takes the rhythm of the phrase before. Notes off the beat may leave the
scale where they move on by step.

Conventions
-----------
- Lengths of phrases and rests are drawn between the quartiles of real solos; intervals
  cost what makes them about as frequent as saxophonists play them. Context, not a target:
  the chord tones on strong beats are more than theirs.

Source: the counts are of 250 transcribed saxophone solos (jazzodata derived tables, MIT).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
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
from halfstep.etude.frame import (
    Flags,
    Leads,
    Midis,
    Palette,
    Piece,
    Slot,
    final_onset,
    is_strong,
    phrase_ends,
    pieces,
)
from halfstep.etude.parts import BREATH_S, Brief
from halfstep.etude.rules import NOT_THREE_EQUAL, LocalRule, palette
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.emissions import Weight, weight_at
from halfstep.instruments import Level
from halfstep.meter import EIGHTH, clock_for
from halfstep.progression.chart import Feel

OCTAVE = 12
SAME_RHYTHM = 0.35
"""How often a phrase takes the rhythm of the one before."""


@dataclass(frozen=True, slots=True)
class Habit:
    """How a level phrases.

    Attributes
    ----------
    phrase_beats, rest_beats : tuple of (float, float)
        The shortest and the longest.
    quarters, syncopations, triplets, sixteenths, early : float
        How often a beat is one note, a note is held over the beat, a beat has three, a beat
        has four, and the first note of a chord comes an eighth before it.
    """

    phrase_beats: tuple[float, float]
    rest_beats: tuple[float, float]
    quarters: float
    syncopations: float
    triplets: float
    sixteenths: float
    early: float


HABITS = {
    Level.BEGINNER: Habit((4.0, 7.0), (2.0, 4.0), 0.45, 0.0, 0.0, 0.0, 0.0),
    Level.INTERMEDIATE: Habit((4.5, 10.0), (2.0, 4.0), 0.2, 0.06, 0.0, 0.0, 0.15),
    Level.ADVANCED: Habit((5.0, 12.0), (2.0, 4.0), 0.1, 0.08, 0.06, 0.08, 0.2),
}


def habit_of(brief: Brief) -> Habit:
    """How a level phrases: triplets belong to swing, sixteenths to straight eighths."""
    habit = HABITS[brief.level]
    if brief.feel is Feel.SWING:
        return replace(habit, sixteenths=0.0)
    return replace(habit, triplets=0.0)


def layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """Phrases with rests between them, over the whole form."""
    cut = pieces(analysis)
    bounds = list(_bounds(cut, analysis, brief, rng))
    slots = [
        _slot(piece, start, stop, found, sounds=sounds) for piece, start, stop, sounds in bounds
    ]
    bars = {piece.bar_start for piece in cut}
    early = _anticipated(_entered(slots), bars, HABITS[brief.level].early, rng)
    return _led_high(_marked(early, analysis, brief), brief, rng)


def _bounds(
    cut: Sequence[Piece], analysis: Analysis, brief: Brief, rng: np.random.Generator
) -> Iterator[tuple[Piece, Fraction, Fraction, bool]]:
    """The notes and rests, each within one chord of one bar."""
    phrases = list(_phrases(cut, analysis, brief, rng))
    habit = habit_of(brief)
    last = final_onset(cut[-1])
    for piece in cut:
        for start, stop, seed in phrases:
            low, high = max(start, piece.start), min(stop, piece.end)
            if low >= high:
                continue
            if seed is None:
                yield piece, low, high, False
                continue
            edges = list(_rhythm(piece, low, high, habit, start, seed))
            if piece is cut[-1] and low < last < high:
                edges = sorted({*(edge for edge in edges if edge < last), last, high})
            if high == stop and len(edges) > 2 and edges[-1] - edges[-2] < 1:
                del edges[-2]
            yield from ((piece, one, two, True) for one, two in pairwise(edges))


def _phrases(
    cut: Sequence[Piece], analysis: Analysis, brief: Brief, rng: np.random.Generator
) -> Iterator[tuple[Fraction, Fraction, int | None]]:
    """Start, stop and the seed of each phrase's rhythm; rests between have none."""
    habit, total = HABITS[brief.level], analysis.chart.beats
    breath = BREATH_S / clock_for(analysis.chart.meter, brief.tempo_bpm).beat_s
    longest = max(2.0, min(habit.phrase_beats[1], breath))
    shortest = min(habit.phrase_beats[0], longest)
    at, seed = Fraction(0), int(rng.integers(2**31))
    rest = _drawn(0.0, 1.5, rng)
    while True:
        if rest:
            yield at, min(at + rest, total), None
        at = min(at + rest, total)
        length = max(Fraction(1), _drawn(shortest, longest, rng))
        stop = max(at + EIGHTH, _held(at + length, cut))
        if total - stop < 6:
            stop = total
        if rng.random() > SAME_RHYTHM:
            seed = int(rng.integers(2**31))
        if at < stop:
            yield at, stop, seed
        if stop >= total:
            return
        at, rest = stop, max(EIGHTH, _drawn(*habit.rest_beats, rng))


def _held(stop: Fraction, cut: Sequence[Piece]) -> Fraction:
    """A place near ``stop`` that leaves the last note a beat in its chord."""
    here = next((piece for piece in cut if piece.start < stop <= piece.end), None)
    if here is None or stop - here.start >= 1:
        return stop
    return here.start + 1 if here.beats >= 1 else here.start


def _drawn(low: float, high: float, rng: np.random.Generator) -> Fraction:
    """A length between two, in eighths."""
    return round(Fraction(rng.uniform(low, high)) / EIGHTH) * EIGHTH


def _rhythm(
    piece: Piece, low: Fraction, high: Fraction, habit: Habit, start: Fraction, seed: int
) -> Iterator[Fraction]:
    """Where notes begin between two places of a phrase, and where the last ends."""
    yield low
    at = piece.bar_start + ((low - piece.bar_start) // EIGHTH + 1) * EIGHTH
    skip = False
    while at < high:
        rng = np.random.default_rng([seed, int((at - start) / EIGHTH)])
        on_beat = (at - piece.bar_start) % 1 == 0
        joined = rng.random() < (habit.syncopations if on_beat else habit.quarters)
        parts = _parts(habit, rng) if on_beat and at + 1 <= high else 2
        if parts > 2:
            yield from (at + Fraction(part, parts) for part in range(parts))
            at += 1
            skip = False
            continue
        skip = joined and not skip
        if not skip:
            yield at
        at += EIGHTH
    yield high


def _parts(habit: Habit, rng: np.random.Generator) -> int:
    """How many notes a beat is divided into: two, three or four."""
    drawn = rng.random()
    if drawn < habit.triplets:
        return 3
    return 4 if drawn < habit.triplets + habit.sixteenths else 2


def _slot(
    piece: Piece,
    start: Fraction,
    stop: Fraction,
    found: Sequence[Palette | None],
    *,
    sounds: bool,
) -> Slot:
    here = found[piece.chord] if sounds else None
    weight = weight_at(piece.bar.meter, float(start - piece.bar_start))
    strong = is_strong(piece, start, first=start == piece.start and here is not None)
    return Slot(start, stop - start, here, strong, 0, weight=weight)


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
        counted.append(replace(slot, entry=entry))
    return counted


def _anticipated(
    slots: Sequence[Slot], bars: set[Fraction], share: float, rng: np.random.Generator
) -> list[Slot]:
    """Some first notes of chords inside a bar come an eighth early, over the change."""
    found: list[Slot] = []
    for place, slot in enumerate(slots):
        before = found[-1] if found else None
        may = (
            before is not None
            and before.palette is not None
            and slot.palette is not None
            and slot.entry == 0
            and slot.onset not in bars
            and before.beats == EIGHTH
            and slot.beats <= 1
            and before.entry > 0
            and place + 1 < len(slots)
        )
        if may and before and rng.random() < share:
            found[-1] = replace(slot, onset=before.onset, beats=before.beats + slot.beats,
                                weight=Weight.OFF)  # fmt: skip
        else:
            found.append(slot)
    return found


def _marked(slots: Sequence[Slot], analysis: Analysis, brief: Brief) -> list[Slot]:
    """Where phrases end, where notes may leave the scale, and the last note."""
    ends = phrase_ends(analysis, brief)
    stops = {start + bar.beats for bar, start in analysis.chart.placed() if bar.number in ends}
    marked: list[Slot] = []
    for place, slot in enumerate(slots):
        if slot.palette is None:
            marked.append(slot)
            continue
        after = slots[place + 1] if place + 1 < len(slots) else None
        goes_on = after is not None and after.palette is not None
        closes = not goes_on
        breath = brief.instrument.breath and (closes or slot.onset + slot.beats in stops)
        free = goes_on and slot.weight is Weight.OFF and brief.level is not Level.BEGINNER
        leads = Leads.FREE if free and not slot.strong else Leads.NOT
        marked.append(replace(slot, closes=closes, breath=breath, last=after is None, leads=leads))
    return marked


def _led_high(slots: Sequence[Slot], brief: Brief, rng: np.random.Generator) -> list[Slot]:
    """Heights to aim at: each phrase its own, and one high point past the middle."""
    low, high = brief.concert_low, brief.concert_high
    middle, reach = (low + high) / 2, min(high - low, 26) / 2
    peak, total = rng.uniform(0.6, 0.75), float(slots[-1].onset) or 1.0
    led, turn = [], 0.0
    for place, slot in enumerate(slots):
        if slot.palette is None or not place:
            turn = rng.uniform(-0.3, 0.3)
        at = float(slot.onset) / total
        arch = np.exp(-(((at - peak) / 0.14) ** 2))
        height = middle + reach * (0.95 * arch - 0.25 + turn * (1 - arch))
        led.append(replace(slot, target=float(height)))
    return led


def inside_or_free(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In range, and in the scale unless the place is free."""
    here = palette(slots[0])
    return (here.open if slots[0].leads is Leads.FREE else here.scale)[midis[0]]


def moves_on(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A note from outside moves on by step into the scale."""
    old, new = midis
    size = np.abs(new - old)
    inside = palette(slots[0]).scale[old]
    return np.asarray(inside | (palette(slots[1]).scale[new] & (size >= 1) & (size <= 2)))


def within_octave(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No leap wider than an octave."""
    return np.asarray(np.abs(midis[1] - midis[0]) <= OCTAVE)


# semitones:            0    1     2    3     4    5    6    7    8    9   10   11   12
_SOLO = np.array([1.0, 0.1, 0.1, 0.15, 0.2, 0.35, 0.9, 0.4, 0.9, 0.9, 1.4, 2.0, 1.2])


def as_solos_move(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Intervals cost what makes them as frequent as in solos."""
    return by_size(_SOLO, midis)


def from_outside(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note from outside the scale is colour, and costs a little."""
    return np.where(palette(slots[0]).scale[midis[0]], 0.0, 1.0)


RULES = (
    LocalRule("only a note off the beat may leave the scale", 1, inside_or_free),
    LocalRule(
        "a note from outside moves on by step into the scale",
        2,
        moves_on,
        lambda slots: slots[0].leads is Leads.FREE,
    ),
    LocalRule("no leap is wider than an octave", 2, within_octave),
    NOT_THREE_EQUAL,
)
COSTS = (
    Cost(2, as_solos_move, 1.0),
    Cost(1, tells, 0.35),
    Cost(1, from_outside, 0.5),
    Cost(1, rooted, 0.35),
    Cost(1, new_note_first, 0.4),
    Cost(1, pauses, 0.8),
    Cost(1, comes_to_rest, 1.0),
    Cost(3, turning, 0.1),
    Cost(3, returning, 0.5),
    Cost(3, leaping_twice, 0.8),
)
