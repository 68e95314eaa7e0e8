"""One line: unbroken eighths that keep their direction at a change; common practice, no source."""

from __future__ import annotations

from itertools import pairwise

import pytest
from briefs_over_charts import brief_over
from step_lines import CADENCE, CHARTS, broken_rules, keeps, line_of, midi, rule_of, words_on
from typed_lines import typed

from halfstep.etude.slots import Slot
from halfstep.etude.steps.one_line import FAST_BEATS, keeps_direction

FALLING = "key: F\n| C7 | F7 |"
QUICK = "key: F\n| C7 F7 Bb7 Eb7 |"
LINE = "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"
CLOSE, ON, HEARD = "the line goes on", "the direction goes on", "the changing note is heard"
INTO: list[Slot] = typed("one-line", FALLING, LINE)[1][6:10]
FAST: list[Slot] = typed("one-line", QUICK, "C5 G4 F4 A4 Bb4 D5 Eb5 G4")[1][1:4]


@pytest.mark.parametrize(
    ("notes", "lasting", "quick"),
    [
        ("E4 Eb4", True, True), ("E4 F4", True, True), ("E4 C4", True, True),
        ("E4 G#4", True, True), ("E4 A4", False, True), ("E4 B4", False, True),
        ("E4 C5", False, False), ("E4 E4", False, False), ("A4 D4", False, True),
    ],
)  # fmt: skip
def test_across_a_change_by_step_or_third_and_in_haste_by_a_fifth(
    notes: str, lasting: bool, quick: bool
) -> None:
    rule = rule_of("one-line", CLOSE)
    assert keeps(rule, INTO[1:3], notes) is lasting
    assert keeps(rule, FAST[:2], notes) is quick
    assert not rule.applies(INTO[:2])


@pytest.mark.parametrize(
    ("notes", "kept"),
    [("F4 E4 Eb4", True), ("D4 E4 F4", True), ("F4 E4 F4", False), ("D4 E4 Eb4", False),
     ("E4 E4 F4", False), ("D4 E4 E4", False)],
)  # fmt: skip
def test_the_direction_into_a_lasting_change_is_kept(notes: str, kept: bool) -> None:
    assert keeps(rule_of("one-line", ON), INTO[:3], notes) is kept


def test_in_a_quick_change_no_direction_is_asked_for() -> None:
    assert FAST[1].palette is not None
    assert FAST[1].palette.beats < FAST_BEATS
    assert not rule_of("one-line", ON).applies(FAST)


@pytest.mark.parametrize(
    ("notes", "kept"),
    [("Eb4 F4", True), ("F4 Eb4", True), ("Eb4 Eb5", True), ("F4 G4", False), ("A4 C5", False)],
)
def test_the_changing_note_comes_first_or_second(notes: str, kept: bool) -> None:
    """From C7 to F7 the E becomes E flat."""
    assert keeps(rule_of("one-line", HEARD), INTO[2:4], notes) is kept


def test_nothing_changes_within_a_key_and_nothing_is_asked() -> None:
    _, slots = typed("one-line", "key: C\n| Dm7 | G7 |", LINE.replace("b", ""))
    assert not rule_of("one-line", HEARD).applies(slots[8:10])


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        (LINE, set()),
        ("C5 Bb4 A4 G4 E4 G4 F4 E4 | Eb4 F4 G4 A4 F4--,", set()),
        ("C5 Bb4 A4 G4 E4 D4 F4 E4 | D4 Eb4 F4 G4 A4--,", {"a chord tone on every strong beat"}),
        ("C5 Bb4 A4 G4 E4 F4 D4 E4 | F4 Eb4 F4 G4 A4--,", set()),
        ("C5 Bb4 A4 G4 E4 F4 D4 E4 | F4 G4 Eb4 G4 A4--,",
         {"the changing note is heard at the change or right after"}),
        ("C5 Bb4 A4 G4 E4 G4 F4 E4 | F4 Eb4 F4 G4 A4--,",
         {"the direction goes on across the change"}),
        ("C5 Bb4 A4 G4 E4 F4 E4 G4 | C5 Bb4 A4 G4 F4--,",
         {"the line goes on across the change by step or third",
          "the changing note is heard at the change or right after"}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("one-line", FALLING, line) == broken


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_a_written_line_keeps_going_at_every_lasting_change(chart: str, seed: int) -> None:
    etude = line_of("one-line", brief_over(chart, seed=seed))
    chords, notes = etude.analysis.chords, etude.notes
    strong = etude.analysis.chart.meter.strong_beats
    for first, second, third in zip(notes, notes[1:], notes[2:], strict=False):
        if second.chord != third.chord and third.pitch and second.pitch and first.pitch:
            lasting = chords[third.chord].span.beats >= 2 and chords[second.chord].span.beats >= 2
            assert abs(midi(third) - midi(second)) <= (4 if lasting else 7)
            if lasting:
                assert (midi(third) - midi(second)) * (midi(second) - midi(first)) > 0
    for note in notes:
        if note.pitch and note.onset % etude.analysis.chart.meter.bar_beats in strong:
            assert note.pitch.name in {tone.name for tone in chords[note.chord].tones}


@pytest.mark.parametrize("seed", range(4))
def test_a_changing_note_is_heard_among_the_first_of_every_new_chord(seed: int) -> None:
    etude = line_of("one-line", brief_over("key: Bb\n| Bb7 | Eb7 | Ab7 | Db7 |", seed=seed))
    for chord in range(1, 4):
        notes = [note for note in etude.notes if note.chord == chord][:2]
        assert any(note.changing for note in notes)


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_between_breaths_the_line_is_unbroken(level: str) -> None:
    """A beginner has eighths alone, but for one that is held not to cross the break at once."""
    etude = line_of("one-line", brief_over(CADENCE, instrument="flute", level=level))
    for old, new in pairwise(etude.notes):
        assert old.pitch is not None
        assert old.end == new.onset
        assert level != "beginner" or old.beats == (1 if old.breath else 0.5)


def test_the_changes_that_are_crossed_without_turning_are_told() -> None:
    assert (
        words_on(keeps_direction, "one-line", FALLING, LINE) == "Keep going down into F7 in bar 2."
    )
    up = "C5 Bb4 A4 G4 E4 F4 D4 E4 | F4 Eb4 F4 G4 A4--,"
    assert words_on(keeps_direction, "one-line", FALLING, up) == "Keep going up into F7 in bar 2."
    turned = "C5 Bb4 A4 G4 E4 G4 F4 E4 | F4 Eb4 F4 G4 A4--,"
    assert words_on(keeps_direction, "one-line", FALLING, turned) == ""
