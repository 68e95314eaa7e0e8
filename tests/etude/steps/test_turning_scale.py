"""The turning scale: mostly steps, turned every few notes, with skips to chord tones."""

from __future__ import annotations

from itertools import groupby, pairwise

import numpy as np
import pytest
from briefs_over_charts import brief_over, slots_laid_out
from step_lines import CADENCE, CHARTS, broken_rules, keeps, line_of, midi, rule_of, words_on
from typed_lines import typed

from halfstep.etude.slots import line_slots
from halfstep.etude.steps.turning_scale import LONGEST_RUN, first_notes, skips, with_turns
from halfstep.random_stream import RandomStream

FALLING = "key: F\n| C7 | F7 |"
LONG = "no more than seven notes in one direction"
TURN = "the line turns"
SKIPS = "steps and thirds in the scale, skips only to chord tones"


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C4 D4 E4 F4 G4 A4 Bb4 A4 | F4 A4 C5 A4 F4--,", set()),  # seven go up
        ("C4 D4 E4 F4 G4 A4 Bb4 C5 | A4 C5 D5 A4 F4--,", {LONG}),
        ("C5 Bb4 A4 G4 F4 E4 D4 F4 | A4 C5 D5 A4 F4--,",
         {"an avoid note never sits on a strong beat"}),
        ("C4 D4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 A4! F4--,", set()),
        ("C4 D4 E4 G4 E4 D4! F4 G4 | A4 C5 D5 A4 F4--,", {TURN}),
        ("C4 D4 E4 G4 E4 D4 F4! G4 | A4 C5 D5 A4 F4--,", set()),
        ("C4 D4 E4 A4 G4 D4 F4 G4 | A4 C5 D5 A4 F4--,", {SKIPS}),
        ("C4 D4 G4 A4 G4 D4 F4 G4 | A4 C5 D5 A4 F4--,", {SKIPS}),  # a fourth up may, down may not
        ("C4 D4 G4 A4 G4 E4 F4 G4 | A4 C5 D5 A4 F4--,", set()),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("turning-scale", FALLING, line) == broken


def test_a_run_begins_anew_after_a_rest() -> None:
    chart = "key: F\n| C7 | % |"
    up = "C4 D4 E4 F4 G4 A4 Bb4 {} D5 E5 F5 E5 C5--,"
    assert LONG in broken_rules("turning-scale", chart, up.format("C5"))
    assert LONG not in broken_rules("turning-scale", chart, up.format("r"))


@pytest.mark.parametrize(
    ("notes", "kept"),
    [("C4 D4 C4", True), ("D4 C4 D4", True), ("C4 D4 E4", False), ("C4 C4 D4", False),
     ("C4 D4 D4", False), ("C5 G4 A4", True)],
)  # fmt: skip
def test_a_turn_goes_the_other_way_at_the_middle_note(notes: str, kept: bool) -> None:
    _, slots = typed("turning-scale", FALLING, "C4 D4 E4! G4 E4 D4 F4 G4 | F4----,")
    assert keeps(rule_of("turning-scale", TURN), slots[:3], notes) is kept
    assert not rule_of("turning-scale", TURN).applies(slots[1:4])


@pytest.mark.parametrize("seed", range(20))
def test_turns_are_asked_for_every_three_to_six_notes(seed: int) -> None:
    slots = slots_laid_out("turning-scale", brief_over(CADENCE, level="beginner"), seed)
    marks = [n for n, slot in enumerate(slots) if slot.turn]
    assert set(np.diff([0, *marks]).tolist()) <= {3, 4, 5, 6}
    assert len(slots) - marks[-1] <= 6


def test_turns_are_spread_evenly_over_three_to_six_notes() -> None:
    """Chi-square of the gaps of 200 lines; 16.3 is passed once in a thousand (memory)."""
    request = brief_over(CADENCE)
    plain = line_slots(request.analysis, request.brief, request.palettes)
    rng = RandomStream(3)
    gaps: list[int] = []
    for _ in range(200):
        marks = [n for n, slot in enumerate(with_turns(plain, rng)) if slot.turn]
        gaps += np.diff([0, *marks[:5]]).tolist()
    counts = np.array([gaps.count(size) for size in (3, 4, 5, 6)])
    assert counts.sum() == 1000
    assert ((counts - 250) ** 2 / 250).sum() < 16.3


def moves_of(chart: str, seed: int) -> list[list[int]]:
    """Semitones from note to note of a line, without those over rests."""
    line = line_of("turning-scale", brief_over(chart, seed=seed))
    runs = groupby(line.notes, key=lambda note: note.pitch is not None)
    midis = [[midi(note) for note in run] for sounds, run in runs if sounds]
    return [[new - old for old, new in pairwise(run)] for run in midis]


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
def test_written_lines_turn_in_time_and_are_mostly_steps(chart: str) -> None:
    """The short ones of 6/8 have 22 notes: steps are counted over three seeds together."""
    lines = [moves for seed in range(3) for moves in moves_of(chart, seed)]
    for moves in lines:
        run = longest = 1
        for old, new in pairwise(moves):
            run = run + 1 if old * new > 0 else 1
            longest = max(longest, run)
        assert longest < LONGEST_RUN
        assert max(map(abs, moves)) <= 9
    every = [move for moves in lines for move in moves]
    assert sum(abs(move) <= 2 for move in every) * 2 > len(every)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C4 D4 E4 G4 E4 D4 F4 G4 | A4 G4 F4 G4 F4--,",
         "Most of it is steps; the skips to see ahead are E to G, G to E and D to F in bar 1."),
        ("C4 D4 E4 D4 C4 D4 E4 D4 | F4 G4 F4 G4 A4--,",
         "Most of it is steps; the skip to see ahead is D to F in bar 2."),
        ("C4 E4 G4 E4 C4 E4 G4 E4 | F4 A4 F4 A4 C5--,",
         "The first skips are C to E, E to G and G to E in bar 1."),
        ("C4 D4 E4 D4 C4 D4 E4 D4 | Eb4 F4 Eb4 F4 Eb4--,", ""),
    ],
)  # fmt: skip
def test_skips_are_told_with_their_notes(line: str, text: str) -> None:
    assert words_on(skips, "turning-scale", FALLING, line) == text


def test_where_a_chord_is_entered_off_its_root_is_told() -> None:
    line = "E4 D4 E4 G4 E4 D4 F4 G4 | A4 C5 D5 A4 F4--,"
    assert words_on(first_notes, "turning-scale", FALLING, line) == (
        "Not every chord starts on its root: C7 and F7 in bars 1–2 on their third."
    )
    at_home = "C4 D4 E4 G4 E4 D4 F4 G4 | F4 C5 D5 A4 F4--,"
    assert words_on(first_notes, "turning-scale", FALLING, at_home) == ""
