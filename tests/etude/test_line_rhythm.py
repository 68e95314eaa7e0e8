"""What a line of eighths becomes: rests, late entries, held notes, triplets, anticipations.

Which level has which is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from briefs_over_charts import BriefOverChart, brief_over
from etude_charts import briefs, etude_charts
from hypothesis import given, settings
from hypothesis import strategies as st
from step_lines import CADENCE, HALVES, SIX_EIGHT

from halfstep.etude.etude_brief import Brief
from halfstep.etude.line_rhythm import UNBROKEN, with_eighths, with_rhythm
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import Slot, line_slots
from halfstep.harmony.analysis import analyse
from halfstep.harmony.note_likelihoods import Weight
from halfstep.meter import Feel
from halfstep.progression.chart import Chart
from halfstep.random_stream import RandomStream

HALF = Fraction(1, 2)


def laid(request: BriefOverChart, seed: int, *, often: float = 3.0) -> list[Slot]:
    slots = line_slots(request.analysis, request.brief, request.palettes)
    return with_rhythm(slots, request.analysis, request.brief, RandomStream(seed), often=often)


def of_seeds(chart: str, **wanted: object) -> list[Slot]:
    request = brief_over(chart, **wanted)  # type: ignore[arg-type]
    return [slot for seed in range(8) for slot in laid(request, seed, often=1.0)]


@pytest.mark.slow
@settings(max_examples=30)
@given(etude_charts(), briefs(), st.integers(0, 99))
def test_a_line_fills_its_form_whatever_becomes_of_its_eighths(
    chart: Chart, brief: Brief, seed: int
) -> None:
    """Every chord keeps a note; the last one and those that end phrases stay as they are."""
    analysis = analyse(chart, level=brief.level)
    plain = line_slots(analysis, brief, chord_palettes(analysis, brief))
    slots = with_rhythm(plain, analysis, brief, RandomStream(seed), often=9.0)
    assert all(old.onset + old.beats == new.onset for old, new in pairwise(slots))
    assert slots[0].onset == plain[0].onset
    assert slots[-1] == plain[-1]._replace(entry=slots[-1].entry)
    kept = [(slot.onset, slot.beats) for slot in slots if slot.closes]
    assert kept == [(slot.onset, slot.beats) for slot in plain if slot.closes]
    for line in (plain, slots):
        assert {slot.palette.chord for slot in line if slot.palette} == {
            slot.palette.chord for slot in plain if slot.palette
        }


def test_a_beginner_has_eighths_alone() -> None:
    request = brief_over(CADENCE, level="beginner")
    assert laid(request, 0) == line_slots(request.analysis, request.brief, request.palettes)


def test_an_intermediate_player_rests_and_holds_but_has_no_triplet_and_comes_never_early() -> None:
    slots = of_seeds(CADENCE)
    begun = {slot.onset % 1 for slot in slots if slot.palette}
    assert begun == {0, HALF}
    assert any(slot.palette is None for slot in slots)
    held = [slot for slot in slots if slot.onset % 1 and slot.beats == 1]
    assert held
    assert not any(slot.strong for slot in held)


@pytest.mark.parametrize(("feel", "own"), [(Feel.SWING, 3), (Feel.STRAIGHT, 4)])
def test_the_advanced_have_triplets_in_swing_and_sixteenths_in_straight_eighths(
    feel: Feel, own: int
) -> None:
    lengths = {slot.beats for slot in of_seeds(CADENCE, level="advanced", feel=feel)}
    assert lengths == {HALF, Fraction(1), Fraction(2), Fraction(1, own)}


def test_who_plays_fast_has_nothing_quicker_than_eighths() -> None:
    """A triplet at 300 would have notes of 67 ms."""
    quick = of_seeds(CADENCE, level="advanced", tempo_bpm=300.0)
    assert min(slot.beats for slot in quick) == HALF
    assert min(slot.beats for slot in of_seeds(SIX_EIGHT, level="advanced")) == HALF


def test_a_chord_that_comes_early_takes_the_last_eighth_before_it() -> None:
    early = [
        slot
        for slot in of_seeds(CADENCE, level="advanced")
        if slot.entry == 0 and slot.onset % 4 == Fraction(7, 2)
    ]
    assert early
    for slot in early:
        assert (slot.beats, slot.strong, slot.weight) == (1, True, Weight.OFF)


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_strong_beats_keep_their_note_unless_it_comes_early_or_a_phrase_begins_late(
    level: str,
) -> None:
    for seed in range(6):
        slots = laid(brief_over(HALVES, level=level, instrument="alto-sax"), seed)
        begun = {slot.onset for slot in slots if slot.palette}
        for beat in range(0, 16, 2):
            rested = any(slot.onset == beat and slot.palette is None for slot in slots)
            assert beat in begun or beat - HALF in begun or rested


def test_a_line_without_a_break_has_no_rest() -> None:
    request = brief_over(CADENCE, level="advanced")
    slots = line_slots(request.analysis, request.brief, request.palettes)
    for seed in range(4):
        rng = RandomStream(seed)
        line = with_rhythm(slots, request.analysis, request.brief, rng, UNBROKEN, often=9.0)
        assert all(slot.palette for slot in line)


def test_entries_count_the_notes_of_a_chord_and_one_that_is_left_out_before_them() -> None:
    for seed in range(6):
        slots = laid(brief_over(CADENCE, level="advanced", instrument="alto-sax"), seed)
        for old, new in pairwise(slots):
            if old.palette is new.palette is not None:
                assert new.entry == old.entry + 1
            elif new.palette and old.palette:
                assert new.entry == 0


def test_of_a_line_of_quarters_weak_beats_are_two_eighths() -> None:
    request = brief_over(CADENCE, level="beginner")
    plain = line_slots(request.analysis, request.brief, request.palettes, unit=Fraction(1))
    slots = with_eighths(plain, RandomStream(1))
    assert {slot.onset % 4 for slot in slots if slot.beats == HALF} == {1, Fraction(3, 2), 3,
                                                                       Fraction(7, 2)}  # fmt: skip
    assert sum(slot.beats for slot in slots) == 32
