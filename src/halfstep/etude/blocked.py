"""What is raised where a step's rules leave no way on."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.rules import LocalRule
from halfstep.etude.step import Step


class Blocked(BriefError):
    """No line keeps the rules of a step.

    Parameters
    ----------
    step : Step
    brief : Brief
    label : str
        The chord, concert.
    onset : Fraction
        The beat that cannot be reached.
    find_rule : callable
        Finds the rule without which it could be, None when no single one is to blame;
        called when the message is read.
    """

    def __init__(
        self,
        step: Step,
        brief: Brief,
        label: str,
        onset: Fraction,
        find_rule: Callable[[], LocalRule | None],
    ) -> None:
        self.step = step
        self.brief = brief
        self.label = label
        self.onset = onset
        self.find_rule = find_rule
        super().__init__(label)

    @property
    def marked_text(self) -> str:
        """What blocks, without the bar."""
        return self.sentence().format(chord=self.label)

    def sentence(self, bar: int | None = None) -> str:
        """What blocks, and where; ``{chord}`` stands where the symbol belongs."""
        rule = self.find_rule()
        where = "{chord}" if bar is None else f"{{chord}} in bar {bar}"
        blocks = f"the rule “{rule.text}” leaves" if rule else "its rules together leave"
        return (
            f"step {self.step.short_name} finds no line for {self.brief.instrument.key} at level "
            f"{self.brief.level} into {where}: {blocks} no note there"
        )
