"""What is raised where a step's rules leave no way on."""

from __future__ import annotations

from fractions import Fraction

from halfstep.errors import BriefError
from halfstep.etude.parts import Brief
from halfstep.etude.rules import LocalRule


class Blocked(BriefError):
    """No line keeps the rules; `said` says which rule blocks, and in which bar.

    Parameters
    ----------
    step : int
    brief : Brief
    label : str
        The chord, concert.
    onset : Fraction
        The beat that cannot be reached.
    rule : LocalRule or None
        The rule without which it could be; None when no single one is to blame.
    """

    def __init__(
        self, step: int, brief: Brief, label: str, onset: Fraction, rule: LocalRule | None
    ) -> None:
        self.step = step
        self.brief = brief
        self.label = label
        self.onset = onset
        self.rule = rule
        super().__init__(self.said())

    def said(self, bar: int | None = None) -> str:
        """What blocks, and where."""
        where = self.label if bar is None else f"{self.label} in bar {bar}"
        rule = f"the rule “{self.rule.text}”" if self.rule else "its rules together"
        leave = "leaves" if self.rule else "leave"
        return (
            f"step {self.step} finds no line for {self.brief.instrument.key} at level "
            f"{self.brief.level} into {where}: {rule} {leave} no note there"
        )
