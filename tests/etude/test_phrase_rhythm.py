"""Phrases of a chorus in time: one after another, with rests, in the kinds of beat of a level."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.beat_kinds import ALLOWED, BEAT_KINDS, begun_in, kinds_allowed
from halfstep.etude.etude_brief import BREATH_S, Brief
from halfstep.etude.phrase_rhythm import LENGTHS, PhraseTimes, phrase_times
from halfstep.etude.slots import Piece, pieces
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel, Meter, clock_for
from halfstep.random_stream import RandomStream
from typed_charts import read_chart_text

LONG = "| Dm7 | G7 | Cmaj7 | A7 | Fm7 | Bb7 | Ebmaj7 | Am7b5 D7 |" * 4
METERS = ("4/4", "3/4", "5/4", "6/8", "7/8", "2/2")
levels, feels, seeds = st.sampled_from(Level), st.sampled_from(Feel), st.integers(0, 999)


def cut_of(meter: str = "4/4", text: str = LONG) -> list[Piece]:
    return pieces(analyse(read_chart_text(f"meter: {meter}\n{text.replace('||', '|')}")))


CUTS = {meter: cut_of(meter) for meter in METERS}


def brief_of(level: Level, feel: Feel = Feel.SWING, tempo_bpm: float = 140.0) -> Brief:
    return Brief(INSTRUMENTS["alto-sax"], level, tempo_bpm, feel=feel)


def drawn(meter: str, level: Level, seed: int, feel: Feel = Feel.SWING) -> list[PhraseTimes]:
    return phrase_times(CUTS[meter], brief_of(level, feel), RandomStream(seed))


@pytest.mark.slow
@settings(max_examples=60)
@given(st.sampled_from(METERS), levels, feels, seeds)
def test_phrases_follow_one_another_with_rests_between(
    meter: str, level: Level, feel: Feel, seed: int
) -> None:
    phrases = drawn(meter, level, seed, feel)
    assert phrases
    for phrase in phrases:
        assert all(a < b for a, b in pairwise((*phrase.onsets, phrase.end)))
    assert all(a.end < b.onsets[0] for a, b in pairwise(phrases))
    assert phrases[0].onsets[0] >= 0
    assert phrases[-1].end == CUTS[meter][-1].end


@pytest.mark.slow
@settings(max_examples=40)
@given(levels, feels, seeds)
def test_each_beat_of_a_phrase_is_of_a_kind_that_the_level_has(
    level: Level, feel: Feel, seed: int
) -> None:
    allowed = {BEAT_KINDS[kind] for kind in kinds_allowed(level, feel, 60 / 140)}
    for phrase in drawn("4/4", level, seed, feel)[:-1]:  # the last one is cut where it ends
        beats = range(int(phrase.onsets[0]), int(phrase.onsets[-1]) + 1)
        for beat in beats:
            places = tuple(at - beat for at in phrase.onsets if beat <= at < beat + 1)
            assert places in allowed


@pytest.mark.slow
@settings(max_examples=30)
@given(st.sampled_from(("6/8", "7/8")), levels, seeds)
def test_groups_of_eighths_begin_with_a_note(meter: str, level: Level, seed: int) -> None:
    groups = {piece.bar_start + at for piece in CUTS[meter] for at in piece.bar.meter.strong_beats}
    for phrase in drawn(meter, level, seed):
        inside = {at for at in groups if phrase.onsets[0] < at < phrase.onsets[-1]}
        assert inside <= set(phrase.onsets)


@pytest.mark.slow
@settings(max_examples=40)
@given(levels, seeds)
def test_a_chord_begins_with_a_note_or_with_one_struck_early(level: Level, seed: int) -> None:
    """Up to half a beat before."""
    cut = CUTS["4/4"]
    starts = [new.start for old, new in pairwise(cut) if old.chord != new.chord]
    for phrase in drawn("4/4", level, seed):
        for at in starts:
            if phrase.onsets[0] < at < phrase.onsets[-1]:
                assert any(at - Fraction(1, 2) <= onset <= at for onset in phrase.onsets)


@pytest.mark.slow
def test_about_two_thirds_of_a_chorus_sound() -> None:
    """Of transcribed solos 64 % (jazzodata tables, MIT); here between 60 and 75."""
    for level in Level:
        shares = [
            float(sum(p.end - p.onsets[0] for p in drawn("4/4", level, seed)) / 128)
            for seed in range(20)
        ]
        assert 0.6 <= mean(shares) <= 0.75


def test_no_phrase_is_longer_than_a_breath() -> None:
    slow = brief_of(Level.ADVANCED, tempo_bpm=60.0)
    for seed in range(20):
        for phrase in phrase_times(CUTS["4/4"], slow, RandomStream(seed))[:-1]:
            assert phrase.onsets[-1] - phrase.onsets[0] <= BREATH_S
    assert LENGTHS[Level.BEGINNER][1] < LENGTHS[Level.INTERMEDIATE][1] < LENGTHS[Level.ADVANCED][1]


def test_the_same_numbers_draw_the_same_phrases() -> None:
    assert drawn("4/4", Level.ADVANCED, 3) == drawn("4/4", Level.ADVANCED, 3)
    assert drawn("4/4", Level.ADVANCED, 3) != drawn("4/4", Level.ADVANCED, 4)


@pytest.mark.slow
def test_a_figure_is_stated_and_comes_back_past_the_middle() -> None:
    """In most choruses of 32 bars; where its rhythm lets a chord begin without a note, not."""
    returned = 0
    for seed in range(20):
        figures = [p for p in drawn("4/4", Level.ADVANCED, seed) if p.figure]
        returned += len(figures) > 1 and figures[-1].onsets[0] > 60
    assert returned >= 14


def test_each_level_has_the_kinds_of_the_one_before_and_more() -> None:
    kinds = [set(ALLOWED[level]) for level in Level]
    assert kinds[0] < kinds[1] < kinds[2]


@pytest.mark.parametrize(
    ("feel", "tempo_bpm", "missing"),
    [
        (Feel.SWING, 140, set()),
        (Feel.STRAIGHT, 140, {5}),  # triplets
        (Feel.SWING, 240, {4, 6, 7}),  # sixteenths of 62 ms
        (Feel.SWING, 300, {4, 5, 6, 7}),
    ],
)
def test_no_kind_has_notes_too_short_to_play(
    feel: Feel, tempo_bpm: float, missing: set[int]
) -> None:
    clock = clock_for(Meter(), tempo_bpm)
    assert set(range(8)) - set(kinds_allowed(Level.ADVANCED, feel, clock.beat_s)) == missing


def test_a_kind_keeps_inside_its_beat() -> None:
    for kind in range(8):
        for beats in (Fraction(1, 2), Fraction(1), Fraction(3, 2)):
            assert all(0 <= at < beats for at in begun_in(kind, beats))
