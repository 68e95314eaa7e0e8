"""Does an etude keep the rules of its step? Asked of the finished notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from halfstep.etude.frame import Slot
from halfstep.etude.parts import Etude, EtudeNote
from halfstep.etude.rules import EVERY_STEP, LineRule, LocalRule
from halfstep.etude.tables import STEP_RULES


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that an etude breaks, and where."""

    rule: str
    note: EtudeNote


def breaches(etude: Etude, slots: Sequence[Slot]) -> list[Breach]:
    """Every rule that the etude breaks; empty for a good one.

    Parameters
    ----------
    etude : Etude
    slots : sequence of Slot
        The places the notes were written for, one for each note.
    """
    found = line_breaches(etude)
    for rule in _rules_of(etude.step):
        if isinstance(rule, LocalRule):
            found += [Breach(rule.text, note) for note in _local_breaches(rule, etude, slots)]
    return found


def line_breaches(etude: Etude) -> list[Breach]:
    """The breaches of the rules for a whole line alone."""
    return [
        Breach(rule.text, note)
        for rule in _rules_of(etude.step)
        if isinstance(rule, LineRule)
        for note in rule.breaches(etude)
    ]


def _rules_of(step: int) -> tuple[LocalRule | LineRule, ...]:
    return (*EVERY_STEP, *STEP_RULES[step])


def _local_breaches(rule: LocalRule, etude: Etude, slots: Sequence[Slot]) -> Iterator[EtudeNote]:
    for end in range(rule.width, len(slots) + 1):
        window = slots[end - rule.width : end]
        notes = etude.notes[end - rule.width : end]
        if any(note.pitch is None for note in notes) or not rule.applies(window):
            continue
        midis = [np.asarray(note.pitch.midi) for note in notes if note.pitch]
        if not rule.holds(window, midis):
            yield notes[-1]
