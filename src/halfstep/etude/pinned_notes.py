"""Where do notes that are all pinned break a rule? There is one line of them, and none to search.

It is asked as the search would: a rule for one note says what may be pinned there, and is asked
of the finished line alone; the teacher's own notes break none.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from halfstep.etude.etude_brief import Brief
from halfstep.etude.rules import LocalRule
from halfstep.etude.slots import Slot


def first_pinned_breach(
    rules: Sequence[LocalRule], slots: Sequence[Slot], brief: Brief
) -> int | None:
    """The first of pinned slots in a row that no line reaches; None where all can be played."""
    breaches = [*_out_of_range(slots, brief)]
    for rule in rules:
        breaches += _broken(rule, slots)
    return min(breaches, default=None)


def _out_of_range(slots: Sequence[Slot], brief: Brief) -> Iterator[int]:
    for place, slot in enumerate(slots):
        in_range = slot.pin is not None and brief.concert_low <= slot.pin <= brief.concert_high
        if not in_range and not slot.stands:
            yield place


def _broken(rule: LocalRule, slots: Sequence[Slot]) -> Iterator[int]:
    """The first place after which a rule for several notes is broken."""
    line = np.array([slot.pin for slot in slots])
    for end in range(rule.width, len(slots) + 1):
        window = slots[end - rule.width : end]
        asked = rule.width > 1 and not any(slot.stands for slot in window) and rule.applies(window)
        if asked and not rule.holds(window, list(line[end - rule.width : end])):
            yield end - 1
            return
