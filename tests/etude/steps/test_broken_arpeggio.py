"""The broken arpeggio: tones out of order, and the nearest one across the change."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from briefs_over_charts import brief_over, midis_of
from hypothesis import given, settings
from hypothesis import strategies as st
from step_lines import CHARTS, broken_rules, keeps, line_of, midi, rule_of, words_on
from typed_lines import typed

from halfstep.etude.slots import Slot
from halfstep.etude.steps.broken_arpeggio import nearest, nearest_across, out_of_order

FALLING = "key: F\n| C7 | F7 |"
SLOTS: list[Slot] = typed("broken-arpeggio", FALLING, "C5 G4 E4 Bb4 G4 C5 Bb4 E4 | F4----,")[1]
OVER, INTO = SLOTS[2:5], SLOTS[7:9]
NEAREST, ORDER = "the nearest chord tone", "tones out of order"


@pytest.mark.parametrize(
    ("notes", "kept"),
    [
        ("E4 F4", True),  # a half step
        ("E4 Eb4", True),
        ("E4 C4", False),
        ("G4 F4", True),
        ("G4 A4", True),  # as near
        ("G4 C5", False),
        ("C5 C5", True),  # it may stay where the new chord has it
        ("C5 A4", True),  # and if it does not, the nearest other one: A is three away
        ("C5 Eb5", True),
        ("C5 F5", False),
        ("Bb4 A4", True),
        ("Bb4 C5", False),
    ],
)
def test_across_a_change_only_the_nearest_tone(notes: str, kept: bool) -> None:
    assert keeps(rule_of("broken-arpeggio", NEAREST), INTO, notes) is kept


@settings(max_examples=40)
@given(st.integers(52, 84))
def test_the_nearest_is_what_a_search_of_all_tones_finds(old: int) -> None:
    palette = INTO[1].palette
    assert palette is not None
    tones = np.flatnonzero(palette.core)
    others = [abs(int(tone) - old) for tone in tones if tone != old]
    allowed = nearest_across(INTO, [np.asarray(old), tones])
    expected = [int(tone) == old or abs(int(tone) - old) == min(others) for tone in tones]
    assert allowed.tolist() == expected


@pytest.mark.parametrize(
    ("notes", "kept"),
    [
        ("C4 E4 G4", False), ("G4 E4 C4", False), ("E4 G4 Bb4", False), ("G4 Bb4 C5", False),
        ("C4 E4 C4", True), ("C4 G4 E4", True), ("C4 E4 Bb4", True), ("C4 G4 C5", True),
        ("E4 C4 Bb4", True),
    ],
)  # fmt: skip
def test_three_tones_never_run_through_the_arpeggio(notes: str, kept: bool) -> None:
    assert keeps(rule_of("broken-arpeggio", ORDER), OVER, notes) is kept


def test_order_is_not_asked_across_a_change() -> None:
    assert not rule_of("broken-arpeggio", ORDER).applies(SLOTS[6:9])
    assert not rule_of("broken-arpeggio", NEAREST).applies(OVER[:2])
    assert rule_of("broken-arpeggio", NEAREST).applies([OVER[0], INTO[1]._replace()])


def test_the_mask_over_all_notes_says_what_each_triple_says() -> None:
    grid = np.array(midis_of("C4 E4 G4 Bb4 C5 E5"))
    mask = out_of_order(OVER, np.ix_(grid, grid, grid))
    for a, first in enumerate(grid):
        for b, second in enumerate(grid):
            for c, third in enumerate(grid):
                run = [np.asarray(n) for n in (first, second, third)]
                assert mask[a, b, c] == bool(out_of_order(OVER, run))
                assert mask[a, b, c] == (not (b - a == c - b and abs(b - a) == 1))


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_a_written_line_is_out_of_order_and_crosses_by_the_nearest(chart: str, seed: int) -> None:
    request = brief_over(chart, seed=seed)
    etude = line_of("broken-arpeggio", request)
    for old, new in pairwise(etude.notes):
        if old.chord != new.chord and old.pitch and new.pitch:
            tones = np.flatnonzero(request.palette(new.chord).core)
            least = min(abs(int(tone) - midi(old)) for tone in tones if tone != midi(old))
            assert abs(midi(new) - midi(old)) in {0, least}


def test_a_beginner_has_quarters_and_others_have_eighths() -> None:
    """A beginner's eighths come in pairs on a weak beat."""
    etude = line_of("broken-arpeggio", brief_over(CHARTS[0], level="beginner"))
    assert {note.beats for note in etude.notes if note.onset % 2 < 1} <= {1, 2}
    assert any(note.beats == 0.5 for note in etude.notes)
    etude = line_of("broken-arpeggio", brief_over(CHARTS[0], level="intermediate"))
    eighths = sum(note.beats == 0.5 for note in etude.notes)
    assert eighths > len(etude.notes) / 2


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C5 G4 E4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,", set()),
        ("C5 G4 E4 Bb4 G4 C5 Bb4 E4 | Eb4 C5 A4 Eb5 F4--,", set()),
        ("C5 G4 E4 Bb4 G4 C5 Bb4 E4 | C5 F4 A4 Eb5 F4--,",
         {"the nearest chord tone across the change"}),
        ("C5 G4 E4 Bb4 G4 C5 Bb4 E4 | F4 A4 C5 F4 Eb5--,", {ORDER}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert (
        broken_rules("broken-arpeggio", FALLING, line) - {"a leap larger than a fifth turns back"}
        == broken
    )


def test_the_closest_join_is_told_by_its_size() -> None:
    line = "C5 G4 E4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"
    assert words_on(nearest, "broken-arpeggio", FALLING, line) == (
        "The smallest move at a change is in bar 2: E rises a half step to F over F7."
    )
    assert words_on(nearest, "broken-arpeggio", "key: F\n| C7 | % |", "C5-- G4-- | E4----,") == ""
