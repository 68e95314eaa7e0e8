"""A line together with the exercise that it is: an etude, where that is a step."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.etude.etude_line import EtudeLine, Notice
from halfstep.etude.step import Exercise, Step


@dataclass(frozen=True, slots=True, kw_only=True)
class ExerciseLine(EtudeLine):
    """One exercise written out.

    Attributes
    ----------
    step : Exercise
    notices : tuple of Notice
        Such as a chord that is built on its third.
    """

    step: Exercise
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Etude(ExerciseLine):
    """One step written out.

    Attributes
    ----------
    step : Step
    """

    step: Step
