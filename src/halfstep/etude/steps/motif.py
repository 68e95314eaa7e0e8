"""A short figure carried through the changes, adapted only where it must.

One bar of rhythm and contour is drawn and heard in every bar. The rhythm and the direction
from note to note stay; the size of a step gives way where the chord asks for it. Where a
chord begins inside a note of the figure, that note is struck again. Where a phrase ends,
the end of the figure is held for a beat at least.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

import numpy as np

from halfstep.etude.costs import (
    Amounts,
    Cost,
    comes_to_rest,
    lingering,
    new_note_first,
    pauses,
    skipping,
    tells,
    unlike_figure,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.layouts import tried_again, with_phrases
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rhythm_grammar import filled_in
from halfstep.etude.rules import (
    HIGH_POINT,
    IN_SCALE,
    NOT_THREE_EQUAL,
    WITHIN_OCTAVE,
    LocalRule,
    chord_tone,
)
from halfstep.etude.sentences import PartLine, written_pitch
from halfstep.etude.slots import Piece, Slot, breath_beats, is_strong, phrase_ends, pieces
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import weight_at
from halfstep.meter import Feel, Meter
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

FEWEST, MOST = 3, 6
"""Notes of a figure, where the bar has room for so many and no more are needed to fill it."""
MOST_STRAIGHT = 4
"""Steps of a figure in one direction; small ranges have room for so many."""
SIZES = (1, 1, 1, 2, 2, 3)
"""Sizes that the steps of a figure are drawn from, in steps of the scale."""
Figure = list[tuple[Fraction, int]]
"""Where each note of a figure begins in its bar, and how far it lies from the one before."""


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """The figure in every bar."""
    figures: dict[Meter, Figure] = {}
    slots: list[Slot] = []
    entry, chord = 0, -1
    ends = phrase_ends(analysis, brief)
    cut = pieces(analysis)
    off_beat = any((piece.start - piece.bar_start) % 1 for piece in cut)
    feel = None if off_beat else brief.feel  # a chord may not begin inside a triplet
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        meter = piece.bar.meter
        if meter not in figures:
            figures[meter] = _drawn(meter, brief, rng, feel)
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        figure = figures[meter]
        if piece.bar.number in ends:
            figure = _held(figure, meter)
        made = list(_piece_slots(piece, figure, palette, entry))
        slots += made
        entry += len(made)
    return with_phrases(slots, analysis, brief)


def _drawn(meter: Meter, brief: Brief, rng: RandomStream, feel: Feel | None) -> Figure:
    """A figure of three to six notes, rare rhythms as often as common ones; in long bars the
    shortest of some.
    """
    zero = Fraction(0)
    some = [
        filled_in(meter, zero, meter.bar_beats, brief.level, rng, not_like=[], feel=feel)
        for _ in range(20)
    ]
    fitting = sorted({tuple(lengths) for lengths in some if FEWEST <= len(lengths) <= MOST})
    lengths = fitting[rng.integers(len(fitting))] if fitting else min(some, key=len)
    onsets = list(accumulate(lengths, initial=Fraction(0)))[:-1]
    way = rng.choice([-1, 1])
    moves, straight = [0], 0
    for _ in onsets[1:]:
        turns = rng.random() < 0.35 or straight == MOST_STRAIGHT
        way, straight = (-way, 1) if turns else (way, straight + 1)
        moves.append(way * rng.choice(SIZES))
    return list(zip(onsets, moves, strict=True))


def _held(figure: Figure, meter: Meter) -> Figure:
    """The figure without the notes that would leave less than a beat for its end."""
    latest = meter.bar_beats - breath_beats(meter)
    return [note for note in figure if note[0] <= max(latest, Fraction(0))]


def _piece_slots(piece: Piece, figure: Figure, palette: Palette, entry: int) -> list[Slot]:
    """The notes of the figure that begin in a piece, and one where the piece begins."""
    starts = {piece.bar_start + onset: move for onset, move in figure if onset}
    onsets = sorted({piece.start, *(at for at in starts if piece.start < at < piece.end)})
    made = []
    for count, (onset, stop) in enumerate(pairwise([*onsets, piece.end])):
        strong = is_strong(piece, onset, first=entry + count == 0)
        weight = weight_at(piece.bar.meter, float(onset - piece.bar_start))
        slot = Slot(onset, stop - onset, palette, strong, entry + count, weight=weight)
        made.append(slot._replace(motif=starts.get(onset)))
    return made


def same_direction(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Up where the figure goes up, and down where it goes down."""
    way = 1 if (slots[1].motif or 0) > 0 else -1
    return np.asarray((midis[1] - midis[0]) * way > 0)


def between_figures(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """From one figure to the next, mostly by step."""
    return skipping(slots, midis) if slots[1].motif is None else np.zeros(1)


def _in_figure(slots: Sequence[Slot]) -> bool:
    return slots[1].motif is not None


def _begins(slots: Sequence[Slot]) -> bool:
    return slots[0].motif is None


def figure(line: PartLine) -> str:
    """The notes of the figure, and where they come back with the same intervals."""
    bars = [list(group) for _, group in groupby(line.notes, key=line.bar)]
    first, shape = bars[0], _shape(line, bars[0])
    names = " ".join(line.name(note) for note in first)
    same = [line.bar(notes[0]) for notes in bars[1:] if _shape(line, notes) == shape]
    again = f"; the same shape comes back in {bars_in_words(same)}" if same else ""
    return f"The figure is {names} in bar {line.bar(first[0])}{again}."


def figure_gives_way(line: PartLine) -> str:
    """The first bar in which the figure's intervals change."""
    bars = [list(group) for _, group in groupby(line.notes, key=line.bar)]
    shape = _shape(line, bars[0])
    for notes in bars[1:]:
        if _shape(line, notes) != shape:
            names = " ".join(line.name(note) for note in notes)
            symbols = dict.fromkeys(str(line.part.symbol(note.chord)) for note in notes)
            over = joined_by_and(list(symbols))
            return f"Over {over} in bar {line.bar(notes[0])} it changes to fit the chord: {names}."
    return ""


def _shape(line: PartLine, notes: Sequence[EtudeNote]) -> list[int]:
    return [written_pitch(line, b).midi - written_pitch(line, a).midi for a, b in pairwise(notes)]


STEP = Step(
    name="motif",
    title="Motif",
    task="One short figure in every bar, changed only where the chord asks for it. "
    "Sing it before you play it.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(
            Cost(2, unlike_figure, 1.2),
            Cost(2, between_figures, 0.5),
            Cost(1, tells, 1.7),
            Cost(1, new_note_first, 0.5),
            Cost(1, pauses, 0.5),
            Cost(1, lingering, 2.0),
            Cost(1, comes_to_rest, 0.6),
        ),
    ),
    rules=(
        HIGH_POINT,
        IN_SCALE,
        NOT_THREE_EQUAL,
        LocalRule("the figure begins on a chord tone", 1, chord_tone, _begins),
        LocalRule("the figure keeps its directions", 2, same_direction, _in_figure),
        WITHIN_OCTAVE,
    ),
    sentences=(figure, figure_gives_way),
)
