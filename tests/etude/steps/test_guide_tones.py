"""Guide tones: thirds and sevenths by nearest motion, held; common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest
from briefs_over_charts import brief_over, midis_of, slots_laid_out
from hypothesis import given, settings
from hypothesis import strategies as st
from step_lines import CADENCE, CHARTS, HALVES, broken_rules, line_of, midi, words_on

from halfstep.etude.guide_ways import guides_of
from halfstep.etude.steps.guide_tones import (
    LONG,
    _guide_choices,
    decorates,
    guide_line,
    guide_step,
    leads_in,
)  # fmt: skip

FALLING = "key: F\n| C7 | F7 |"
TWO = "key: F\n| C7 F7 |"
NEAREST = "guide tones go to the nearest of the next chord"
STAYS = "over one chord a guide tone is held, or the other one follows"
BEGINS = "a chord begins with its third or seventh"
LEADS = "the notes between lead by step into the next guide tone"


@settings(max_examples=30)
@given(st.integers(50, 90), st.integers(50, 90))
def test_into_a_guide_tone_by_a_half_or_a_whole_step(old: int, new: int) -> None:
    pair = [np.asarray(old), np.asarray(new)]
    assert bool(leads_in([], pair)) is (abs(old - new) in {1, 2})
    assert bool(decorates([], pair)) is (1 <= abs(old - new) <= 9)


@pytest.mark.parametrize(
    ("symbol", "names"),
    [("C7", "E Bb"), ("Cmaj7", "E B"), ("Cm7", "Eb Bb"), ("Cm7b5", "Eb Bb"), ("C6", "E A"),
     ("C7sus4", "F Bb"), ("C", "E")],
)  # fmt: skip
def test_guide_tones_are_third_and_seventh_or_what_stands_for_them(symbol: str, names: str) -> None:
    request = brief_over(f"| {symbol} |")
    classes = {int(midi) % 12 for midi in guides_of(request.palette(0))}
    assert classes == {midi % 12 for midi in midis_of(" ".join(f"{n}4" for n in names.split()))}
    every_note = range(request.brief.concert_low, request.brief.concert_high + 1)
    choices = _guide_choices(request.analysis.chords[0], every_note)
    assert choices == guides_of(request.palette(0)).tolist()


def test_where_no_guide_tone_is_known_tones_of_the_arpeggio_stand_for_them() -> None:
    request = brief_over("| C7 |", known="C4 D4 G4 A4")
    assert guides_of(request.palette(0)).tolist() == midis_of("C4 G4")
    choices = _guide_choices(request.analysis.chords[0], midis_of("C4 D4 G4 A4"))
    assert choices == midis_of("C4 G4")


@pytest.mark.parametrize(
    ("chart", "line", "broken"),
    [
        (FALLING, "E4--{0} G4 E4 G4 F4 | Eb4----{0},", set()),
        (FALLING, "Bb4--{0} C5 Bb4 C5 Bb4 | A4----{0},", set()),
        (FALLING, "Bb4--{0} C5 Bb4 G4 F4 | Eb4----{0},", {NEAREST}),
        (FALLING, "G4--{0} E4 D4 G4 F4 | Eb4----{0},", {BEGINS, NEAREST}),
        (FALLING, "E4--{0} G4 E4 D4 C4 | Eb4----{0},", {LEADS}),
        (FALLING, "E4--{0} G4 E4 G4 E4 | Eb4----{0},", set()),
        ("key: F\n| C7 | % |", "E4--{0} G4 E4 G4 A4 | Bb4----{0},", set()),
        ("key: F\n| C7 | % |", "E4--{0} G4 E4 G4 F4 | E4----{0},", {STAYS}),
        (FALLING, "E4-{0} G4 F4 E4 G4 E4 F4 | Eb4----{0},",
         {"a guide tone is held for half of its chord's stay in the bar"}),
        (FALLING, "E4--{0} D5 Bb4 G4 F4 | Eb4----{0},",
         {"no leap wider than a sixth between guide tones"}),
        (TWO, "E4-{0} G4- Eb4--{0},", {LEADS}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(
    chart: str, line: str, broken: set[str]
) -> None:
    assert broken_rules("guide-tones", chart, line) == broken


@pytest.mark.sampled
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
@pytest.mark.parametrize("seed", range(3))
def test_each_chord_is_entered_by_the_nearest_guide_tone(level: str, seed: int) -> None:
    """From the guide tone that the chord before holds last."""
    request = brief_over(HALVES, level=level, seed=seed)
    notes = line_of("guide-tones", request).notes
    held = -1 if level == "beginner" else 0  # others decorate the one they begin with
    for chord in range(1, 8):
        old = [midi(note) for note in notes if note.chord == chord - 1][held]
        new = next(midi(note) for note in notes if note.chord == chord)
        guides = guides_of(request.palette(chord))
        assert abs(new - old) == np.abs(guides - old).min()


@pytest.mark.parametrize("chart", CHARTS)
def test_a_beginner_plays_guide_tones_and_nothing_else(chart: str) -> None:
    etude = line_of("guide-tones", brief_over(chart, level="beginner", seed=1))
    for note in etude.notes:
        chord = etude.analysis.chords[note.chord]
        assert note.pitch is not None
        tones = chord.guides if len(chord.guides) > 1 else chord.core
        assert note.pitch.name in {tone.name for tone in tones}


@pytest.mark.parametrize("seed", range(4))
def test_long_notes_are_pinned_and_what_leads_on_is_free(seed: int) -> None:
    slots = slots_laid_out("guide-tones", brief_over(CADENCE, seed=seed), seed)
    for slot in slots:
        assert (slot.pin is None) is (slot.motif is None)
        assert slot.motif in {None, LONG}
        if slot.entry == 0:
            assert slot.pin is not None
        assert slot.beats == 0.5 or slot.pin is not None or slot.beats == 1


def test_the_thread_is_told_tone_by_tone() -> None:
    line = "E4--{0} G4 E4 G4 F4 | Eb4----{0},"
    assert words_on(guide_line, "guide-tones", FALLING, line) == (
        "The thread to hear is E (3) – E♭ (7)."
    )
    assert words_on(guide_step, "guide-tones", FALLING, line) == (
        "In bar 2 E falls a half step to E♭ over F7: make it heard."
    )
    whole = "Bb4--{0} C5 Bb4 C5 Bb4 | Eb4----{0},"
    assert words_on(guide_step, "guide-tones", FALLING, whole) == ""
    assert words_on(guide_line, "guide-tones", "key: F\n| C7 | % |", "E4---- | Bb4----,") == ""
