"""A line is highest past the middle of its form, once; common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from briefs_over_charts import brief_over, slots_laid_out
from etude_charts import INVENTED
from step_lines import line_of

from halfstep.etude.ending_choice import ending_after
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.high_point import has_high_point, high_point_notices, high_points
from halfstep.etude.rules import HIGH_POINT
from halfstep.etude.steps import STEPS, find_step
from halfstep.etude.written_etude import Etude
from halfstep.level import Level

OVER_THE_FORM = (
    "broken-arpeggio", "turning-scale", "one-line", "approach-notes", "enclosures", "motif",
    "chorus",
)  # fmt: skip
PLAYERS = ("alto-sax", "clarinet", "trombone", "guitar")
CHARTS = list(INVENTED.values())
BLUES = INVENTED["twelve bars"]


def tops(etude: Etude) -> list[Fraction]:
    """Where the highest note stands, as shares of the form."""
    midis = [note.pitch.midi for note in etude.notes if note.pitch]
    return [
        note.onset / etude.analysis.chart.beats
        for note in etude.notes
        if note.pitch and note.pitch.midi == max(midis)
    ]


def test_steps_whose_line_goes_over_the_form_have_a_high_point() -> None:
    assert tuple(step.name for step in STEPS if HIGH_POINT in step.rules) == OVER_THE_FORM


@pytest.mark.slow
@pytest.mark.parametrize("step", OVER_THE_FORM)
@pytest.mark.parametrize("level", Level)
def test_a_line_is_highest_past_the_middle_and_once(step: str, level: Level) -> None:
    """Each instrument over a chart; which of them and by which seed goes round."""
    turn = OVER_THE_FORM.index(step) + 3 * list(Level).index(level)
    for n, instrument in enumerate(PLAYERS):
        chart = CHARTS[(2 * n + turn) % len(CHARTS)]
        request = brief_over(chart, instrument=instrument, level=level.value, seed=(n + turn) % 5)
        etude = line_of(step, request)
        (top,) = tops(etude)
        assert Fraction(55, 100) <= top <= Fraction(90, 100)
        assert high_point_notices(etude) == []


@pytest.mark.slow
@pytest.mark.parametrize("step", ["one-line", "chorus"])
def test_seeds_and_charts_are_highest_in_different_places(step: str) -> None:
    for chart in (BLUES, INVENTED["sixteen bars"]):
        seeds = [line_of(step, brief_over(chart, instrument="flute", seed=n)) for n in range(5)]
        assert len({top for etude in seeds for top in tops(etude)}) >= 3
    charts = [line_of(step, brief_over(chart, instrument="flute", seed=1)) for chart in CHARTS[:5]]
    assert len({top for etude in charts for top in tops(etude)}) >= 2


def test_plans_have_one_place_each_and_the_nearest_to_the_crest_and_the_ideal_come_first() -> None:
    slots = slots_laid_out("turning-scale", brief_over(BLUES, instrument="flute"))
    crest = 60
    slots = [slot._replace(target=80.0 if n == crest else 70.0) for n, slot in enumerate(slots)]
    plans = list(high_points(slots, 84.0))
    for place, plan in plans:
        assert [n for n, slot in enumerate(plan) if slot.peaks] == [place]
        assert len({slot.high_point for slot in plan if slot.palette}) == 1
    assert abs(plans[0][0] - crest) <= 8
    assert abs((plans[0][1][plans[0][0]].high_point or 0) - 84) <= 3


def test_a_line_of_one_bar_has_its_rules_and_is_told_where_it_has_no_high_point() -> None:
    """Two notes in the player's compass: the upper one cannot stand once."""
    request = brief_over("| C7 | C7 |", known="C4 E4")
    etude = write_etude(find_step("broken-arpeggio"), request.analysis, request.brief)
    assert not has_high_point(etude.analysis, etude.notes)
    (notice,) = high_point_notices(etude)
    assert "no single high point past the middle" in notice.text
    assert notice in etude.notices


def test_a_line_that_begins_with_a_rest_is_written_without_a_high_point_too() -> None:
    etude = line_of("chorus", brief_over("| C7 |", level="intermediate", seed=9))
    assert etude.notes[0].pitch is None
    assert len(high_point_notices(etude)) == 1


@pytest.mark.slow
def test_bars_that_stand_may_hold_the_highest_note_or_stay_below_it() -> None:
    request = brief_over(BLUES, instrument="flute", seed=2)
    first = line_of("turning-scale", request)
    bars = [note for note in first.notes if 16 <= note.onset < 20]
    kept = replace(request.brief, pinned=tuple(bars), seed=3)
    etude = write_etude(first.step, request.analysis, kept)
    assert has_high_point(etude.analysis, etude.notes)


@pytest.mark.slow
def test_an_ending_stays_below_the_high_point_where_another_note_is_near() -> None:
    for chart, seed in product(CHARTS[:3], range(4)):
        etude = line_of("chorus", brief_over(chart, instrument="flute", seed=seed))
        ending = ending_after(etude.notes, etude.analysis, etude.brief)
        if ending and ending.note.pitch:
            highest = max(note.pitch.midi for note in etude.notes if note.pitch)
            assert ending.note.pitch.midi < highest


def test_the_rule_masks_all_but_one_note_at_the_high_point_and_all_above_it_elsewhere() -> None:
    slots = slots_laid_out("chorus", brief_over(BLUES, instrument="flute"))
    slot = slots[-1]._replace(high_point=72)
    grid = np.arange(70, 75)
    assert HIGH_POINT.holds([slot], [grid]).tolist() == [True, True, False, False, False]
    peak = slot._replace(peaks=True)
    assert HIGH_POINT.holds([peak], [grid]).tolist() == [False, False, True, False, False]
    assert not HIGH_POINT.applies([slot._replace(high_point=None)])
