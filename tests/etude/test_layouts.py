"""Layouts that several steps share: rhythm in the bars that are played, rests in the others."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, slots_laid_out
from etude_charts import briefs, chart_with
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.calls import CALL_BARS, call_bars
from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import (
    LAYOUTS_TRIED,
    every_bar,
    in_rhythm,
    stretches,
    tried_again,
    with_phrases,
)
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote
from halfstep.etude.steps import STEPS
from halfstep.harmony.analysis import analyse
from halfstep.meter import Meter
from halfstep.random_stream import RandomStream
from strategies import meters

BY_NOTE = [step.name for step in STEPS if isinstance(step.writing, NoteByNote)]
EIGHT_BARS = brief_over("| C7 | F7 | C7 | Gm7 C7 | F7 | F7 | C7 | C7 |", instrument="alto-sax")


def rhythm(
    request: BriefOverChart, played: set[int], *, seed: int = 0, **marks: bool
) -> list[Slot]:
    rng = RandomStream(seed)
    return in_rhythm(request.analysis, request.brief, request.palettes, rng, played, **marks)


@pytest.mark.sampled
@pytest.mark.parametrize("step", BY_NOTE)
@settings(max_examples=10)
@given(meter=meters(), brief=briefs(), bars=st.integers(1, 5))
def test_slots_fill_the_form_in_every_metre(
    step: str, meter: Meter, brief: Brief, bars: int
) -> None:
    """Without gap or overlap, and the last slot ends with the form."""
    chart = chart_with(meter, bars, [(meter.bar_beats * n, ["Dm7", "G7"][n % 2])
                                     for n in range(bars)])  # fmt: skip
    analysis = analyse(chart, level=brief.level)
    request = BriefOverChart(analysis, brief, chord_palettes(analysis, brief))
    slots = slots_laid_out(step, request, brief.seed)
    assert slots[0].onset == 0
    assert all(old.onset + old.beats == new.onset for old, new in pairwise(slots))
    assert slots[-1].onset + slots[-1].beats == chart.beats
    assert min(slot.beats for slot in slots) > 0


@pytest.mark.parametrize("bars", range(1, 14))
def test_calls_are_two_bars_of_four_and_leave_an_answer(bars: int) -> None:
    """No more than two are played in a row; the last is an answer, but for one or two bars."""
    played = call_bars(bars)
    assert 1 in played
    assert played <= set(range(1, bars + 1))
    runs = [n for n in played if {n, n + 1, n + 2} <= played]
    assert runs == []
    if bars >= 2 * CALL_BARS and bars % (2 * CALL_BARS) != 1:
        assert bars not in played
    if bars % 4 == 0:
        assert len(played) * 2 == bars


def test_bars_that_are_not_played_are_rests() -> None:
    slots = rhythm(EIGHT_BARS, {1, 2, 5})
    for slot in slots:
        bar = int(slot.onset // 4) + 1
        assert (slot.palette is not None) is (bar in {1, 2, 5})


def test_a_bar_of_two_chords_is_one_rest_only_where_asked() -> None:
    """A player who answers reads one rest, a player who waits sees where the chord falls."""
    for whole, lengths in ((False, [2, 2]), (True, [4])):
        slots = rhythm(EIGHT_BARS, {1}, whole_rests=whole)
        assert [slot.beats for slot in slots if 12 <= slot.onset < 16] == lengths


@pytest.mark.parametrize("seed", range(6))
def test_the_last_note_before_a_bar_of_rest_is_held_and_ends_a_phrase(seed: int) -> None:
    slots = rhythm(EIGHT_BARS, {1, 2, 5, 6}, seed=seed)
    before_rests = [old for old, new in pairwise(slots) if old.palette and not new.palette]
    assert [slot.onset + slot.beats for slot in before_rests] == [8, 24]
    for slot in before_rests:
        assert slot.beats >= 1
        assert slot.closes
        assert slot.breath


@pytest.mark.parametrize("seed", range(6))
def test_a_rest_inside_a_bar_is_no_end_of_a_phrase(seed: int) -> None:
    slots = rhythm(EIGHT_BARS, every_bar(EIGHT_BARS.analysis), seed=seed, rests=True)
    closing = [slot.onset + slot.beats for slot in slots if slot.closes]
    assert closing == [16, 32]


def test_some_rests_are_inside_bars_where_they_are_asked_for_and_none_elsewhere() -> None:
    every = every_bar(EIGHT_BARS.analysis)
    counts = {
        rests: sum(
            slot.palette is None for seed in range(12)
            for slot in rhythm(EIGHT_BARS, every, seed=seed, rests=rests)
        )
        for rests in (False, True)
    }  # fmt: skip
    assert counts[False] == 0
    assert 5 <= counts[True] <= 60  # of 108 bars and chords, three in ten where there is room


@pytest.mark.parametrize("seed", range(5))
def test_entries_go_on_after_a_rest_within_a_chord(seed: int) -> None:
    slots = rhythm(EIGHT_BARS, every_bar(EIGHT_BARS.analysis), seed=seed, rests=True)
    entries: dict[int, list[int]] = {}
    for slot in slots:
        if slot.palette:
            entries.setdefault(slot.palette.chord, []).append(slot.entry)
    assert all(numbers == list(range(len(numbers))) for numbers in entries.values())


def test_neighbouring_bars_of_the_same_length_have_different_rhythms() -> None:
    for seed in range(8):
        slots = rhythm(EIGHT_BARS, every_bar(EIGHT_BARS.analysis), seed=seed)
        bars: dict[int, list[Fraction]] = {}
        for slot in slots:
            bars.setdefault(int(slot.onset // 4), []).append(slot.beats)
        assert all(bars[n] != bars[n + 1] for n in (0, 1, 4, 5, 6))


def test_the_same_chance_has_the_same_rhythm_and_another_has_not() -> None:
    every = every_bar(EIGHT_BARS.analysis)
    lengths = [[slot.beats for slot in rhythm(EIGHT_BARS, every, seed=seed)] for seed in range(9)]
    assert lengths[3] == [slot.beats for slot in rhythm(EIGHT_BARS, every, seed=3)]
    assert len({tuple(line) for line in lengths}) == len(lengths)


def silent(onset: int) -> Slot:
    return Slot(Fraction(onset), Fraction(1), None, strong=True, entry=0)


def sounding(onset: int) -> Slot:
    return silent(onset)._replace(palette=EIGHT_BARS.palettes[0])


@pytest.mark.parametrize(
    ("line", "pairs"),
    [
        ("", []), ("r", []), ("rr", []), ("n", [(0, 1)]), ("nnn", [(0, 3)]), ("rn", [(1, 2)]),
        ("nr", [(0, 1)]), ("nrn", [(0, 1), (2, 3)]), ("rnnrrnr", [(1, 3), (5, 6)]),
    ],
)  # fmt: skip
def test_a_stretch_sounds_from_rest_to_rest(line: str, pairs: list[tuple[int, int]]) -> None:
    slots = [sounding(n) if sign == "n" else silent(n) for n, sign in enumerate(line)]
    assert stretches(slots) == pairs


def test_a_layout_is_tried_three_times_with_the_chance_going_on() -> None:
    drawn = []

    def layout(*args: object) -> list[Slot]:
        rng = args[3]
        assert isinstance(rng, RandomStream)
        drawn.append(rng.random())
        return []

    layouts = tried_again(layout)
    rng = RandomStream(5)
    made = list(layouts(EIGHT_BARS.analysis, EIGHT_BARS.brief, EIGHT_BARS.palettes, rng, []))
    assert made == [[]] * LAYOUTS_TRIED
    assert drawn == np.random.default_rng(5).random(LAYOUTS_TRIED).tolist()


def test_phrases_are_marked_where_notes_end_with_their_last_bar() -> None:
    """A rest ends no phrase, and the last note of the form is marked even so."""
    slots = [sounding(n) for n in range(31)] + [silent(31)]
    marked = with_phrases(slots, EIGHT_BARS.analysis, EIGHT_BARS.brief)
    assert [n for n, slot in enumerate(marked) if slot.closes] == [15]
    assert not marked[-1].last
    marked = with_phrases([*slots[:-1], sounding(31)], EIGHT_BARS.analysis, EIGHT_BARS.brief)
    assert [n for n, slot in enumerate(marked) if slot.closes] == [15, 31]
    assert [n for n, slot in enumerate(marked) if slot.last] == [31]
