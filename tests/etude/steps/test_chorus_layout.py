"""The chorus: phrases with rests, early notes, and where notes may leave the scale."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from briefs_over_charts import brief_over, slots_laid_out
from step_lines import CADENCE, CHARTS, broken_rules, keeps, line_of, rule_of, words_on
from typed_lines import typed

from halfstep.etude.slots import Leads, Slot
from halfstep.etude.steps.chorus import (
    as_solos_go_on,
    falling,
    is_free,
    is_to_fall,
    is_to_rise,
    outside,
    phrases,
    rising,
)  # fmt: skip
from halfstep.level import Level
from halfstep.meter import Feel

FALLING = "key: F\n| C7 | F7 |"
LINE = "C5 Bb4 A4 G4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"
LEAVES = "only a note that moves on may leave the scale"
MOVES = "a note from outside moves on by step into the scale"
STRONG = "on a strong beat stands a tone of the chord, or a note that goes to one by step"
LONG = "| C7 | F7 | C7 | % | F7 | % | C7 | % | Gm7 | C7 | F7 | C7 |"


@pytest.mark.parametrize("seed", range(8))
def test_phrases_end_where_the_player_breathes_and_rests_lie_between(seed: int) -> None:
    request = brief_over(LONG, level="advanced", instrument="alto-sax")
    slots = slots_laid_out("chorus", request, seed)
    for old, new in pairwise(slots):
        if old.palette and not new.palette:
            assert old.closes
            assert old.breath
            assert old.leads is Leads.NOT
        if old.palette and new.palette:
            assert not old.closes
    assert slots[-1].last is (slots[-1].palette is not None)


@pytest.mark.parametrize("seed", range(6))
def test_no_phrase_is_longer_than_its_level_has_it(seed: int) -> None:
    """24 beats at most, and at slow tempi what one breath lasts: nine seconds."""
    for tempo_bpm, most in ((200.0, 24.0), (40.0, 6.0)):
        request = brief_over(LONG, level="advanced", tempo_bpm=tempo_bpm)
        slots = slots_laid_out("chorus", request, seed)
        start, longest = None, Fraction(0)
        for slot in [*slots, slots[-1]._replace(palette=None)]:
            if slot.palette and start is None:
                start = slot.onset
            elif not slot.palette and start is not None:
                longest, start = max(longest, slot.onset - start), None
        assert longest <= most + 3.5  # the last note may be held over the last beat


def test_a_beginner_plays_on_the_beat_and_in_the_scale() -> None:
    for seed in range(5):
        slots = slots_laid_out("chorus", brief_over(LONG, level="beginner"), seed)
        assert not any(is_free([slot]) for slot in slots)
        assert all(slot.onset * 2 == int(slot.onset * 2) for slot in slots)


@pytest.mark.slow
def test_early_notes_are_rarer_than_they_could_be_and_more_frequent_for_the_advanced() -> None:
    def early(level: str) -> int:
        request = brief_over(LONG, level=level, feel=Feel.STRAIGHT)
        starts = [chord.span.start for chord in request.analysis.chords]
        return sum(
            slot.palette is not None and slot.onset < starts[slot.palette.chord]
            for seed in range(20)
            for slot in slots_laid_out("chorus", request, seed)
        )

    assert early("beginner") == 0
    assert 0 < early("intermediate") < early("advanced")


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        (LINE, set()),
        (LINE.replace("F#4*", "F#4"), {LEAVES, "every note is spelled within its scale"}),
        (LINE.replace("F#4* G4 E4", "F#4* C4 E4"), {MOVES}),
        (LINE.replace("A4 G4 E4 F#4*", "A4 G4 D4 F#4*"), {STRONG}),
        (LINE.replace("A4 G4 E4 F#4*", "A4 G4 D4 E4"), set()),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("chorus", FALLING, line) == broken


@pytest.mark.parametrize(
    ("notes", "kept"),
    [("E4 C5", True), ("D4 E4", True), ("D4 C4", True), ("D4 G4", False), ("F4 E4", True),
     ("A4 G4", True), ("A4 C5", False), ("F#4 G4", True)],
)  # fmt: skip
def test_a_strong_beat_resolves_by_step_to_a_tone_of_the_chord(notes: str, kept: bool) -> None:
    slots = typed("chorus", FALLING, LINE)[1]
    assert keeps(rule_of("chorus", "on a strong beat"), slots[4:6], notes) is kept


def test_a_note_against_the_planned_way_costs_more_than_one_that_stays() -> None:
    up, same, down = (falling((), [np.asarray(64), np.asarray(to)]) for to in (65, 64, 62))
    assert 0 == up < same < down
    assert rising((), [np.asarray(64), np.asarray(62)]) == up
    slots = typed("chorus", FALLING, LINE)[1][4:6]
    asked = [[way(planned(slots, n)) for way in (is_to_rise, is_to_fall)] for n in (1, -1, 0)]
    assert asked == [[True, False], [False, True], [False, False]]


def planned(slots: Sequence[Slot], way: int) -> list[Slot]:
    return [slot._replace(way=way) for slot in slots]


def test_intervals_cost_the_more_the_rarer_they_follow_in_solos() -> None:
    """After a leap up a step back is cheaper than another leap; none is wider than an octave."""

    def after_a_leap(to: int) -> float:
        return float(as_solos_go_on((), [np.asarray(60), np.asarray(69), np.asarray(to)]))

    assert after_a_leap(68) < after_a_leap(71) < after_a_leap(78) < after_a_leap(83)


def test_the_figure_returns_turned_round_and_then_as_it_was() -> None:
    """Three phrases that open with it; what is asked of their notes after the first."""
    for seed in range(40):
        slots = slots_laid_out("chorus", brief_over(LONG * 2, level="advanced"), seed)
        moves: list[list[int]] = [[]]
        for slot in slots:
            if slot.motif is None:
                moves += [[]] if moves[-1] else []
            else:
                moves[-1].append(slot.motif)
        figures = [row for row in moves if row]
        if len(figures) == 3 and len(set(map(len, figures))) == 1:
            assert figures[1] == [-move for move in figures[0]]
            assert figures[2] == figures[0]
            return
    pytest.fail("no chorus of forty has its figure three times")


@pytest.mark.parametrize("chart", CHARTS)
def test_a_written_chorus_has_phrases_that_are_told(chart: str) -> None:
    request = brief_over(chart, seed=2, level=Level.ADVANCED.value)
    etude = line_of("chorus", request)
    assert any(note.pitch for note in etude.notes)
    assert etude.notes[-1].end == etude.analysis.chart.beats


def test_phrases_and_notes_from_outside_are_told() -> None:
    line = "C5- G4- r-- | A4- F4-, r--"
    assert words_on(phrases, "chorus", FALLING, line) == (
        "Two phrases: they begin in bars 1 and 2. Breathe in the rests between them."
    )
    assert words_on(phrases, "chorus", FALLING, LINE) == ""
    assert words_on(outside, "chorus", FALLING, LINE) == (
        "Notes from outside the scale move on by step: F♯ into G in bar 1 and E into F in bar 2."
    )
    assert words_on(outside, "chorus", FALLING, LINE.replace("E4*", "D4")) == (
        "One note from outside the scale moves on by step: F♯ into G in bar 1."
    )
    assert words_on(outside, "chorus", CADENCE, "D4---- | G4---- |" + " C4----" * 6) == ""
