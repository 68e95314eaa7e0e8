"""One pattern of four from the root of every chord: 1 2 3 5 and its kin.

The pattern is drawn by the seed and stays for the whole line, forwards and backwards in turn; the
step of cells turns 1 2 3 5 inside instead. Where the player's notes are too few for it, its
upper notes are turned over the octave, and said so.

Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.etude.palette import Flags, Palette
from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import highest
from halfstep.etude.step import InRuns, Step
from halfstep.etude.steps.cells import cell_roots
from halfstep.etude.vocabulary.pattern import (
    Pattern,
    made_of_figures,
    pattern_layout,
    turned_over,
)
from halfstep.etude.vocabulary.pattern_words import figure_named

FIGURES = ((0, 1, 2, 3), (0, 2, 1, 3), (0, 3, 2, 1), (0, 1, 3, 2), (2, 1, 0, 3), (0, 2, 3, 1))
"""1 2 3 5, 1 3 2 5, 1 5 3 2, 1 2 5 3, 3 2 1 5 and 1 3 5 2, as places among root, 2nd, 3rd, 5th."""


def cell_notes(palette: Palette) -> Flags:
    """The root, second, third and fifth."""
    return palette.cell


PATTERN = Pattern(FIGURES, cell_notes, moves=(0,), from_root=True)

STEP = Step(
    name="digital-patterns",
    title="Digital patterns",
    task="One pattern of four notes from the root of every chord. Say its numbers aloud, then "
    "play them.",
    writing=InRuns(
        layout=pattern_layout(PATTERN),
        notices=turned_over(PATTERN),
        untold=0.5,
        again=2.0,
        off_root=0.0,
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar is made of the pattern of the line, from the root"),
    ),
    sentences=(figure_named, cell_roots, highest),
    is_study=True,
)
