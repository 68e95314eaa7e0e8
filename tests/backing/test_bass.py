"""The bass: roots where chords begin, and a step into the next."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_charts import EVEN, SIX_EIGHT, SWING, SWINGING, chart_of, charts

from halfstep.backing import STYLES, Style, make_backing
from halfstep.backing.bar_layout import bar_layouts, chord_timeline
from halfstep.backing.bass import Duty, bass_places
from halfstep.harmony.tones import chord_tones
from halfstep.meter import Meter
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart, spans
from halfstep.progression.symbol import parse_symbol

BANDS = st.sampled_from(STYLES)


def bass_notes(chart: Chart, style: Style = SWINGING, seed: int = 0) -> tuple[PlayedNote, ...]:
    return make_backing(chart, style=style, seed=seed)[1].notes


@given(charts(), BANDS, st.integers(0, 3))
def test_the_range_is_that_of_the_double_bass(chart: Chart, style: Style, seed: int) -> None:
    """E1 to G3; common practice, no source."""
    assert all(28 <= note.midi <= 55 for note in bass_notes(chart, style, seed))


@given(charts(), BANDS, st.integers(0, 3))
def test_each_chord_begins_on_its_root_or_bass(chart: Chart, style: Style, seed: int) -> None:
    at = {note.onset: note.midi % 12 for note in bass_notes(chart, style, seed)}
    for span in spans(chart):
        if not span.symbol.silent:
            assert at[span.start] == (span.symbol.bass or span.symbol.root).pitch_class


@given(charts(), BANDS)
def test_silence_has_no_bass(chart: Chart, style: Style) -> None:
    silent = [span for span in spans(chart) if span.symbol.silent]
    for note in bass_notes(chart, style):
        assert not any(span.start <= note.onset < span.end for span in silent)


@given(charts(), BANDS, st.integers(0, 3))
def test_approach_notes_lead_by_a_step(chart: Chart, style: Style, seed: int) -> None:
    """The last note too, which leads back to the first."""
    notes = bass_notes(chart, style, seed)
    places = bass_places(bar_layouts(chart), chord_timeline(chart), style=style.bass)
    assert [note.onset for note in notes] == [place.onset for place in places]
    following = [*notes[1:], *notes[:1]]
    for place, here, there in zip(places, notes, following, strict=True):
        if place.duty is Duty.APPROACH:
            assert abs(here.midi - there.midi) in {1, 2}


@given(charts(), BANDS)
def test_the_form_leads_back_to_its_first_root(chart: Chart, style: Style) -> None:
    found = spans(chart)
    notes = bass_notes(chart, style)
    if not (found[0].symbol.silent or found[-1].symbol.silent):
        assert abs(notes[-1].midi - notes[0].midi) in {1, 2}


def test_walking_puts_a_chord_tone_on_the_third_beat_and_a_step_before_the_bar() -> None:
    """Common practice, no source."""
    at = {note.onset: note.midi for note in bass_notes(SWING)}
    for n, bar in enumerate(SWING.bars):
        if len(bar.chords) == 1:
            tones = {t.name.pitch_class for t in chord_tones(bar.chords[0].symbol)}
            assert at[Fraction(4 * n + 2)] % 12 in tones
            following = at[Fraction((4 * n + 4) % 48)]
            assert abs(at[Fraction(4 * n + 3)] - following) in {1, 2}


def test_walking_is_in_quarters() -> None:
    assert [note.onset for note in bass_notes(SWING)] == list(range(48))


def test_walking_moves_mostly_by_step() -> None:
    """Two thirds of the moves are a third or less; a bound of our own."""
    midi = [note.midi for note in bass_notes(SWING)]
    leaps = [abs(a - b) for a, b in zip(midi, midi[1:] + midi[:1], strict=True)]
    assert sum(leap <= 4 for leap in leaps) >= 2 * len(leaps) / 3
    assert 0 not in leaps


def test_two_chords_in_a_bar_are_root_and_approach() -> None:
    at = [note.midi for note in bass_notes(chart_of("Dm7 G7 | Cmaj7 A7", Meter()))]
    assert [at[n] % 12 for n in (0, 2, 4, 6)] == [2, 7, 0, 9]
    assert all(abs(at[n] - at[(n + 1) % 8]) in {1, 2} for n in (1, 3, 5, 7))


def test_a_straight_bass_plays_roots_fifths_and_approaches() -> None:
    """Common practice, no source."""
    symbol = parse_symbol("F7")
    allowed = {symbol.root.pitch_class, (symbol.root.pitch_class + 7) % 12}
    chart = chart_of("F7 | F7", Meter())
    notes = bass_notes(chart, EVEN)
    assert {note.midi % 12 for note in notes[:-1]} <= allowed


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_six_eight_steps_on_both_pulses(style: Style) -> None:
    onsets = {note.onset for note in bass_notes(SIX_EIGHT, style)}
    assert {Fraction(0), Fraction(3, 2), Fraction(3), Fraction(9, 2)} <= onsets
