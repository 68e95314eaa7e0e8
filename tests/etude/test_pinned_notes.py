"""Where pinned notes break a rule is where the search finds no way on."""

from __future__ import annotations

from briefs_over_charts import brief_over, slots_laid_out
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.cost_tables import CostTables
from halfstep.etude.pinned_notes import first_pinned_breach
from halfstep.etude.slots import Slot
from halfstep.etude.steps import find_step
from halfstep.search import NoPath, best_path

CADENCE = brief_over("key: C\n| Dm7 | G7 |", level="beginner", instrument="alto-sax")
STEP = find_step("one-line")
SLOTS = slots_laid_out("one-line", CADENCE)
PINS = st.lists(st.integers(50, 82), min_size=len(SLOTS), max_size=len(SLOTS))
NEAR = st.lists(st.sampled_from((60, 62, 64, 65)), min_size=len(SLOTS), max_size=len(SLOTS))


@given(PINS | NEAR, st.sets(st.integers(0, len(SLOTS) - 1), max_size=4))
def test_it_is_the_first_place_that_the_search_does_not_reach(
    pins: list[int], standing: set[int]
) -> None:
    slots = [
        slot._replace(pin=pin, stands=place in standing, barrier=CADENCE.brief.barrier)
        for place, (slot, pin) in enumerate(zip(SLOTS, pins, strict=True))
    ]
    assert first_pinned_breach(STEP.local_rules, slots, CADENCE.brief) == unreached(slots)


def unreached(slots: list[Slot]) -> int | None:
    """The first place that the search does not reach."""
    try:
        best_path(CostTables(STEP.local_rules, (), CADENCE.brief).chain(slots)[0])
    except NoPath as blocked:
        return blocked.place
    return None
