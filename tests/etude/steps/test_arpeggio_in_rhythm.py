"""The arpeggio in rhythm: the same tones in order, some of them struck again."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from briefs_over_charts import brief_over
from hypothesis import given, settings
from hypothesis import strategies as st
from step_lines import CHARTS, broken_rules, by_bar, line_of, midi, notes_of, words_on

from halfstep.etude.steps.arpeggio_in_rhythm import (
    GUIDES_OFTEN,
    has_repeat,
    over_the_beat,
    repeated,
    struck_again,
)  # fmt: skip
from halfstep.random_stream import RandomStream

MAJOR = "key: C\n| Cmaj7 | Fmaj7 |"
VARIES, REPEATS = "the rhythm varies from chord to chord", "tones are repeated"


@pytest.mark.slow
@settings(max_examples=60)
@given(st.integers(1, 16), st.booleans(), st.booleans(), st.booleans(), st.integers(0, 99))
def test_tones_stay_in_order_and_there_are_as_many_as_asked(
    count: int, up: bool, again: bool, home: bool, seed: int
) -> None:
    rng = RandomStream(seed)
    tones = repeated(count, up=up, again=again, rng=rng, home=home)
    assert len(tones) == count
    assert set(np.abs(np.diff(tones)).tolist()) <= {0, 1}
    if home:
        assert tones[-1] == 0
    if again and count > 1:
        assert has_repeat(tones)
    turns = sum(a != b for a, b in pairwise(np.sign(d) for d in np.diff(tones) if d))
    assert turns == (1 if count > 8 else 0)


@pytest.mark.parametrize(
    ("count", "up", "again", "tones"),
    [
        (4, True, False, (0, 1, 2, 3)), (4, False, False, (3, 2, 1, 0)),
        (3, True, False, (0, 1, 2)), (3, False, False, (0, 1, 2)),  # too few to come down
        (2, True, True, (0, 0)), (1, True, True, (0,)),
    ],
)  # fmt: skip
def test_few_notes_leave_no_choice(
    count: int, up: bool, again: bool, tones: tuple[int, ...]
) -> None:
    assert repeated(count, up=up, again=again, rng=RandomStream(0)) == tones


def test_thirds_and_sevenths_are_struck_again_four_times_as_often() -> None:
    """Chi-square of 2000 draws of five notes; 16.3 is passed once in a thousand (memory)."""
    rng = RandomStream(12)
    counts: Counter[int] = Counter()
    for _ in range(2000):
        tones = repeated(5, up=True, again=False, rng=rng)
        counts[next(old for old, new in pairwise(tones) if old == new)] += 1
    shares = np.array([1, GUIDES_OFTEN, 1, GUIDES_OFTEN]) / (2 + 2 * GUIDES_OFTEN)
    drawn = np.array([counts[n] for n in range(4)])
    assert ((drawn - 2000 * shares) ** 2 / (2000 * shares)).sum() < 16.3


@pytest.mark.parametrize(
    ("offsets", "repeats"), [((), False), ((0,), False), ((0, 1, 0), False), ((0, 1, 1), True)]
)
def test_neighbours_that_are_equal(offsets: tuple[int, ...], repeats: bool) -> None:
    assert has_repeat(offsets) is repeats


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(4))
def test_tones_are_repeated_within_a_line_and_never_leave_the_ladder(chart: str, seed: int) -> None:
    etude = line_of("arpeggio-in-rhythm", brief_over(chart, seed=seed))
    notes = [note for note in etude.notes if note.pitch]
    same = [(a, b) for a, b in pairwise(notes) if midi(a) == midi(b) and a.chord == b.chord]
    assert same
    for note in notes:
        core = {tone.name for tone in etude.analysis.chords[note.chord].core}
        assert note.pitch is not None
        assert note.pitch.name in core


@pytest.mark.parametrize("seed", range(4))
def test_no_bar_has_the_rhythm_of_the_one_before(seed: int) -> None:
    bars = by_bar(notes_of("arpeggio-in-rhythm", CHARTS[0], seed=seed))
    rhythms = [[note.beats for note in bars[number]] for number in sorted(bars)]
    assert all(old != new or len(old) <= 2 for old, new in pairwise(rhythms))


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C4- C4 E4 G4- B4- | F4 F4 A4- C5 C5 E5-,", set()),
        ("C4- C4 E4 G4- B4- | F4- F4 A4 C5- E5-,", {VARIES}),
        ("C4-- C4-- | F4-- F4--,", set()),  # two notes leave no choice
        ("C4- E4 G4 B4- G4- | F4 A4 C5- E5 C5 A4-,", {REPEATS}),
        ("C4- E4- G4- B4- | C5-- A4- F4-,", set()),  # seven notes need no repeat
    ],
)
def test_rhythms_and_repeats_on_both_sides_of_their_edge(line: str, broken: set[str]) -> None:
    assert broken_rules("arpeggio-in-rhythm", MAJOR, line) == broken


def test_what_is_struck_again_is_told_with_its_bars() -> None:
    line = "C4- C4 E4 G4- B4- | F4 F4 A4- C5 C5 E5-,"
    assert words_on(struck_again, "arpeggio-in-rhythm", MAJOR, line) == (
        "Notes to repeat: C in bars 1–2 and F in bar 2."
    )
    assert words_on(struck_again, "arpeggio-in-rhythm", MAJOR, "C4-- E4-- | F4----,") == ""


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C4 C4- E4 G4- B4- | F4- A4- C5--,",
         "Count through bar 1: a note there is held over the beat."),
        ("C4 C4- E4 G4- B4- | F4 F4- A4 C5--,",
         "Count through bars 1–2: a note in each is held over the beat."),
        ("C4 C4 E4- G4- B4- | F4- A4- C5--,", ""),
    ],
)  # fmt: skip
def test_a_note_held_over_the_beat_is_told_to_be_counted_through(line: str, text: str) -> None:
    assert words_on(over_the_beat, "arpeggio-in-rhythm", MAJOR, line) == text


def test_the_last_note_of_a_phrase_is_held_for_a_pulse() -> None:
    for seed in range(4):
        notes = notes_of("arpeggio-in-rhythm", CHARTS[0], seed=seed, instrument="alto-sax")
        assert [note.end for note in notes if note.breath] == [16, 32]
        assert all(note.beats >= Fraction(1) for note in notes if note.breath)
