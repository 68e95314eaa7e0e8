"""The bass: roots where chords begin, ways into them, and a line that moves."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_charts import (
    EVEN,
    METERS,
    MINOR,
    SWING,
    SWINGING,
    VAMP,
    blocks_of,
    chart_of,
    charts,
    in_keys,
    style_named,
)

from halfstep.backing import STYLES, Style, make_backing
from halfstep.backing.bar_layout import bar_layouts, chord_timeline
from halfstep.backing.bass import bass_part
from halfstep.backing.chord_scales import chord_scales
from halfstep.harmony.tones import chord_degrees, chord_tones
from halfstep.meter import Meter
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart, spans

BANDS = st.sampled_from(STYLES)
EVERY_STYLE = pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
WALKING = tuple(style_named(name) for name in ("swing", "shuffle"))


def bass_notes(
    chart: Chart, style: Style = SWINGING, seed: int = 0, choruses: int = 1
) -> tuple[PlayedNote, ...]:
    bars, chords = bar_layouts(chart, choruses), chord_timeline(chart, choruses)
    scales = chord_scales(chart, chords)
    random = Random(f"bass {seed}")
    return bass_part(bars, chords, scales, style=style.bass, random=random).notes


def test_the_band_has_this_bass() -> None:
    assert make_backing(SWING, style=SWINGING, seed=2)[1].notes == bass_notes(SWING, seed=2)


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 3))
def test_the_range_is_that_of_the_double_bass(chart: Chart, style: Style, seed: int) -> None:
    """E1 to G3; common practice, no source."""
    assert all(28 <= note.midi <= 55 for note in bass_notes(chart, style, seed))


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 3))
def test_each_chord_begins_on_its_root_or_bass(chart: Chart, style: Style, seed: int) -> None:
    """Counted on recorded solos it is the root in 42 of a hundred at least; here always."""
    at = {note.onset: note.midi % 12 for note in bass_notes(chart, style, seed)}
    for span in spans(chart):
        if not span.symbol.silent:
            assert at[span.start] == (span.symbol.bass or span.symbol.root).pitch_class


@pytest.mark.slow
@given(charts(), BANDS)
def test_silence_has_no_bass(chart: Chart, style: Style) -> None:
    silent = [span for span in spans(chart) if span.symbol.silent]
    for note in bass_notes(chart, style):
        assert not any(span.start <= note.onset < span.end for span in silent)


@pytest.mark.slow
@given(charts(), BANDS)
def test_a_chord_with_an_altered_fifth_has_no_other(chart: Chart, style: Style) -> None:
    """No perfect fifth beside a ♭5 or ♯5, and none in alt."""
    for note in bass_notes(chart, style):
        (span,) = [s for s in spans(chart) if s.start <= note.onset < s.end]
        fives = [d.alteration for d in chord_degrees(span.symbol) if d.number == 5]
        if span.symbol.alt or (fives and 0 not in fives):
            bass = span.symbol.bass
            fifth = (span.symbol.root.pitch_class + 7) % 12
            assert note.midi % 12 != fifth or (bass and bass.pitch_class == fifth)


@pytest.mark.slow
@pytest.mark.sampled
@EVERY_STYLE
def test_twelve_bars_use_an_octave_and_a_half(style: Style) -> None:
    key = STYLES.index(style)
    for chart in (in_keys(SWING)[key], in_keys(MINOR)[-key], in_keys(SWING)[key - 6]):
        notes = bass_notes(chart, style, choruses=4)
        for first in range(0, 4 * 12 - 11):
            midi = [n.midi for n in notes if 4 * first <= n.onset < 4 * (first + 12)]
            assert max(midi) - min(midi) >= 18


@pytest.mark.sampled
@EVERY_STYLE
def test_no_two_notes_come_in_turns(style: Style) -> None:
    for chart in (in_keys(SWING)[STYLES.index(style)], VAMP):
        midi = [note.midi for note in bass_notes(chart, style, choruses=4)]
        looped = [*midi, *midi[:3]]
        for four in zip(looped, looped[1:], looped[2:], looped[3:], strict=False):
            assert not (four[0] == four[2] != four[1] == four[3])


def approaches(chart: Chart, notes: Sequence[PlayedNote]) -> list[int]:
    """Semitones from the note before it to the root of each new chord, where it moves."""
    at = {note.onset: n for n, note in enumerate(notes)}
    choruses = range(int(notes[-1].onset // chart.beats) + 1)
    starts = [span.start + n * chart.beats for n in choruses for span in spans(chart)]
    moves = [notes[at[start]].midi - notes[at[start] - 1].midi for start in starts]
    return [move for move in moves if move]


@pytest.mark.slow
@pytest.mark.sampled
@EVERY_STYLE
def test_two_of_five_ways_into_a_root_are_half_steps(style: Style) -> None:
    """From below in 20 of a hundred, from above in 17: counted on 347 recorded solos' bass."""
    moves = [
        move
        for seed, chart in enumerate((SWING, MINOR, SWING, MINOR))
        for move in approaches(chart, bass_notes(chart, style, seed, 4))
    ]
    assert 0.35 <= sum(abs(move) == 1 for move in moves) / len(moves) <= 0.45
    assert sum(move == 1 for move in moves) > 0 < sum(move == -1 for move in moves)
    assert sum(abs(move) == 2 for move in moves) > len(moves) / 12


@pytest.mark.parametrize("style", WALKING, ids=lambda style: style.name)
def test_one_beat_in_eight_has_a_note_between(style: Style) -> None:
    """12.8 of a hundred, counted on 9,307 beats of recorded solos."""
    for chart in (SWING, MINOR, VAMP):
        notes = bass_notes(chart, style, choruses=4)
        between = {n.onset // 1 for n in notes if n.onset % 1}
        beats = {n.onset // 1 for n in notes}
        assert 0.10 <= len(between) / len(beats) <= 0.15
        assert beats == set(range(4 * int(chart.beats)))


@pytest.mark.sampled
@EVERY_STYLE
@pytest.mark.parametrize("meter", METERS, ids=str)
def test_no_chorus_is_the_one_before_even_on_one_chord(style: Style, meter: Meter) -> None:
    chart = chart_of("Dm7 | Dm7", meter)
    for chorus, other in pairwise(sorted(blocks_of(chart, bass_notes(chart, style, choruses=4)))):
        assert chorus != other


@pytest.mark.sampled
@EVERY_STYLE
def test_strokes_are_not_one_as_hard_as_the_next(style: Style) -> None:
    """A standard deviation of 4 to 8; common practice, no source."""
    velocities = [note.velocity for note in bass_notes(SWING, style, choruses=4)]
    assert 3.5 <= pstdev(velocities) <= 8


@EVERY_STYLE
def test_a_pedal_is_kept(style: Style) -> None:
    """Every note is the pedal but those that lead away from it."""
    chart = chart_of("C/G | G7 | F/G | G7sus4/G", Meter())
    assert {note.midi % 12 for note in bass_notes(chart, style, choruses=2)} == {7}


def test_walking_puts_a_chord_tone_on_the_third_beat() -> None:
    """Common practice, no source."""
    at = {note.onset: note.midi for note in bass_notes(SWING)}
    for n, bar in enumerate(SWING.bars):
        if len(bar.chords) == 1:
            tones = {t.name.pitch_class for t in chord_tones(bar.chords[0].symbol)}
            assert at[Fraction(4 * n + 2)] % 12 in tones


def test_walking_moves_mostly_by_step() -> None:
    """Two thirds of the moves are a third or less; a bound of our own."""
    midi = [note.midi for note in bass_notes(SWING)]
    leaps = [abs(a - b) for a, b in zip(midi, midi[1:] + midi[:1], strict=True)]
    assert sum(leap <= 4 for leap in leaps) >= 2 * len(leaps) / 3


def test_a_bossa_bass_plays_the_fifth_and_strikes_the_coming_root_early() -> None:
    """Dotted quarter and eighth; common practice, no source."""
    chart = chart_of("Am7 | D7 | Gmaj7 | Cmaj7", Meter())
    notes = bass_notes(chart, style_named("bossa-nova"), choruses=4)
    at = {note.onset: note.midi for note in notes}
    bars = [Fraction(4 * n) for n in range(1, 16)]
    early = [bar for bar in bars if at.get(bar - Fraction(1, 2)) == at[bar]]
    assert len(early) > len(bars) / 3
    assert len([bar for bar in bars if bar + Fraction(3, 2) in at]) > len(bars) / 2


def test_a_funk_bass_has_octaves_ghosts_and_rests() -> None:
    """Common practice, no source."""
    notes = bass_notes(VAMP, style_named("funk"), choruses=4)
    leaps = [abs(a.midi - b.midi) for a, b in pairwise(notes)]
    gaps = [b.onset - a.onset - a.beats for a, b in pairwise(notes)]
    assert leaps.count(12) > 8
    assert sum(note.beats <= Fraction(1, 8) for note in notes) > 8
    assert sum(gap >= Fraction(1, 4) for gap in gaps) > 8


def test_sixteenths_are_left_out_where_no_hand_plays_them() -> None:
    """Sixteenths at 280 are 54 ms; common practice, no source."""
    funk = style_named("funk")
    slow, fast = (
        [note.onset for note in make_backing(VAMP, style=funk, tempo_bpm=bpm)[1].notes]
        for bpm in (100, 280)
    )
    assert any(onset.denominator == 4 for onset in slow)
    assert not any(onset.denominator == 4 for onset in fast)


def test_a_two_beat_bass_plays_half_notes() -> None:
    """Common practice, no source."""
    notes = bass_notes(VAMP, style_named("two-beat"), choruses=4)
    halves = [note for note in notes if note.beats > Fraction(3, 2)]
    assert len(halves) > len(notes) / 2 > 0


def test_a_straight_bass_plays_chord_tones_where_nothing_leads_on() -> None:
    tones = {t.name.pitch_class for t in chord_tones(SWING.bars[0].chords[0].symbol)}
    at = {note.onset: note.midi % 12 for note in bass_notes(SWING, EVEN)}
    assert at[Fraction(0)] in tones
