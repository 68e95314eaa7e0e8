"""Bars that lead in: the form's last ones, before beat 0. Common practice, no source."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_charts import SWING, SWINGING, WALTZ, chart_of, charts, pickup_before

from halfstep.backing import STYLES, Style, band_intro, make_backing
from halfstep.meter import Meter
from halfstep.progression.chart import Chart, spans


@pytest.mark.slow
@given(charts(), st.sampled_from(STYLES), st.sampled_from((2, 4)), st.integers(0, 9))
@settings(max_examples=40)
def test_all_lies_in_its_bars_and_no_key_is_struck_while_it_sounds(
    chart: Chart, style: Style, bars: int, seed: int
) -> None:
    intro = band_intro(chart, style=style, bars=bars, seed=seed)
    form = [bar.beats for bar in chart.form]
    assert intro.beats == sum((form[n % len(form)] for n in range(-bars, 0)), Fraction(0))
    for part in intro.parts:
        ends: dict[int, Fraction] = {}
        for note in part.notes:
            assert -intro.beats <= note.onset < note.onset + note.beats <= 0 or part.percussion
            assert note.onset >= ends.get(note.midi, note.onset)
            ends[note.midi] = note.onset + note.beats


@pytest.mark.sampled
@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
@pytest.mark.parametrize("chart", [SWING, WALTZ], ids=["four", "three"])
def test_the_bass_plays_the_roots_of_the_last_bars(chart: Chart, style: Style) -> None:
    intro = band_intro(chart, style=style, bars=4)
    _, bass, chords = intro.parts
    at = {note.onset: note.midi % 12 for note in bass.notes}
    for span in spans(chart):
        if span.start >= chart.beats - intro.beats:
            root = (span.symbol.bass or span.symbol.root).pitch_class
            assert at[span.start - chart.beats] == root
    assert chords.notes


def test_a_bar_without_a_symbol_goes_on_with_the_chord_before_it() -> None:
    chart = chart_of("Dm7 | G7 | C6 | ", Meter())
    bass = band_intro(chart, style=SWINGING, bars=2).parts[1]
    assert bass.notes[0].midi % 12 == 0
    short = band_intro(chart_of("Dm7", Meter()), style=SWINGING, bars=4)
    assert short.beats == 16


def test_a_part_has_its_intro_before_its_chorus() -> None:
    band = make_backing(SWING, style=SWINGING)
    intro = band_intro(SWING, style=SWINGING, bars=2)
    for part, alone in zip(band, intro.parts, strict=True):
        whole = intro.before(part)
        assert whole.notes == (*alone.notes, *part.notes)
        assert (whole.name, whole.program) == (part.name, part.program)


@pytest.mark.slow
@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_the_bass_comes_to_the_note_of_bar_1_and_not_to_its_octave(style: Style) -> None:
    """A bass comes to a note from no farther than a ninth (common practice, no source)."""
    for seed in range(4):
        band = make_backing(SWING, style=style, seed=seed, choruses=2)
        intro = band_intro(SWING, style=style, bars=2, seed=seed, band=band)
        first = band[1].notes[0].midi
        assert abs(first - intro.parts[1].notes[-1].midi) <= 14
        alone = band_intro(SWING, style=style, bars=2, seed=seed)
        assert (intro.parts[0], intro.parts[2]) == (alone.parts[0], alone.parts[2])


def test_a_pickup_changes_nothing() -> None:
    plain, picked_up = (
        band_intro(chart, style=SWINGING, bars=2)
        for chart in (SWING, pickup_before(SWING, Fraction(1)))
    )
    assert plain == picked_up
