"""Where do the notes of a line stand? The layouts of steps 3, 5 and 6.

A layout makes the slots of a whole etude; the search fills them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.etude.frame import Palette, Slot, line_slots, phrase_ends
from halfstep.etude.heard import Heard
from halfstep.etude.parts import Brief
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level

Layout = Callable[[Analysis, Brief, Sequence[Palette | None], np.random.Generator], list[Slot]]
Layouts = Callable[
    [Analysis, Brief, Sequence[Palette | None], np.random.Generator, Sequence[Heard]],
    Iterator[list[Slot]],
]


def even_line(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], _rng: np.random.Generator
) -> list[Slot]:
    """An unbroken line of eighths."""
    return line_slots(analysis, brief, found)


def broken_line(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], _rng: np.random.Generator
) -> list[Slot]:
    """A line of eighths, or of quarters for a beginner."""
    if brief.level is Level.BEGINNER:
        return line_slots(analysis, brief, found, unit=Fraction(1))
    return line_slots(analysis, brief, found)


def turning_line(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], rng: np.random.Generator
) -> list[Slot]:
    """A line of eighths that must turn every three to six notes."""
    return with_turns(line_slots(analysis, brief, found), rng)


def with_phrases(slots: Sequence[Slot], analysis: Analysis, brief: Brief) -> list[Slot]:
    """Mark where phrases end, where players breathe, and the last note."""
    ends = phrase_ends(analysis, brief)
    stops = {start + bar.beats for bar, start in analysis.chart.placed() if bar.number in ends}
    marked = []
    for slot in slots:
        closes = slot.palette is not None and slot.onset + slot.beats in stops
        marked.append(replace(slot, closes=closes, breath=closes and brief.instrument.breath))
    marked[-1] = replace(marked[-1], last=marked[-1].palette is not None)
    return marked


def stretches(slots: Sequence[Slot]) -> list[tuple[int, int]]:
    """Where the line sounds without a rest: start and stop indices."""
    edges = [-1, *(n for n, slot in enumerate(slots) if slot.palette is None), len(slots)]
    return [(low + 1, high) for low, high in pairwise(edges) if high > low + 1]


def with_turns(slots: Sequence[Slot], rng: np.random.Generator) -> list[Slot]:
    """Choose where a turning line must have turned: every three to six notes."""
    marked = list(slots)
    for start, stop in stretches(slots):
        place = start + int(rng.integers(3, 7))
        while place < stop:
            marked[place] = replace(marked[place], turn=True)
            place += int(rng.integers(3, 7))
    return marked
