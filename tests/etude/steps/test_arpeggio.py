"""The arpeggio: 1 3 5 7 of each chord, up in one bar and down in the next; common practice,
no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from briefs_over_charts import brief_over
from step_lines import (
    CADENCE,
    CHARTS,
    HALVES,
    LASTING,
    broken_rules,
    by_bar,
    line_of,
    midi,
    notes_of,
    words_on,
)  # fmt: skip

from halfstep.etude.sentences import thirds
from halfstep.etude.steps.arpeggio import (
    DOWN_AND_UP,
    _in_quarters,
    _keeps_groups,
    _swayed,
    _with_long,
)  # fmt: skip

MAJOR = "key: C\n| Cmaj7 | % |"
SEVENTHS = "key: F\n| C7 | F7 |"
IN_ORDER = "the arpeggio's tones in order"


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_over_two_bars_the_plainest_goes_up_and_comes_down(level: str) -> None:
    """1 3 5 7 in the first bar of each chord, 7 5 3 1 in the second."""
    bars = by_bar(notes_of("arpeggio", LASTING, level=level))
    for number, notes in bars.items():
        degrees = [note.degree.number for note in notes if note.degree]
        assert degrees == ([1, 3, 5, 7] if number % 2 else [7, 5, 3, 1])
        rises = [midi(new) > midi(old) for old, new in pairwise(notes)]
        assert rises == [number % 2 == 1] * 3


def test_a_bar_alone_has_its_arpeggio_up_and_down() -> None:
    bars = by_bar(notes_of("arpeggio", CADENCE))
    for number in (1, 2, 3):
        assert [n.degree.number for n in bars[number] if n.degree] == [1, 3, 5, 7, 5, 3, 1]


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_only_tones_of_the_arpeggio_and_a_third_in_every_chord_that_lasts(
    chart: str, seed: int
) -> None:
    etude = line_of("arpeggio", brief_over(chart, seed=seed))
    for number, chord in enumerate(etude.analysis.chords):
        degrees = {n.degree.number for n in etude.notes if n.chord == number and n.degree}
        assert degrees <= {tone.degree.number for tone in chord.core}
        assert 3 in degrees


def test_half_bars_go_up_and_down_in_turn() -> None:
    notes = notes_of("arpeggio", HALVES)
    routes = []
    for chord in range(7):
        run = [midi(note) for note in notes if note.chord == chord]
        routes.append(run == sorted(run))
    assert routes == [n % 2 == 0 for n in range(7)]


@pytest.mark.parametrize(
    ("beats", "lengths"),
    [("4", "1 1 1 1"), ("5", "1 1 1 2"), ("3", "1 1 1/2 1/2"), ("2", "1/2 1/2 1/2 1/2"),
     ("3/2", "1/2 1/2 1/2"), ("1", "1/2 1/2"), ("1/2", "1/2"), ("1/4", "1/4")],
)  # fmt: skip
def test_quarters_where_they_fit_and_eighths_at_the_end(beats: str, lengths: str) -> None:
    assert _in_quarters(Fraction(beats)) == [Fraction(length) for length in lengths.split()]


@pytest.mark.parametrize(("place", "long"), [(0, [0]), (2, [2]), (6, [6])])
def test_one_of_seven_notes_of_a_bar_is_long(place: int, long: list[int]) -> None:
    lengths = _with_long(Fraction(4), 7, place)
    assert sum(lengths) == 4
    assert [n for n, length in enumerate(lengths) if length == 1] == long


def test_what_is_left_of_a_long_bar_is_held_at_the_end() -> None:
    assert _with_long(Fraction(6), 7, 2)[-1] == Fraction(5, 2)
    assert _with_long(Fraction(6), 7, 6)[-1] == 3


def test_lengths_sway_with_the_same_sum() -> None:
    plain = [Fraction(1)] * 2 + [Fraction(1, 2)] * 2
    routes = list(_swayed(plain))
    assert routes[0] == plain
    assert all(sum(way) == 3 for way in routes)
    assert routes[-1] == [Fraction(3, 2), *[Fraction(1, 2)] * 3]  # the first two dotted


@pytest.mark.parametrize(
    ("chart", "lengths", "kept"),
    [
        ("| C7 |", "1/3 1/3 1/3 1 1 1", True),
        ("| C7 |", "1 1 1 1", True),
        ("meter: 6/8\n| C7 |", "1 1/2 1 1/2", True),
        ("meter: 6/8\n| C7 |", "1 1 1", False),  # the second crosses the group
        ("meter: 6/8\n| C7 |", "3 ", True),
        ("meter: 6/8\n| C7 |", "1/2 1/2 1/2 3/2", True),
    ],
)
def test_notes_keep_to_the_groups_of_a_compound_bar(chart: str, lengths: str, kept: bool) -> None:
    assert _keeps_groups(brief_over(chart).cut[0], list(map(Fraction, lengths.split()))) is kept


def test_the_other_way_round_is_its_mirror() -> None:
    assert DOWN_AND_UP == (3, 2, 1, 0, 1, 2, 3)


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C4- E4- G4- B4- | B4- G4- E4- C4-,", set()),
        ("C4- E4- G4- B4- | E4- C4- E4- G4-,", set()),  # a bar may begin anywhere
        ("C4- E4- B4- G4- | B4- G4- E4- C4-,", {IN_ORDER}),
        ("C4- E4- G4- C5- | B4- G4- E4- C4-,", {IN_ORDER}),
        ("C4- E4- G4- B4- | C5- G4- E4- C4-,", {IN_ORDER}),
        ("C4- C4- E4- G4- | B4- G4- E4- C4-,", set()),
        ("C4- C4- C4- E4- | B4- G4- E4- C4-,", {"no more than two equal notes in a row"}),
        ("C4- E4- G4- B4- | B4- G4- E4- C4-", {"a phrase ends where the player can breathe"}),
        ("C4- E4- G4- B4- | B4- G4- E4- C#4-,",
         {"only tones of the arpeggio", "every note is in range and in the scale of the moment",
          "every note is spelled within its scale", "the last note is a tone of the arpeggio",
          IN_ORDER}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("arpeggio", MAJOR, line) == broken


def test_the_thirds_that_are_told_are_those_of_the_chords() -> None:
    """E over C7 and A over F7; of one chord there is one third."""
    assert words_on(thirds, "arpeggio", "key: F\n| C7 | F7 |", "C4- E4- G4-- | F4- A4- C5--,") == (
        "The thirds to name are E in C7 and A in F7."
    )
    assert words_on(thirds, "arpeggio", MAJOR, "C4- E4- G4-- | C4- E4- C4--,") == (
        "The third to name is E in Cmaj7."
    )
    assert words_on(thirds, "arpeggio", MAJOR, "C4- G4- C4-- | C4- G4- C4--,") == ""


def test_a_chord_that_has_no_root_in_range_is_built_on_another_tone_and_says_so() -> None:
    etude = line_of("arpeggio", brief_over("key: C\n| Dm7 | G7 |", low="E4", high="D5"))
    texts = [notice.text for notice in etude.notices]
    assert any("start on another tone: {0} in bar 1 on its" in text for text in texts)
    assert line_of("arpeggio", brief_over(CADENCE)).notices == ()
