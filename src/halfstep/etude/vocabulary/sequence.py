"""A figure of four along the scale, each time a step higher or lower: a sequence in one key.

It keeps to the scale of the moment, so it stays in the key as long as the chords do.

Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import changes, highest
from halfstep.etude.step import InRuns, Step, no_notices
from halfstep.etude.vocabulary.pattern import Pattern, made_of_figures, pattern_layout
from halfstep.etude.vocabulary.pattern_words import figure_named

FIGURES = (
    (0, 1, 2, 0), (0, 1, 2, 3), (0, 2, 1, 0), (2, 0, 1, 0), (0, 2, 1, 3), (0, 1, -1, 0),
)  # fmt: skip
PATTERN = Pattern(FIGURES)

STEP = Step(
    name="sequence",
    title="Sequence",
    task="One figure of four notes, repeated a step higher or lower along the scale of the moment. "
    "Sing the first note of each.",
    writing=InRuns(
        layout=pattern_layout(PATTERN), notices=no_notices, untold=0.5, again=2.0, off_root=0.0
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar repeats the figure of the line a step higher or lower"),
    ),
    sentences=(figure_named, changes, highest),
    is_study=True,
)
