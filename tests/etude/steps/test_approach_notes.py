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
from halfstep.etude.slots import Leads, line_slots
from halfstep.etude.steps.approach_notes import (
    comes_early,
    is_goal,
    leading_places,
    leads_to,
    pulled_to,
)
from halfstep.harmony.note_likelihoods import Weight
from halfstep.level import Level

FALLING = "key: F\n| C7 | F7 |"
LINE = "C5 Bb4 G4 Ab4~ G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"
NEIGHBOUR = "the weak note before a chord tone is its neighbour"
PLAIN = brief_over(FALLING)
SLOTS = line_slots(PLAIN.analysis, PLAIN.brief, PLAIN.palettes)


def test_a_beginner_approaches_the_strong_beats_alone() -> None:
    slots = slots_laid_out("approach-notes", brief_over(FALLING, level="beginner"))
    led = {float(slot.onset) for slot in slots if slot.leads is not Leads.NOT}
    assert led == {1.5, 3.5, 5.5}
    assert {slot.leads for slot in slots} == {Leads.NOT, Leads.SCALE_NEIGHBOUR}


@pytest.mark.parametrize(
    ("level", "places"),
    [(Level.BEGINNER, [3, 7, 11]), (Level.INTERMEDIATE, [1, 3, 5, 7, 9, 11])],
)
def test_others_approach_every_beat(level: Level, places: list[int]) -> None:
    assert leading_places(SLOTS, level) == places


def test_a_chord_that_comes_early_is_approached_from_the_beat_before_it() -> None:
    """The off-beat before that beat leads nowhere, as the beat is no goal."""
    early = SLOTS[8]._replace(
        onset=SLOTS[7].onset, beats=SLOTS[8].beats + SLOTS[7].beats, weight=Weight.OFF
    )
    slots = [*SLOTS[:7], early, *SLOTS[9:]]
    assert comes_early(early)
    assert not any(map(comes_early, SLOTS))
    assert leading_places(slots, Level.ADVANCED) == [1, 3, 6, 8, 10]


@pytest.mark.parametrize("chart", CHARTS)
def test_of_an_advanced_players_approach_notes_a_third_is_chromatic(chart: str) -> None:
    etude = line_of("approach-notes", brief_over(chart, level="advanced", seed=1))
    leading = [note.approach for note in etude.notes if note.approach is not Approach.NONE]
    assert 3 * leading.count(Approach.CHROMATIC) >= len(leading) > 0


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
