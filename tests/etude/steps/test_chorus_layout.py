"""The chorus: phrases with rests, early and leaning notes, one high point past the middle."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from briefs_over_charts import brief_over, slots_laid_out
from step_lines import CADENCE, CHARTS, broken_rules, keeps, line_of, rule_of, words_on
from typed_lines import typed

from halfstep.etude.slots import Leads, Slot
from halfstep.etude.steps.chorus import (
    LEANS,
    _held,
    _may_come_early,
    _may_lean,
    _too_short,
    is_free,
    leans,
    outside,
    phrases,
)  # fmt: skip
from halfstep.harmony.note_likelihoods import Weight
from halfstep.level import Level
from halfstep.meter import Feel

FALLING = "key: F\n| C7 | F7 |"
LINE = "C5 Bb4 A4 G4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"
HALF = Fraction(1, 2)
LEAVES = "only a note off the beat, or one that leans, may leave the scale"
MOVES = "a note from outside moves on by step into the scale"
STRONG = "on a strong beat stands a tone of the chord, or a note that goes to one by step"
LONG = "| C7 | F7 | C7 | % | F7 | % | C7 | % | Gm7 | C7 | F7 | C7 |"


@pytest.mark.sampled
@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_heights_to_aim_at_are_highest_once_past_the_middle(seed: int, level: str) -> None:
    request = brief_over(LONG, level=level)
    slots = slots_laid_out("chorus", request, seed)
    total = float(slots[-1].onset)
    top = max(slots, key=lambda slot: slot.target)
    assert 0.5 < float(top.onset) / total < 0.85
    assert all(abs(slot.target - (request.brief.concert_low + request.brief.concert_high) / 2) < 20
               for slot in slots)  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_phrases_end_on_a_held_note_and_rests_lie_between(seed: int) -> None:
    request = brief_over(LONG, level="advanced", instrument="alto-sax")
    slots = slots_laid_out("chorus", request, seed)
    for old, new in pairwise(slots):
        if old.palette and not new.palette:
            assert old.closes
            assert old.breath
            assert old.beats >= 1
            assert old.leads is Leads.NOT
        if old.palette and new.palette:
            assert not old.closes
    assert slots[-1].last is (slots[-1].palette is not None)


@pytest.mark.parametrize("seed", range(6))
def test_no_phrase_is_longer_than_its_level_has_it(seed: int) -> None:
    """Eleven beats at most, and at slow tempi what one breath lasts: nine seconds."""
    for tempo_bpm, most in ((200.0, 11.0), (40.0, 6.0)):
        request = brief_over(LONG, level="advanced", tempo_bpm=tempo_bpm)
        slots = slots_laid_out("chorus", request, seed)
        start, longest = None, Fraction(0)
        for slot in [*slots, slots[-1]._replace(palette=None)]:
            if slot.palette and start is None:
                start = slot.onset
            elif not slot.palette and start is not None:
                longest, start = max(longest, slot.onset - start), None
        assert longest <= most + 5.5  # what is left at the end joins the last phrase


def test_a_beginner_plays_on_the_beat_and_in_the_scale() -> None:
    for seed in range(5):
        slots = slots_laid_out("chorus", brief_over(LONG, level="beginner"), seed)
        assert not any(is_free([slot]) for slot in slots)
        assert all(slot.onset * 2 == int(slot.onset * 2) for slot in slots)


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


OFF: Slot = typed("chorus", FALLING, LINE)[1][7]._replace(beats=HALF, weight=Weight.OFF, entry=3)
NEW: Slot = typed("chorus", FALLING, LINE)[1][8]._replace(beats=HALF, entry=0)


@pytest.mark.parametrize(
    ("before", "after", "may"),
    [
        ({}, {}, True),
        ({"weight": Weight.BEAT}, {}, False),  # not off the beat
        ({"entry": 0}, {}, False),  # the chord before would have no note
        ({"palette": None}, {}, False),
        ({}, {"palette": None}, False),
        ({"beats": Fraction(1)}, {}, False),  # too long before it
        ({"beats": Fraction(1, 4)}, {}, True),
        ({}, {"beats": Fraction(1)}, True),
        ({}, {"beats": Fraction(3, 2)}, False),  # it would stay too long
        ({}, {"beats": Fraction(1, 3)}, False),
        ({}, {"entry": 1}, False),  # in the middle of a chord
    ],
)
def test_what_may_come_early(
    before: dict[str, object], after: dict[str, object], may: bool
) -> None:
    old, new = OFF._replace(**before), NEW._replace(**after)  # type: ignore[arg-type]
    assert _may_come_early(old, new, {Fraction(0), Fraction(8)}) is may


def test_the_first_note_of_a_bar_may_come_early_within_its_chord() -> None:
    same = NEW._replace(palette=OFF.palette, entry=4)
    assert _may_come_early(OFF, same, {NEW.onset})
    assert not _may_come_early(OFF, same, {NEW.onset + 1})


@pytest.mark.parametrize(
    ("changed", "may"),
    [({}, True), ({"beats": Fraction(3, 2)}, False), ({"closes": True}, False),
     ({"weight": Weight.OFF}, False), ({"weight": Weight.BEAT}, True)],
)  # fmt: skip
def test_what_may_lean(changed: dict[str, object], may: bool) -> None:
    slot = OFF._replace(**{"weight": Weight.STRONG, **changed})  # type: ignore[arg-type]
    assert _may_lean(slot, [OFF]) is may
    assert not _may_lean(slot, [])
    assert not _may_lean(slot, [NEW])  # no room to resolve in its chord


@pytest.mark.parametrize(
    ("beats", "short"), [("1/2", True), ("1", False), ("4/3", True), ("3/2", False), ("2/3", True)]
)
def test_a_last_note_lasts_a_beat_and_begins_in_no_triplet(beats: str, short: bool) -> None:
    assert _too_short(Fraction(beats), brief_over("| C7 |").cut[0]) is short


def test_in_six_eight_a_last_note_lasts_a_dotted_quarter() -> None:
    piece = brief_over("meter: 6/8\n| C7 |").cut[0]
    assert [_too_short(Fraction(n, 2), piece) for n in (2, 3)] == [True, False]


@pytest.mark.parametrize(
    ("stop", "held"), [("2", "2"), ("9/2", "5"), ("4", "4"), ("5", "5"), ("8", "8"), ("99", "99")]
)
def test_a_phrase_ends_with_a_beat_of_its_chord(stop: str, held: str) -> None:
    assert _held(Fraction(stop), brief_over(FALLING).cut) == Fraction(held)


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


def test_where_a_beat_leans_it_is_the_chord_tone_that_costs() -> None:
    slot = typed("chorus", FALLING, LINE)[1][4]._replace(motif=LEANS)
    tone, neighbour = np.asarray(64), np.asarray(62)
    assert leans([slot], [tone]) > leans([slot], [neighbour]) == 0
    plain = slot._replace(motif=None)
    assert leans([plain], [tone]) < leans([plain], [neighbour])


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
