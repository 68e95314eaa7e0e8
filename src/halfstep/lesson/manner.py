"""How fast, and in what manner, is a chart played? What is asked for, else what it says itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfstep.etude.articulation import Articulation
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.progression.chart import Chart

if TYPE_CHECKING:
    from halfstep.backing import Style

TEMPO_BPM = {Level.BEGINNER: 84.0, Level.INTERMEDIATE: 112.0, Level.ADVANCED: 144.0}
"""Pulses a minute where neither the chart nor the teacher says; common practice."""


def tempo_played(chart: Chart, level: Level, tempo_bpm: float | None) -> float:
    """Pulses a minute: those that are asked for, the chart's, or the level's."""
    return tempo_bpm or chart.tempo_bpm or TEMPO_BPM[level]


def feel_played(chart: Chart, style: Style | None, feel: Feel | None) -> Feel:
    """How eighths fall; metres counted in eighths are straight."""
    if not chart.meter.swings:
        return Feel.STRAIGHT
    if style:
        return style.feel
    return feel or chart.feel or Feel.SWING


def articulation_played(style: Style | None, *, plain: bool) -> Articulation | None:
    """How a line is tongued: plain where that is asked for, legato where its style is.

    None leaves it to the feel and the tempo.
    """
    if plain:
        return Articulation.PLAIN
    return Articulation.LEGATO if style and style.line.tongued_part is None else None


def manner_word(style: Style | None, feel: Feel) -> str:
    """The style by its title, or the feel, as a page shows it."""
    return style.title.lower() if style else str(feel)
