"""The root and the third of each chord, in rhythm, and nothing else.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.etude.costs import (
    NEAR_MIDDLE,
    NEAR_REACH,
    Cost,
    beyond_fifth,
    comes_to_rest,
    of_notes,
    returning,
    skipping,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import every_bar, in_rhythm, tried_again
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import IN_SCALE, LocalRule, palette_at
from halfstep.etude.sentences import PartLine, breaths, smallest_change, thirds
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream


def root_third_layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """The whole form in a rhythm that varies."""
    return in_rhythm(analysis, brief, palettes, rng, every_bar(analysis), rests=True)


def root_or_third(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root or the third, or the fourth or second in its place."""
    palette = palette_at(slots[0])
    above = (np.arange(128) - palette.root_class) % 12
    two = palette.core & (above <= 5)
    return (two if two.any() else palette.core)[midis[0]]


def third_to_third(line: PartLine) -> str:
    """The smallest step from chord to chord."""
    return smallest_change(line, "In {place} {move} over {chord}: hear it before you play it.")


STEP = Step(
    name="root-third",
    title="Root and third",
    task="Two notes on each chord. Sing the second one before you play it.",
    writing=NoteByNote(
        layouts=tried_again(root_third_layout),
        costs=(
            of_notes(2, skipping, 1.2),
            of_notes(2, beyond_fifth, 12.0),
            Cost(1, tells, 0.3),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, returning, 0.4),
        ),
        contour=NEAR_MIDDLE,
        reach=NEAR_REACH,
    ),
    rules=(IN_SCALE, LocalRule("only the root and the third", 1, root_or_third)),
    sentences=(third_to_third, thirds, breaths),
    stream=99,
)
