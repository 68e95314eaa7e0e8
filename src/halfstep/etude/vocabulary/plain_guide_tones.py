"""The line of guide tones without its decoration: the same line as that of the step.

The decorated line of the same seed is written first, and its guide tones are held from one to
the next. So a lesson can have the line plain and then decorated, and the ear finds the one in
the other.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import repeat

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import unchecked_lines
from halfstep.etude.layouts import LAYOUTS_TRIED, with_phrases
from halfstep.etude.palette import Palette
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rules import IN_SCALE, LineRule, LocalRule
from halfstep.etude.sentences import breaths
from halfstep.etude.slots import Slot, closes_phrase, phrase_ends, pieces, slots_of
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.steps.guide_tones import STEP as DECORATED
from halfstep.etude.steps.guide_tones import (
    by_nearest,
    comes_early,
    guide_line,
    guide_step,
    is_guide,
    not_struck_again,
)
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.random_stream import RandomStream


def layouts(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    _rng: RandomStream,
    _priors: Sequence[PriorNotes],
) -> Iterator[list[Slot]]:
    """Every guide tone of the decorated line, pinned, until the next one; none comes early."""
    ((decorated, midis),) = unchecked_lines(DECORATED, analysis, replace(brief, pinned=()), 1)
    cut, ends = pieces(analysis), phrase_ends(analysis, brief)
    starts = {piece.start: piece for piece in cut}
    stops = {piece.end for piece in cut if piece is cut[-1] or closes_phrase(piece, ends)}
    onsets = list(starts)
    plain = brief.level is Level.BEGINNER
    slots: list[Slot] = []
    entry, chord = 0, -1
    for slot, midi in zip(decorated, midis, strict=True):
        onset, beats = slot.onset, slot.beats
        if slot.palette is None:
            slots.append(Slot(onset, beats, None, True, 0))
            continue
        if comes_early(onset, beats, slot.palette.chord, starts):
            slots[-1] = slots[-1]._replace(beats=slots[-1].beats + EIGHTH)
            onset, beats = onset + EIGHTH, beats - EIGHTH
        if plain or onset in starts or onset + beats in stops:
            entry, chord = (entry if slot.palette.chord == chord else 0), slot.palette.chord
            piece = cut[bisect_right(onsets, onset) - 1]
            (made,) = slots_of(piece, onset, [beats], palettes[chord], entry)
            slots.append(made._replace(pin=midi))
            entry += 1
        else:
            slots[-1] = slots[-1]._replace(beats=slots[-1].beats + beats)
    return repeat(with_phrases(slots, analysis, brief), LAYOUTS_TRIED)


STEP = Step(
    name="plain-guide-tones",
    title="Plain guide tones",
    task="The line of guide tones alone, in long notes. Sing it over the band, then play step 7, "
    "which decorates it.",
    writing=NoteByNote(layouts=layouts, costs=(), redrawn=False),
    rules=(
        IN_SCALE,
        LocalRule("every note is a third or a seventh, or what stands for them", 1, is_guide),
        LineRule("guide tones go to the nearest of the next chord", by_nearest),
        LineRule("over one chord a guide tone is held, or the other one follows", not_struck_again),
    ),
    sentences=(guide_line, guide_step, breaths),
)
