"""The bar behind the last chorus: one chord, held. Common practice, no source."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_charts import SWING, charts

from halfstep.backing import STYLES, Style, band_ending, make_backing
from halfstep.backing.bass_line import HIGH, LOW
from halfstep.harmony.tones import chord_tones
from halfstep.meter import Meter
from halfstep.played import PlayedPart
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.symbol import parse_symbol

HOMES = ("C", "Dm", "Ab6", "Cm6/9", "Ebmaj7", "F13", "Bm(maj7)", "E5", "Fadd9", "G7")


def bar_of(symbol: str, chart: Chart) -> Bar:
    last = chart.form[-1]
    chord = ChordAt(parse_symbol(symbol), Fraction(0))
    return Bar(last.number + 1, last.meter, last.meter.bar_beats, (chord,), last.number + 1)


@pytest.mark.slow
@given(charts(), st.sampled_from(STYLES), st.sampled_from(HOMES))
@settings(max_examples=30)
def test_every_part_is_struck_once_and_held_for_the_bar(
    chart: Chart, style: Style, symbol: str
) -> None:
    band, bar = make_backing(chart, style=style), bar_of(symbol, chart)
    ending = band_ending(band, bar, chart.beats)
    drums, bass, chords = ending.parts
    assert [part.name for part in ending.parts] == ["drums", "bass", "chords"]
    notes = [note for part in ending.parts for note in part.notes]
    assert {(note.onset, note.beats) for note in notes} == {(chart.beats, bar.beats)}
    assert all(1 <= note.velocity <= 127 for note in notes)
    home = bar.chords[0].symbol
    assert [note.midi % 12 for note in bass.notes] == [home.root.pitch_class]
    assert LOW <= bass.notes[0].midi <= HIGH
    classes = {tone.name.pitch_class for tone in chord_tones(home)}
    assert {note.midi % 12 for note in chords.notes} <= classes
    assert len(chords.notes) >= 2
    assert len(drums.notes) == len({note.midi for note in drums.notes}) == 2


@pytest.mark.slow
@given(charts(), st.sampled_from(STYLES))
@settings(max_examples=30)
def test_the_chorus_stays_and_the_bar_comes_behind_it(chart: Chart, style: Style) -> None:
    band = make_backing(chart, style=style)
    ending = band_ending(band, bar_of("C6", chart), chart.beats)
    for part, alone in zip(band, ending.parts, strict=True):
        whole = ending.after(part)
        assert whole.notes == (*part.notes, *alone.notes)
        assert (whole.name, whole.program, whole.percussion) == (
            part.name, part.program, part.percussion,
        )  # fmt: skip


@pytest.mark.parametrize("name", ["bass", "chords"])
def test_a_part_that_was_silent_comes_in(name: str) -> None:
    """Over a chart without chords there is nothing to lead from."""
    part = PlayedPart(name, 0, False, ())
    chart = Chart("", (Bar(1, Meter(4, 4), Fraction(4), (), 1),))
    ending = band_ending([part], bar_of("Am7", chart), chart.beats)
    assert ending.parts[0].notes
    other = PlayedPart("line", 0, False, ())
    assert ending.after(other) == other


@pytest.mark.sampled
@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_a_style_that_stops_strikes_once_and_is_over(style: Style) -> None:
    """An eighth, with the snare; the others ring for the bar, with a cymbal."""
    band = make_backing(SWING, style=style)
    drums, *others = band_ending(band, bar_of("F6", SWING), SWING.beats, style=style).parts
    assert {note.beats for part in others for note in part.notes} == {
        Fraction(1, 2) if style.stops else Fraction(4)
    }
    assert [note.midi for note in drums.notes] == [36, 38 if style.stops else 49]
    assert max(note.velocity for note in drums.notes) == style.drums.loud
    assert style.stops == (style.name in {"funk", "swung-funk", "two-beat"})
