"""Heights and directions of phrases, planned before notes."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import stretches
from halfstep.etude.palette import chord_palettes
from halfstep.etude.phrase_contour import with_contours
from halfstep.etude.slots import Slot
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.random_stream import RandomStream
from typed_charts import read_chart_text

BRIEF = Brief(INSTRUMENTS["alto-sax"], Level.ADVANCED, 140.0)
PALETTE = chord_palettes(analyse(read_chart_text("| C7 |")), BRIEF)[0]


def eight_phrases(count: int = 12) -> list[Slot]:
    slots: list[Slot] = []
    for _ in range(8):
        for n in range(count + 1):
            at = Fraction(len(slots), 2)
            slots.append(Slot(at, Fraction(1, 2), PALETTE if n < count else None, False, n))
    return slots


@pytest.mark.slow
@settings(max_examples=30)
@given(st.integers(0, 999), st.integers(1, 20))
def test_heights_lie_in_the_range_and_every_note_but_the_first_has_a_way(
    seed: int, count: int
) -> None:
    slots = with_contours(eight_phrases(count), BRIEF, RandomStream(seed))
    for start, stop in stretches(slots):
        assert slots[start].way == 0
        assert all(slot.way in {-1, 1} for slot in slots[start + 1 : stop])
        heights = [slot.target for slot in slots[start:stop]]
        assert all(BRIEF.concert_low <= height <= BRIEF.concert_high for height in heights)


def test_phrases_lie_highest_past_the_middle() -> None:
    early, late = [], []
    for seed in range(30):
        slots = with_contours(eight_phrases(), BRIEF, RandomStream(seed))
        means = [mean(s.target for s in slots[a:b]) for a, b in stretches(slots)]
        early.append(mean(means[:4]))
        late.append(mean(means[4:7]))
    assert mean(late) > mean(early) + 1


def test_runs_are_as_long_as_in_solos() -> None:
    """Between 1.8 and 2.6 intervals before a line turns; counted are 2.2."""
    turns = places = 0
    for seed in range(30):
        slots = with_contours(eight_phrases(), BRIEF, RandomStream(seed))
        for start, stop in stretches(slots):
            ways = [slot.way for slot in slots[start + 1 : stop]]
            turns += sum(a != b for a, b in pairwise(ways))
            places += len(ways)
    assert 1.8 <= places / (turns + 240) <= 2.6
