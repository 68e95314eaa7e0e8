"""Enclosures: a note above and a note below before a strong-beat chord tone; common practice,
no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from briefs_over_charts import brief_over, midis_of, slots_laid_out
from step_lines import CHARTS, broken_rules, keeps, line_of, midi, rule_of, words_on
from typed_lines import typed

from halfstep.etude.etude_notes import Approach
from halfstep.etude.slots import Leads
from halfstep.etude.steps.enclosures import around, enclosures

FALLING = "key: F\n| C7 | F7 |"
LINE = "C5 Bb4 A4( F#4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"
AROUND, NEIGHBOUR = "a note above and a note below", "where there is room for one"
SLOTS = typed("enclosures", FALLING, LINE)[1]


@pytest.mark.parametrize(
    ("notes", "kept"),
    [
        ("A4 F#4 G4", True),
        ("F#4 A4 G4", True),  # below first
        ("Ab4 F4 G4", True),  # a half step above, a step of the scale below
        ("Ab4 F#4 G4", True),
        ("A4 F4 G4", True),
        ("A4 Ab4 G4", False),  # both above
        ("F4 F#4 G4", False),  # both below
        ("Bb4 F#4 G4", False),  # a third away
        ("A4 E4 G4", False),
        ("G4 F#4 G4", False),
        ("G4 E4 F4", False),  # around no chord tone
        ("F#4 D4 E4", False),  # a whole step away, but not in the scale
        ("F4 D4 E4", True),
    ],
)
def test_one_above_and_one_below_a_chord_tone(notes: str, kept: bool) -> None:
    assert keeps(rule_of("enclosures", AROUND), SLOTS[2:5], notes) is kept


def test_every_chord_tone_has_its_two_neighbours_in_either_order() -> None:
    """All triples of an octave against the words of the rule."""
    grid = np.arange(60, 73)
    mask = around(SLOTS[2:5], np.ix_(grid, grid, grid))
    scale = {midi % 12 for midi in midis_of("C4 D4 E4 F4 G4 A4 Bb4")}
    tones = {midi % 12 for midi in midis_of("C4 E4 G4 Bb4")}
    for a, b, goal in np.ndindex(mask.shape):
        first, second, end = (int(grid[n]) for n in (a, b, goal))
        near = all(
            abs(note - end) == 1 or (abs(note - end) == 2 and note % 12 in scale)
            for note in (first, second)
        )
        expected = near and (first - end) * (second - end) < 0 and end % 12 in tones
        assert bool(mask[a, b, goal]) is expected


def test_two_notes_stand_before_each_strong_beat_and_one_where_there_is_no_room() -> None:
    slots = slots_laid_out("enclosures", brief_over(FALLING, level="beginner"))
    leads = {float(slot.onset): slot.leads for slot in slots if slot.leads is not Leads.NOT}
    assert leads == {
        1.0: Leads.SCALE_AROUND_FIRST, 1.5: Leads.SCALE_AROUND_SECOND,
        3.0: Leads.SCALE_AROUND_FIRST, 3.5: Leads.SCALE_AROUND_SECOND,
        5.0: Leads.SCALE_AROUND_FIRST, 5.5: Leads.SCALE_AROUND_SECOND,
    }  # fmt: skip
    quick = slots_laid_out("enclosures", brief_over("key: F\n| C7 F7 Bb7 Eb7 |"))
    assert {slot.leads for slot in quick} == {Leads.NOT, Leads.NEIGHBOUR}


@pytest.mark.parametrize("chart", CHARTS)
def test_marks_come_in_pairs_before_a_goal(chart: str) -> None:
    slots = slots_laid_out("enclosures", brief_over(chart))
    for place, slot in enumerate(slots):
        if slot.leads is Leads.AROUND_FIRST:
            assert slots[place + 1].leads is Leads.AROUND_SECOND
        if slot.leads in {Leads.AROUND_SECOND, Leads.NEIGHBOUR}:
            assert slots[place + 1].strong or slots[place + 1].last
        if slot.leads is not Leads.NOT:
            assert not slot.strong


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        (LINE, set()),
        (LINE.replace("A4( F#4)", "F#4( A4)"), set()),
        (LINE.replace("A4( F#4)", "A4( Ab4)"),
         {"a note above and a note below lead to the tone"}),
        (LINE.replace("F4( D4)", "F4 C4~"), {"where there is room for one, it is a neighbour"}),
        (LINE.replace("F4( D4)", "F4 D4~"), set()),
        (LINE.replace("C5 Bb4", "C5 C5"), {"no leap wider than a sixth, and no note twice"}),
        (LINE.replace("G4 E4", "G4 F4"), {"no leap wider than a sixth, and no note twice"}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("enclosures", FALLING, line) == broken


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_written_enclosures_stand_around_a_tone_of_their_chord(chart: str, seed: int) -> None:
    etude = line_of("enclosures", brief_over(chart, seed=seed))
    notes = etude.notes
    for first, second, goal in zip(notes, notes[1:], notes[2:], strict=False):
        pair = first.approach is second.approach is Approach.ENCLOSURE
        if pair and goal.approach is not Approach.ENCLOSURE:
            low, high = sorted((midi(first), midi(second)))
            assert low < midi(goal) < high
            assert high - low <= 4
            assert goal.pitch is not None
            assert goal.pitch.name in {t.name for t in etude.analysis.chords[goal.chord].tones}
    if chart not in CHARTS[2:]:
        assert sum(note.approach is Approach.ENCLOSURE for note in notes) >= 8


def test_an_enclosure_is_told_only_where_the_notes_are_marked() -> None:
    assert words_on(enclosures, "enclosures", FALLING, LINE) == ""
    assert rule_of("enclosures", NEIGHBOUR).width == 2
