"""Cells of three notes a fourth apart, carried along the scale of each chord.

Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import changes, highest
from halfstep.etude.step import InRuns, Step, no_notices
from halfstep.etude.vocabulary.pattern import Pattern, made_of_figures, pattern_layout
from halfstep.etude.vocabulary.pattern_words import figure_named

FIGURES = ((0, 3, 6), (6, 3, 0), (3, 0, 6), (3, 6, 0))
PATTERN = Pattern(FIGURES, in_threes=True)

STEP = Step(
    name="quartal-cells",
    title="Quartal cells",
    task="Three notes in fourths, carried along the scale. Let each cell ring before the next.",
    writing=InRuns(
        layout=pattern_layout(PATTERN), notices=no_notices, untold=0.5, again=2.0, off_root=0.0
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar is made of cells of fourths"),
    ),
    sentences=(figure_named, changes, highest),
    is_study=True,
)
