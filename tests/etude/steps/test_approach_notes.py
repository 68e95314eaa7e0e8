"""Approach notes: chord tones reached from a neighbour on the weak beat before.

Common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from briefs_over_charts import brief_over, slots_laid_out
from step_lines import CHARTS, broken_rules, keeps, line_of, midi, rule_of, words_on
from typed_lines import typed

from halfstep.etude.etude_notes import Approach
from halfstep.etude.slots import Leads
from halfstep.etude.steps.approach_notes import is_goal, leads_to, pulled_to
from halfstep.level import Level

FALLING = "key: F\n| C7 | F7 |"
LINE = "C5 Bb4 G4 Ab4~ G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"
NEIGHBOUR = "the weak note before a chord tone is its neighbour"
SLOTS = slots_laid_out("approach-notes", brief_over(FALLING))


@pytest.mark.parametrize(
    ("level", "leading"),
    [("beginner", {1.5, 3.5, 5.5}), ("intermediate", {0.5, 1.5, 2.5, 3.5, 4.5, 5.5})],
)
def test_a_beginner_approaches_the_strong_beats_alone(level: str, leading: set[float]) -> None:
    slots = slots_laid_out("approach-notes", brief_over(FALLING, level=level))
    led = {float(slot.onset) for slot in slots if slot.leads is not Leads.NOT}
    assert led == leading
    kind = Leads.SCALE_NEIGHBOUR if level == "beginner" else Leads.NEIGHBOUR
    assert {slot.leads for slot in slots} == {Leads.NOT, kind}


@pytest.mark.parametrize(
    ("place", "beginner", "others"), [(0, True, True), (1, False, False), (2, False, True),
                                      (4, True, True), (-1, True, True)]
)  # fmt: skip
def test_what_is_led_to(place: int, beginner: bool, others: bool) -> None:
    """Strong beats and the last note; for others every beat."""
    assert is_goal(SLOTS[place], Level.BEGINNER) is beginner
    assert is_goal(SLOTS[place], Level.ADVANCED) is others


def test_no_note_leads_out_of_a_phrase_or_into_a_rest() -> None:
    weak, goal = SLOTS[1], SLOTS[2]
    level = Level.INTERMEDIATE
    assert leads_to(weak, goal, level)
    assert not leads_to(weak._replace(closes=True), goal, level)
    assert not leads_to(weak._replace(palette=None), goal, level)
    assert not leads_to(weak, goal._replace(palette=None), level)
    assert not leads_to(goal, goal, level)
    assert not leads_to(weak, SLOTS[3], level)


@pytest.mark.parametrize(
    ("notes", "kept"),
    [("D4 E4", True), ("D#4 E4", True), ("F4 E4", True), ("F#4 G4", True), ("A4 G4", True),
     ("Ab4 G4", True), ("C4 E4", False), ("F#4 E4", False), ("E4 E4", False), ("E4 F4", False)],
)  # fmt: skip
def test_a_step_of_the_scale_or_a_half_step_into_a_chord_tone(notes: str, kept: bool) -> None:
    _, slots = typed("approach-notes", FALLING, LINE)
    assert keeps(rule_of("approach-notes", NEIGHBOUR), slots[3:5], notes) is kept


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        (LINE, set()),
        (LINE.replace("Ab4~", "A4~"), set()),
        (LINE.replace("Ab4~", "F#4~"), set()),
        (LINE.replace("Ab4~", "E4~"), {NEIGHBOUR}),
        (LINE.replace("Ab4~", "Ab4"), {"only a note that leads to another leaves the scale",
                                       "every note is spelled within its scale"}),
        (LINE.replace("G4 F4 E4 D4~", "G4 F4 F4 D4~"),
         {"no leap wider than a sixth, and no note twice"}),
        (LINE.replace("G4 F4 E4 D4~", "A4 F4 E4 D4~"),
         {"a chord tone on every strong beat", NEIGHBOUR}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("approach-notes", FALLING, line) == broken


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_every_approach_goes_by_step_into_a_tone_of_its_chord(chart: str, seed: int) -> None:
    etude = line_of("approach-notes", brief_over(chart, seed=seed))
    approaching = [(a, b) for a, b in pairwise(etude.notes) if a.approach is not Approach.NONE]
    assert approaching
    for old, new in approaching:
        assert new.pitch is not None
        size = abs(midi(new) - midi(old))
        assert size == 1 if old.approach is Approach.CHROMATIC else size in {1, 2}
        assert new.pitch.name in {t.name for t in etude.analysis.chords[new.chord].tones}


@pytest.mark.parametrize("chart", CHARTS)
def test_a_beginner_stays_in_the_scale(chart: str) -> None:
    etude = line_of("approach-notes", brief_over(chart, level="beginner", seed=2))
    assert {note.approach for note in etude.notes} <= {Approach.NONE, Approach.SCALE}


def test_the_pull_into_a_third_or_seventh_is_told_the_smallest_first() -> None:
    assert words_on(pulled_to, "approach-notes", FALLING, LINE) == ""  # A flat leads to the fifth
    pull = LINE.replace("G4 Ab4~ G4 F4", "G4 D#4~ E4 F4")
    assert words_on(pulled_to, "approach-notes", FALLING, pull) == (
        "Hear D♯ pull to E, the third of C7, in bar 1 beat 3."
    )
