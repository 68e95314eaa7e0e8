"""Step 7: guide tones by nearest voice leading, in long notes and then decorated.

The line of guide tones is found first: from each third or seventh to the nearest one of
the next chord, from a first one that lets it go on without a leap. A beginner plays it as
it is. Others hold each guide tone for half of its chord's stay in the bar, and fill the
rest with eighths that lead by step into the next.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise

import numpy as np

from halfstep.etude.costs import Cost, pauses, returning, skipping, tells
from halfstep.etude.frame import Flags, Midis, Palette, Piece, Slot, phrase_ends, pieces
from halfstep.etude.layouts import with_phrases
from halfstep.etude.parts import Brief, Etude, EtudeNote
from halfstep.etude.rules import (
    FIFTH,
    IN_SCALE,
    SIXTH,
    LineRule,
    LocalRule,
    palette,
    sounding,
)
from halfstep.etude.shapes import slots_of
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Level
from halfstep.meter import EIGHTH

LONG = 0
"""The motif of a slot that holds a guide tone."""


def layout(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """A guide tone for each chord in each bar, pinned, and eighths that lead on."""
    cut = pieces(analysis)
    ends = phrase_ends(analysis, brief)
    slots: list[Slot] = []
    entry, chord = 0, -1
    for piece, tone in zip(
        cut, _guide_line([found[piece.chord] for piece in cut], rng), strict=True
    ):
        here = found[piece.chord]
        if here is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        lengths = _lengths(piece, brief.level, closes=piece is cut[-1] or _closes(piece, ends))
        made = list(slots_of(piece, piece.start, lengths, here, entry))
        made[0] = replace(made[0], pin=tone, motif=LONG)
        slots += made
        entry += len(made)
    return with_phrases(slots, analysis, brief)


def _closes(piece: Piece, ends: set[int]) -> bool:
    return piece.end == piece.bar_start + piece.bar.beats and piece.bar.number in ends


def _lengths(piece: Piece, level: Level, *, closes: bool) -> list[Fraction]:
    """One long note, and eighths behind it where the level decorates and there is room."""
    if level is Level.BEGINNER or closes or piece.beats < 2:
        return [piece.beats]
    half = (piece.beats / 2) // EIGHTH * EIGHTH
    long = piece.beats - half if level is Level.ADVANCED else max(piece.beats - half, 2 * EIGHTH)
    count = int((piece.beats - long) / EIGHTH)
    return [piece.beats - count * EIGHTH, *[EIGHTH] * count]


def guides_of(here: Palette) -> Midis:
    """The guide tones in range; the tones of the arpeggio where there are none."""
    found = np.flatnonzero(here.guide)
    return found if len(found) else np.flatnonzero(here.core)


def _guide_line(found: Sequence[Palette | None], rng: np.random.Generator) -> list[int | None]:
    """The guide tone of each piece; None where there is no chord."""
    line: list[int | None] = []
    for _, group in groupby(found, key=lambda here: here is None):
        stretch = list(group)
        heres = [here for here in stretch if here is not None]
        line += _from_a_good_start(heres, rng) if heres else [None] * len(stretch)
    return line


def _from_a_good_start(heres: Sequence[Palette], rng: np.random.Generator) -> list[int]:
    """The walk from the tone nearest to a drawn place that has no leap, if there is one."""
    place = float(np.flatnonzero(heres[0].open).mean()) + int(rng.integers(-4, 5))
    starts = sorted(guides_of(heres[0]).tolist(), key=lambda midi: abs(midi - place))
    walks = [_walk(start, heres[1:], rng) for start in starts]
    return min(walks, key=_widest_leap)


def _walk(start: int, heres: Sequence[Palette], rng: np.random.Generator) -> list[int]:
    """From a guide tone always to the nearest of the next chord, up or down where two are."""
    walk = [start]
    for here in heres:
        found = guides_of(here)
        distance = np.abs(found - walk[-1])
        walk.append(int(rng.choice(found[distance == distance.min()])))
    return walk


def _widest_leap(walk: Sequence[int]) -> int:
    """The widest leap in semitones; 0 where none is wider than a fifth."""
    widest = max((abs(new - old) for old, new in pairwise(walk)), default=0)
    return widest if widest > FIFTH else 0


def leads_in(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A half step or a whole step into the next guide tone."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size >= 1) & (size <= 2))


def decorates(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No more than a sixth, and never the same note."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size >= 1) & (size <= SIXTH))


def is_guide(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A third or seventh, or what stands for them."""
    return np.isin(midis[0], guides_of(palette(slots[0])))


def by_nearest(etude: Etude) -> Iterator[EtudeNote]:
    """The first note of each chord in each bar is the guide tone nearest to the one before."""
    at = {note.onset: (note, pitch.midi) for note, pitch in sounding(etude)}
    last: int | None = None
    for piece in pieces(etude.analysis):
        if piece.start not in at:
            last = None
            continue
        note, midi = at[piece.start]
        here = etude.analysis.chords[piece.chord]
        classes = {tone.name.pitch_class for tone in (here.guides or here.core)}
        nearer = abs(midi - last) if last is not None else 0
        low, high = etude.brief.concert_low, etude.brief.concert_high
        known = etude.brief.known
        others = [
            each
            for each in range(low, high + 1)
            if each % 12 in classes and (known is None or each in known)
        ]
        if last is not None and any(abs(each - last) < nearer for each in others):
            yield note
        last = midi


def by_half(etude: Etude) -> Iterator[EtudeNote]:
    """The first note of each chord in each bar takes half of the chord's stay, or more."""
    at = {note.onset: note for note, _ in sounding(etude)}
    for piece in pieces(etude.analysis):
        note = at.get(piece.start)
        if note and note.beats * 2 < piece.beats:
            yield note


def _is_long(slots: Sequence[Slot]) -> bool:
    return slots[0].motif == LONG


def _into_long(slots: Sequence[Slot]) -> bool:
    return slots[0].motif is None and slots[1].motif == LONG


def _from_long_or_between(slots: Sequence[Slot]) -> bool:
    return slots[1].motif is None


RULES = (
    IN_SCALE,
    LocalRule("a chord begins with its third or seventh", 1, is_guide, _is_long),
    LocalRule("the notes between lead by step into the next guide tone", 2, leads_in, _into_long),
    LocalRule("no leap wider than a sixth between guide tones", 2, decorates,
              _from_long_or_between),
    LineRule("guide tones go to the nearest of the next chord", by_nearest),
    LineRule("a guide tone is held for half of its chord's stay in the bar", by_half),
)  # fmt: skip
COSTS = (
    Cost(2, skipping, 0.8),
    Cost(1, tells, 2.5),
    Cost(1, pauses, 1.0),
    Cost(3, returning, 0.6),
)
