"""The blues scale of the home key over the whole form, in phrases with rests.

Over a blues it is played against any chord that it has a tone of; its flat third and its flat
fifth are colour there, which no rule forbids. Over another progression it is played where it
has two tones of the chord's arpeggio; elsewhere the pentatonic of the chord stands in, and that
is told.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from halfstep.etude.costs import (
    Cost,
    comes_to_rest,
    of_notes,
    pauses,
    recovering,
    returning,
    skipping,
    tells,
    turning,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import every_bar, in_rhythm, tried_again
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import (
    IN_SCALE,
    NOT_THREE_EQUAL,
    LocalRule,
    palette_at,
    step_or_skip_to_tone,
)
from halfstep.etude.sentences import breaths, ends, highest
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.step_scales import scale_of_names
from halfstep.etude.vocabulary.pattern_words import notice_of_chords, scales_named
from halfstep.etude.vocabulary.pentatonics import pentatonic_over
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.blues import blues_scales
from halfstep.harmony.scales import Scale
from halfstep.random_stream import RandomStream

FEWEST_TONES = 2
"""Tones of the arpeggio that the scale has over a chord of a progression that is no blues."""


def blues_over(analysis: Analysis, chord: AnalysedChord) -> Scale | None:
    """The blues scale of the home key over a chord, or the pentatonic that stands in for it."""
    scale = blues_scales(analysis.home)[0]
    shared = {tone.name.pitch_class for tone in chord.core} & scale.pitch_classes
    if len(shared) < (1 if analysis.blues_scales else FEWEST_TONES):
        return pentatonic_over(analysis, chord)
    return scale_of_names(scale.mode, scale.root, scale.names, chord.span.symbol.root)


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """The whole form in a rhythm that varies, with rests."""
    return in_rhythm(analysis, brief, palettes, rng, every_bar(analysis), rests=True)


@lru_cache(256)
def _between_halves(classes: frozenset[int]) -> Flags:
    """The note of a scale with a half step on both sides: the flat fifth of a blues scale."""
    around = {pc for pc in classes if {(pc - 1) % 12, (pc + 1) % 12} <= classes}
    return np.isin(np.arange(128) % 12, list(around))


def flat_fifth_passes(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """On by a half step, unless the first note is no flat fifth."""
    blue = _between_halves(frozenset(palette_at(slots[0]).names))[midis[0]]
    size = np.abs(midis[1] - midis[0])
    return np.asarray(~blue | (size == 1))


def no_flat_fifth(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Not the flat fifth of the scale."""
    return ~_between_halves(frozenset(palette_at(slots[0]).names))[midis[0]]


def _rests_on(slots: Sequence[Slot]) -> bool:
    return slots[0].strong or slots[0].beats >= 1 or slots[0].closes


def _stood_in_for(chord: AnalysedChord) -> bool:
    return not chord.scale.mode.label.endswith("blues")


STEP = Step(
    name="blues-scale",
    title="Blues scale",
    task="One scale over the whole form, in short phrases. Leave a rest, and listen to what the "
    "chord makes of your note.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(
            of_notes(2, skipping, 0.5),
            Cost(1, tells, 1.0),
            Cost(1, pauses, 1.0),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, turning, 0.3),
            of_notes(3, returning, 0.8),
            of_notes(3, recovering, 0.5),
        ),
        notices=notice_of_chords(
            "where the blues scale has too little of the chord, its pentatonic stands in",
            _stood_in_for,
        ),
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        LocalRule(
            "to one of the next two notes of the scale, further only to a tone of the chord",
            2,
            step_or_skip_to_tone,
        ),
        LocalRule("the flat fifth passes: it goes on by a half step", 2, flat_fifth_passes),
        LocalRule(
            "the flat fifth is neither held for a beat nor struck on a strong one",
            1,
            no_flat_fifth,
            _rests_on,
        ),
    ),
    sentences=(scales_named, breaths, highest, ends),
    scale_over=blues_over,
)
