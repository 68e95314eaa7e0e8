"""An etude: a line together with the step it was written for."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.etude.etude_line import EtudeLine, Notice
from halfstep.etude.step import Step


@dataclass(frozen=True, slots=True, kw_only=True)
class Etude(EtudeLine):
    """One step written out.

    Attributes
    ----------
    step : Step
    notices : tuple of Notice
        Such as a chord that is built on its third.
    """

    step: Step
    notices: tuple[Notice, ...] = ()
