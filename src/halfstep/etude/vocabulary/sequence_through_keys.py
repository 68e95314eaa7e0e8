"""A figure of eight notes that moves with the roots: the same degrees over every chord.

It has the root, second, third, fifth and sixth of each chord's scale, so it is heard in the key
of the moment; where the chart goes to another key the figure goes there too.

Source: common practice, no source.
"""

from __future__ import annotations

import numpy as np

from halfstep.etude.palette import Flags, Palette
from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import changes, highest
from halfstep.etude.step import InRuns, Step
from halfstep.etude.steps.cells import cell_roots
from halfstep.etude.vocabulary.pattern import (
    Pattern,
    made_of_figures,
    pattern_layout,
    turned_over,
)
from halfstep.etude.vocabulary.pattern_words import figure_named

FIGURES = (
    (0, 1, 2, 3, 4, 3, 2, 1), (0, 1, 2, 1, 3, 2, 1, 2), (0, 3, 2, 1, 0, 1, 2, 3),
    (0, 1, 2, 0, 3, 4, 3, 2), (0, 2, 3, 4, 3, 2, 1, 2), (0, 2, 1, 3, 2, 4, 3, 2),
)  # fmt: skip
"""As places among root, 2nd, 3rd, 5th and 6th; the first is 1 2 3 5 6 5 3 2."""
SIXTH = 6


def figure_notes(palette: Palette) -> Flags:
    """The root, second, third, fifth and sixth."""
    sixths = [pc for pc, degree in palette.degrees.items() if degree.number == SIXTH]
    return np.asarray(palette.cell | (palette.scale & np.isin(np.arange(128) % 12, sixths[:1])))


PATTERN = Pattern(FIGURES, figure_notes, moves=(0,), from_root=True)

STEP = Step(
    name="sequence-through-keys",
    title="Sequence through the keys",
    task="One figure that moves with the roots: the same numbers over every chord. "
    "Name the key of the moment before you play in it.",
    writing=InRuns(
        layout=pattern_layout(PATTERN),
        notices=turned_over(PATTERN),
        untold=0.3,
        again=2.0,
        off_root=0.0,
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar has the figure of the line, from its chord's root"),
    ),
    sentences=(figure_named, cell_roots, changes, highest),
    is_study=True,
)
