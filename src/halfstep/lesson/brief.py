"""What is asked of a lesson."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.etude.step import Step
from halfstep.etude.steps import parse_steps
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.progression.chart import Chart

TEMPO_BPM = {Level.BEGINNER: 84.0, Level.INTERMEDIATE: 112.0, Level.ADVANCED: 144.0}
"""Pulses a minute where neither the chart nor the teacher says; common practice."""


@dataclass(frozen=True, slots=True)
class LessonBrief:
    """A request for a lesson.

    Attributes
    ----------
    chart : Chart
    instruments : tuple of Instrument
        One part each.
    steps : tuple of Step
    level : Level
    tempo_bpm : float or None
        Pulses a minute; None takes the chart's, or the level's.
    feel : Feel or None
        None takes the chart's, or swing.
    seed : int
    players : tuple of (str, str)
        Instrument key and the names printed on its handout.
    """

    chart: Chart
    instruments: tuple[Instrument, ...] = (INSTRUMENTS["concert"],)
    steps: tuple[Step, ...] = parse_steps("1-6")
    level: Level = Level.INTERMEDIATE
    tempo_bpm: float | None = None
    feel: Feel | None = None
    seed: int = 1
    players: tuple[tuple[str, str], ...] = ()

    @property
    def pulses_a_minute(self) -> float:
        """The tempo that is used."""
        return self.tempo_bpm or self.chart.tempo_bpm or TEMPO_BPM[self.level]

    @property
    def eighths(self) -> Feel:
        """The feel that is used; metres counted in eighths are straight."""
        if not self.chart.meter.swings:
            return Feel.STRAIGHT
        return self.feel or self.chart.feel or Feel.SWING
