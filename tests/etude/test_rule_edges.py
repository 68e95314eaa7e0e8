"""Where each rule draws its line: the last note it lets through and the first it does not.

The lines that break rules (`test_rules`) are far from the edge, so that people can read
them; here notes stand on both sides of it. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from typed_lines import typed

from halfstep.etude import rules
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.rules import LocalRule
from halfstep.etude.slots import Leads, Slot
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS
from halfstep.pitch import parse_pitch

C7_F7 = "key: F\n| C7 | F7 |"
LINE = "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"
ETUDE, SLOTS = typed("one-line", C7_F7, LINE)
OVER_C7, INTO_F7 = SLOTS[2:5], SLOTS[7:9]


def holds(rule: str, slots: list[Slot], notes: str) -> bool:
    """What a rule of ``halfstep.etude.rules`` says of notes in those places."""
    midis = [np.asarray(parse_pitch(name).midi) for name in notes.split()]
    return bool(getattr(rules, rule)(slots[: len(midis)], midis))


@pytest.mark.parametrize(
    ("rule", "inside", "outside"),
    [
        ("not_far", "C4 A4", "C4 Bb4"),  # a major sixth, and one more
        ("not_far", "A4 C4", "Bb4 C4"),
        ("not_far", "C4 C#4", "C4 C4"),
        ("within_octave", "C4 C5", "C4 C#5"),
        ("within_octave", "C5 C4", "C#5 C4"),
        ("leap_turns_back", "C4 G4 A4", "C4 G#4 A4"),  # a fifth may go on, a sixth may not
        ("leap_turns_back", "C5 F4 E4", "C5 E4 D4"),
        ("leap_turns_back", "C4 A4 G4", "C4 A4 A4"),  # standing still is no turn
        ("not_three_equal", "C4 C4 D4", "C4 C4 C4"),
        ("not_three_equal", "D4 C4 C4", "E4 E4 E4"),
    ],
)
def test_two_and_three_notes_on_both_sides_of_an_edge(rule: str, inside: str, outside: str) -> None:
    assert holds(rule, OVER_C7, inside)
    assert not holds(rule, OVER_C7, outside)


@pytest.mark.parametrize(
    ("notes", "kept"),
    [
        ("C4 D4", True),  # a step
        ("D4 F4", True),  # a third in the scale, to a note that is no chord tone
        ("D4 A4", False),  # a fifth to such a note
        ("A4 E4", True),  # a fourth to a chord tone
        ("G4 Bb4", True),
        ("Bb4 C4", False),  # a seventh, though to a chord tone
        ("A4 C4", True),  # a sixth, to a chord tone
        ("C4 A4", False),  # a sixth, to none
        ("C4 C4", False),
    ],
)
def test_a_line_of_steps_skips_to_chord_tones_up_to_a_sixth(notes: str, kept: bool) -> None:
    assert holds("step_or_skip_to_tone", OVER_C7, notes) is kept


@pytest.mark.parametrize(
    ("notes", "kept"),
    [
        ("E4 G4", True),  # four semitones or fewer, whatever scale
        ("D4 F#4", True),
        ("D4 G4", False),  # five, to no tone of F7
        ("E4 A4", True),  # five, to its third
        ("D4 D4", False),
    ],
)
def test_across_a_change_a_small_step_is_counted_in_semitones(notes: str, kept: bool) -> None:
    """Ranks of two scales cannot be compared."""
    assert holds("step_or_skip_to_tone", INTO_F7, notes) is kept


def led(leads: Leads) -> list[Slot]:
    return [OVER_C7[0]._replace(leads=leads), *OVER_C7[1:]]


@pytest.mark.parametrize(
    ("notes", "freely", "in_scale"),
    [
        ("D4 E4", True, True),  # a whole step of the scale
        ("D#4 E4", True, False),  # a half step from outside
        ("F#4 E4", False, False),  # a whole step from outside
        ("F4 G4", True, True),
        ("E4 G4", False, False),  # a third
        ("E4 E4", False, False),
        ("E4 F4", False, False),  # into no chord tone
    ],
)
def test_a_neighbour_is_a_half_step_or_a_step_of_the_scale(
    notes: str, freely: bool, in_scale: bool
) -> None:
    assert holds("neighbours", led(Leads.NEIGHBOUR), notes) is freely
    assert holds("neighbours", led(Leads.SCALE_NEIGHBOUR), notes) is in_scale


@pytest.mark.parametrize("leads", Leads)
def test_only_a_note_that_leads_freely_may_leave_the_scale(leads: Leads) -> None:
    free = leads in {Leads.NEIGHBOUR, Leads.AROUND_FIRST, Leads.AROUND_SECOND}
    assert holds("inside_unless_leading", led(leads), "F#4") is free
    assert holds("inside_unless_leading", led(leads), "F4")


def test_what_one_note_may_be_is_read_from_the_chord() -> None:
    """Over C7 in F: the scale of C to B flat, the chord, and the fourth to be avoided."""
    for note, scale, tone, avoided in (
        ("C4", True, True, False), ("F4", True, False, True), ("A4", True, False, False),
        ("Bb4", True, True, False), ("B4", False, False, False),
    ):  # fmt: skip
        assert holds("in_scale", OVER_C7, note) is scale
        assert holds("chord_tone", OVER_C7, note) is tone
        assert holds("core_tone", OVER_C7, note) is tone
        assert holds("not_avoided", OVER_C7, note) is not avoided


# Rules for a whole line


def test_a_note_is_held_into_a_chord_whose_scale_has_it_and_into_no_other() -> None:
    """C is in the scale of F7 after C7, E is not; over N.C. nothing may be held."""
    for chart, pitch, breaches in (
        (C7_F7, "C5", 0), (C7_F7, "Eb4", 0), (C7_F7, "E4", 1), ("key: F\n| C7 | N.C. |", "C5", 1),
    ):  # fmt: skip
        etude, _ = typed("one-line", chart, "G4-- r-- | r--")
        held = EtudeNote(Fraction(2), Fraction(3), parse_pitch(pitch), 0)
        rest = etude.notes[-1]._replace(onset=Fraction(5), beats=Fraction(3))
        line = replace(etude, notes=(etude.notes[0], held, rest))
        assert len(list(rules.not_held_across(line))) == breaches, (chart, pitch)


def test_a_note_that_stops_where_the_chord_begins_is_not_held_into_it() -> None:
    etude, _ = typed("one-line", C7_F7, "E4---- | F4----")
    assert list(rules.not_held_across(etude)) == []


def test_a_line_ends_with_its_form_and_the_last_note_shows_when_it_does_not() -> None:
    for beats in (Fraction(7, 2), Fraction(9, 2)):
        last = ETUDE.notes[-1]._replace(beats=ETUDE.notes[-1].beats + beats - 4)
        broken = list(rules.adds_up(replace(ETUDE, notes=(*ETUDE.notes[:-1], last))))
        assert broken == [last]


def test_where_a_line_rests_a_wind_player_breathes_before() -> None:
    line = "C5- G4- r-- | A4- F4-, r--"
    etude, _ = typed("chorus", C7_F7, line)
    assert [note.onset for note in rules.breathes_in_rests(etude)] == [1]
    piano, _ = typed("chorus", C7_F7, line, instrument="piano")
    assert list(rules.breathes_in_rests(piano)) == []


def test_a_breath_at_the_end_of_every_phrase_of_the_form() -> None:
    etude, _ = typed("one-line", C7_F7, LINE)
    assert list(rules.breathes(etude)) == []
    breathless = etude.notes[-1]._replace(breath=False)
    line = replace(etude, notes=(*etude.notes[:-1], breathless))
    assert list(rules.breathes(line)) == [breathless]


def test_stretches_are_cut_where_the_line_rests() -> None:
    etude, _ = typed("one-line", C7_F7, "C5- G4- r-- | A4- r- F4--,")
    lengths = [len(stretch) for stretch in rules.sounding_stretches(etude)]
    assert [length for length in lengths if length] == [2, 1, 1]


def test_pairs_within_a_chord_cross_no_change_and_no_rest() -> None:
    etude, _ = typed("one-line", C7_F7, "C5- G4- r- E4- | F4-- A4--,")
    pairs = [(old[0].onset, new[0].onset) for old, new in rules.pairs_within_chord(etude)]
    assert pairs == [(0, 1), (4, 6)]


@pytest.mark.parametrize(
    ("old", "new", "breaks"),
    [("C4", "E4", False), ("C4", "G4", True), ("G4", "C4", True), ("C4", "C4", False),
     ("C4", "D4", True), ("C4", "C5", True), ("Bb4", "C5", False)],
)  # fmt: skip
def test_a_rung_may_not_be_left_out(old: str, new: str, breaks: bool) -> None:
    """The ladder of C7: from each tone to the next one, up or down."""
    note = EtudeNote(Fraction(0), Fraction(1), parse_pitch(new), 0)
    pair = (note, parse_pitch(old)), (note, parse_pitch(new))
    assert bool(list(rules.off_ladder({0, 4, 7, 10}, *pair))) is breaks


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_every_local_rule_of_a_step_masks_some_notes_and_leaves_some(step: Step) -> None:
    """A rule that lets all pass, or none, over the places where it applies says nothing."""
    seen = {rule.text: [False, False] for rule in step.local_rules}
    grid = np.arange(57, 80)
    slots = [slot._replace(high_point=70, barrier=71) for slot in SLOTS]
    for rule in step.local_rules:
        assert isinstance(rule, LocalRule)
        for end in range(rule.width, len(slots) + 1):
            window = slots[end - rule.width : end]
            mask = rule.holds(window, np.ix_(*[grid] * rule.width))
            seen[rule.text][0] |= bool(np.any(mask))
            seen[rule.text][1] |= not np.all(mask)
    assert {text for text, kinds in seen.items() if not all(kinds)} == set()


def test_within_a_chord_a_third_is_two_steps_of_its_scale() -> None:
    """From B flat down to F sharp lie three steps of a diminished scale, and four semitones."""
    _, slots = typed("one-line", "key: Bb\n| Eb7 | Edim7 |", "Eb4---- | E4----")
    before, over = slots
    assert not holds("step_or_skip_to_tone", [over, over], "Bb4 F#4")
    assert holds("step_or_skip_to_tone", [before, over], "Bb4 F#4")
