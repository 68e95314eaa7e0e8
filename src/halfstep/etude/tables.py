"""What makes a step: its layout, its rules and its costs, in one table each.

The first six steps have their rules and costs beside the functions they are made of;
every later step is a module of its own with ``layout``, ``RULES`` and ``COSTS``.
"""

from __future__ import annotations

from halfstep.etude import approach, calls, cells, chorus, enclosure, guide, motif, presteps, runs
from halfstep.etude.costs import BASIC_COSTS, Cost
from halfstep.etude.layouts import Layout, Layouts, broken_line, even_line, turning_line
from halfstep.etude.rules import BASIC_RULES, LineRule, LocalRule
from halfstep.etude.shapes import NoticesOf, RunLayout

LAYOUTS: dict[int, Layout] = {
    **presteps.LAYOUTS,
    3: broken_line,
    5: turning_line,
    6: even_line,
    9: approach.layout,
    10: enclosure.layout,
    11: motif.layout,
    12: calls.layout,
    13: chorus.layout,
}
"""Where the notes stand, for the steps that are searched note by note."""

FREER_LAYOUTS: dict[int, Layouts] = {7: guide.layouts}
"""Layouts unlike what is heard, to be tried one after another."""

KIN = {7: 4}
"""The steps in which so many neighbouring seeds are written unlike each other, one after
another: where chance alone leaves too little choice."""

RUN_LAYOUTS: dict[int, RunLayout] = {
    1: runs.arpeggios,
    2: runs.arpeggios_in_rhythm,
    4: runs.scales,
    8: cells.layout,
}
"""The runs of the steps whose shapes are fixed and only placed."""

NOTICES: dict[int, NoticesOf] = {8: cells.notices}
"""What the teacher is told of a step's runs, where its own words are needed."""

STEP_RULES: dict[int, tuple[LocalRule | LineRule, ...]] = {
    **presteps.RULES,
    **BASIC_RULES,
    7: guide.RULES,
    8: cells.RULES,
    9: approach.RULES,
    10: enclosure.RULES,
    11: motif.RULES,
    12: calls.RULES,
    13: chorus.RULES,
}
"""The rules of each step, beside those for every step."""

LINE_COSTS: dict[int, tuple[Cost, ...]] = {
    **presteps.COSTS,
    **BASIC_COSTS,
    7: guide.COSTS,
    9: approach.COSTS,
    10: enclosure.COSTS,
    11: motif.COSTS,
    12: calls.COSTS,
    13: chorus.COSTS,
}
"""What ranks the lines that keep the rules."""

LEAST_TOLD: dict[int, float] = {
    3: 0.9,
    **dict.fromkeys((6, 8, 9, 10), 0.6),
    7: 1.0,
    13: chorus.LEAST_TOLD,
}
"""The relative outline that a line is drawn again for; most lines have it at once."""
