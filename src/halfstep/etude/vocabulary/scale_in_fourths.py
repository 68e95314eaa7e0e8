"""The scale of each chord in broken fourths, up and down.

Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import changes, highest
from halfstep.etude.step import InRuns, Step, no_notices
from halfstep.etude.vocabulary.pattern import Pattern, made_of_figures, pattern_layout
from halfstep.etude.vocabulary.pattern_words import figure_named

FIGURES = ((0, 3), (3, 0))
PATTERN = Pattern(FIGURES)

STEP = Step(
    name="scale-in-fourths",
    title="Scale in fourths",
    task="Each scale in fourths: a note and the fourth above it, the next and its fourth. "
    "Take it slowly.",
    writing=InRuns(
        layout=pattern_layout(PATTERN), notices=no_notices, untold=0.5, again=2.0, off_root=0.0
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar goes through its scale in fourths"),
    ),
    sentences=(figure_named, changes, highest),
    is_study=True,
)
