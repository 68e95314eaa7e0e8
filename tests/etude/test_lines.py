"""The places of a line: stretches between rests, turns, contour, phrase ends."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from etude_charts import briefs, etude_charts
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief, phrase_bars
from halfstep.etude.layouts import stretches
from halfstep.etude.note_search import with_contour
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import Slot, line_slots, on_grid
from halfstep.etude.steps.turning_scale import with_turns
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.progression.chart import Chart
from halfstep.random_stream import RandomStream
from typed_charts import read_chart_text


@pytest.mark.slow
@given(etude_charts(), briefs(), st.integers(0, 99))
def test_stretches_hold_every_note_and_no_rest(chart: Chart, brief: Brief, seed: int) -> None:
    analysis = analyse(chart, level=brief.level)
    slots = line_slots(analysis, brief, chord_palettes(analysis, brief))
    inside = [n for start, stop in stretches(slots) for n in range(start, stop)]
    assert inside == [n for n, slot in enumerate(slots) if slot.palette]
    turned = with_turns(slots, RandomStream(seed))
    for start, stop in stretches(slots):
        marks = [n for n in range(start, stop) if turned[n].turn]
        gaps = np.diff([start, *marks])
        assert ((gaps >= 3) & (gaps <= 6)).all()
        assert stop - (marks or [start])[-1] <= 6


@pytest.mark.slow
@given(etude_charts(), briefs(), st.integers(0, 99))
def test_the_contour_stays_near_the_range(chart: Chart, brief: Brief, seed: int) -> None:
    """Every height to aim at lies in the player's range."""
    analysis = analyse(chart, level=brief.level)
    slots = line_slots(analysis, brief, chord_palettes(analysis, brief))
    led = with_contour(slots, brief, RandomStream(seed))
    assert all(brief.concert_low <= slot.target <= brief.concert_high for slot in led)


@given(st.integers(0, 999), st.integers(8, 200))
def test_the_contour_is_highest_once_past_the_middle(seed: int, count: int) -> None:
    """The highest place to aim at lies in the second half, before the last eighth part."""
    slot = Slot(Fraction(0), Fraction(1, 2), None, strong=False, entry=0)
    brief = Brief(INSTRUMENTS["flute"], Level.ADVANCED, 120.0)
    led = with_contour([slot] * count, brief, RandomStream(seed))
    heights = [each.target for each in led]
    assert 0.45 <= heights.index(max(heights)) / (count - 1) <= 0.9
    assert heights.count(max(heights)) == 1


def test_places_go_to_the_nearest_sixteenth() -> None:
    assert on_grid(Fraction(4, 3)) == Fraction(5, 4)
    assert on_grid(Fraction(5, 12)) == Fraction(1, 2)
    assert on_grid(Fraction(3)) == 3


def test_phrases_are_as_long_as_a_breath() -> None:
    """Four bars of four at 120 last 8 seconds; at 60 two bars do, at 26 one."""
    analysis = analyse(read_chart_text("| C7 | F7 |"))
    assert [phrase_bars(analysis, tempo) for tempo in (120, 60, 26)] == [4, 2, 1]


def test_a_line_breathes_after_a_longer_note() -> None:
    analysis = analyse(read_chart_text("| C7 | F7 | C7 | G7 | C7 |"))
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 120.0)
    slots = line_slots(analysis, brief, chord_palettes(analysis, brief))
    closing = [(slot.onset, slot.beats) for slot in slots if slot.closes]
    assert closing == [(15, 1), (18, 2)]
    assert all(slot.breath == slot.closes for slot in slots)
    assert [slot.last for slot in slots] == [False] * (len(slots) - 1) + [True]
    piano = Brief(INSTRUMENTS["piano"], Level.BEGINNER, 120.0)
    assert not any(
        slot.breath for slot in line_slots(analysis, piano, chord_palettes(analysis, piano))
    )
