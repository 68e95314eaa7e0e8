"""The arpeggio of each chord from any of its tones, one inversion after another.

Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.etude.palette import Flags, Palette
from halfstep.etude.rules import CORE_TONES, IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import changes, highest
from halfstep.etude.step import InRuns, Step, no_notices
from halfstep.etude.vocabulary.pattern import Pattern, made_of_figures, pattern_layout
from halfstep.etude.vocabulary.pattern_words import figure_named

FIGURES = ((0, 1, 2, 3), (0, 2, 1, 3), (0, 1, 3, 2), (1, 0, 2, 3))


def core_notes(palette: Palette) -> Flags:
    """The tones of the arpeggio."""
    return palette.core


PATTERN = Pattern(FIGURES, core_notes)

STEP = Step(
    name="inversions",
    title="Inversions",
    task="The arpeggio from its root, its third, its fifth and its seventh, one after another. "
    "Name the tone that you begin on.",
    writing=InRuns(
        layout=pattern_layout(PATTERN), notices=no_notices, untold=0.5, again=2.0, off_root=0.0
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        CORE_TONES,
        made_of_figures(PATTERN, "every bar goes through the inversions of its chord"),
    ),
    sentences=(figure_named, changes, highest),
    is_study=True,
)
