"""The scale: each chord's own, root to root; the fourth is kept off strong beats.

Common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from briefs_over_charts import brief_over
from hypothesis import given
from hypothesis import strategies as st
from step_lines import CADENCE, CHARTS, LASTING, broken_rules, line_of, midi, notes_of, words_on

from halfstep.etude.steps.scale import (
    EARLY,
    LEAST_PEAK,
    NARROWER,
    TURNED_BACK,
    _eighths,
    _full_ways,
    _offsets,
    _rested,
    _root_in,
    _turned_early,
    _wave,
    directions,
)  # fmt: skip

MAJOR = "key: C\n| Cmaj7 | Fmaj7 |"
IN_ORDER = "the scale's notes in order"
HALF = Fraction(1, 2)


@given(st.integers(2, 30), st.booleans())
def test_a_wave_that_falls_is_one_that_rises_upside_down(count: int, falls: bool) -> None:
    way = _wave(count, 8, 7, falls=falls)
    assert way[0] == (7 if falls else 0)
    assert way == tuple(7 - step for step in _wave(count, 8, 7, falls=not falls))
    assert {abs(b - a) for a, b in pairwise(way)} == {1}


@pytest.mark.parametrize(
    ("count", "routes"),
    [
        (8, {(0, 1, 2, 3, 4, 5, 6, 7), (7, 6, 5, 4, 3, 2, 1, 0)}),
        (4, {(0, 1, 2, 3), (7, 6, 5, 4), (4, 5, 6, 7)}),
    ],
)
def test_a_bar_of_eighths_goes_root_to_root_and_half_a_bar_from_the_root_or_to_it(
    count: int, routes: set[tuple[int, ...]]
) -> None:
    assert set(_full_ways(count, 7)) == routes


@given(st.integers(2, 24), st.sampled_from([5, 6, 7, 8]))
def test_every_way_begins_or_ends_on_the_root(count: int, octave: int) -> None:
    routes = _full_ways(count, octave)
    assert len(set(routes)) == len(routes)
    for way in routes:
        assert len(way) == count
        assert {way[0], way[-1]} & {0, octave}
        assert way[_root_in(way, octave)] in {0, octave}
        assert min(way) >= -1
        assert max(way) <= octave + 1


@pytest.mark.parametrize("count", [8, 15, 16])
def test_the_sooner_a_scale_turns_below_its_octave_the_dearer_it_is(count: int) -> None:
    prices = [price for _, price in _turned_early(count, 7)]
    assert prices == sorted(prices)
    assert prices[0] == EARLY + NARROWER
    assert prices[-1] == EARLY + 5 * TURNED_BACK
    for way, price in _turned_early(count, 7):
        peak = max(abs(step) for step in way)
        assert (price < TURNED_BACK) is (peak >= LEAST_PEAK)
        assert peak < 7


def test_no_way_turns_early_where_the_notes_end_before_the_turn() -> None:
    assert list(_turned_early(3, 7)) == []
    assert {way for way, _ in _turned_early(4, 7)} == {(0, 1, 2, 1), (0, -1, -2, -1)}


@pytest.mark.parametrize(
    ("symbol", "steps"), [("Cmaj7", {3}), ("C7sus4", set()), ("Cm7", set()), ("G7", {3})]
)
def test_the_steps_of_the_fourth_to_be_avoided(symbol: str, steps: set[int]) -> None:
    palette = brief_over(f"key: C\n| {symbol} |").palette(0)
    offsets = _offsets(palette.avoid, palette, 7)
    assert {step % 7 for step in offsets} == steps
    assert len(offsets) == 3 * len(steps)


@pytest.mark.parametrize(
    ("start", "stop", "bar", "onsets"),
    [
        ("0", "2", "0", "0 1/2 1 3/2"),
        ("1/4", "1", "0", "1/4 1/2"),  # back on the grid of the bar
        ("4", "5", "4", "4 9/2"),
        ("1/4", "1/2", "0", "1/4"),
    ],
)
def test_eighths_lie_on_the_grid_of_the_bar(start: str, stop: str, bar: str, onsets: str) -> None:
    made = _eighths(Fraction(start), Fraction(stop), Fraction(bar))
    assert made == [Fraction(onset) for onset in onsets.split()]


@pytest.mark.parametrize(
    ("offsets", "lengths"),
    [((0, 1, 2, 4), [HALF] * 4), ((0, 1, 2, 3), [HALF, HALF, 1]), ((0, 1, 3, 3), [HALF, 3 * HALF]),
     ((1, 1, 1, 1), [2])],
)  # fmt: skip
def test_the_last_note_is_held_from_the_last_tone_of_the_arpeggio(
    offsets: tuple[int, ...], lengths: list[Fraction]
) -> None:
    restful = {0, 2, 4} if offsets[1:] != (1, 3, 3) else {0, 1}
    assert _rested([HALF] * 4, offsets, restful) == lengths


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(4))
def test_notes_follow_the_scale_and_keep_the_fourth_off_strong_beats(chart: str, seed: int) -> None:
    etude = line_of("scale", brief_over(chart, seed=seed))
    strong = etude.analysis.chart.meter.strong_beats
    for old, new in pairwise(etude.notes):
        if not new.pitch:
            continue
        chord = etude.analysis.chords[new.chord]
        major = {tone.degree.semitones for tone in chord.tones} >= {4}
        if major and new.degree and new.degree.number == 4 and new.degree.alteration == 0:
            assert new.onset % etude.analysis.chart.meter.bar_beats not in strong
        if old.pitch and old.chord == new.chord:
            assert 1 <= abs(midi(new) - midi(old)) <= 3  # 3: the augmented second


@pytest.mark.parametrize("seed", range(4))
def test_every_chord_that_lasts_a_bar_begins_or_ends_on_its_root(seed: int) -> None:
    etude = line_of("scale", brief_over(CADENCE, seed=seed))
    for chord in range(7):
        numbers = [n.degree.number for n in etude.notes if n.chord == chord and n.degree]
        assert 1 in {numbers[0], numbers[-1]}


def test_seed_0_goes_up_from_the_root_of_every_chord() -> None:
    notes = notes_of("scale", LASTING)
    for chord in range(4):
        first, second = [note for note in notes if note.chord == chord][:2]
        assert first.degree is not None
        assert first.degree.number == 1
        assert midi(second) > midi(first)


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5-,", set()),
        ("C5 B4 A4 G4 F4 E4 D4 C4 | F4 G4 A4 B4 C5 D5 E5-,",
         {"an avoid note never sits on a strong beat"}),
        ("C5- B4 A4 G4 F4 E4 D4 | F4 G4 A4 B4 C5 D5 E5-,", set()),  # a quarter moves it off
        ("C4 D4 E4 G4 A4 B4 C5 D5 | F4 G4 A4 B4 C5 D5 E5-,", {IN_ORDER}),
        ("C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 Bb4 C5 D5 E5-,",
         {IN_ORDER, "every note is in range and in the scale of the moment",
          "every note is spelled within its scale"}),
        ("C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 E5 G5-,",
         {IN_ORDER, "the last note is a tone of the arpeggio"}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("scale", MAJOR, line, instrument="piano") == broken


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5-,", "Every scale goes up."),
        ("C5 B4 A4 G4 F4 E4 D4 C4 | F5 E5 D5 C5 B4 A4 G4 F4,", "Every scale goes down."),
        ("C4 D4 E4 F4 G4 A4 B4 C5 | F5 E5 D5 C5 B4 A4 G4 F4,",
         "The line goes all the way up in bar 1 and all the way down in bar 2."),
        ("C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 B4 A4 G4,",
         "The line goes all the way up in bar 1; it turns in the others."),
        ("C4 D4 E4 F4 E4 D4 E4 D4 | F4 G4 A4 B4 C5 B4 A4 G4,", ""),
    ],
)  # fmt: skip
def test_where_runs_only_rise_and_only_fall_is_told(line: str, text: str) -> None:
    assert words_on(directions, "scale", MAJOR, line) == text


def test_a_scale_without_room_for_its_octave_turns_and_says_so() -> None:
    etude = line_of("scale", brief_over("key: C\n| Cmaj7 | % | Dm7 | % |", low="C4", high="A4"))
    assert max(midi(note) for note in etude.notes if note.pitch) <= 69
    assert any("turn back before it" in notice.text for notice in etude.notices)
    assert line_of("scale", brief_over(CADENCE)).notices == ()
