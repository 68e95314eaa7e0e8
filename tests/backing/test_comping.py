"""When chords are struck, what sounds then, and how one bar differs from the next."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_charts import (
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
from halfstep.backing.chord_scales import chord_scales
from halfstep.backing.comping import chords_part
from halfstep.backing.voicings import open_colours
from halfstep.harmony.tones import chord_tones
from halfstep.meter import Meter
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart, Span, spans

BANDS = st.sampled_from(STYLES)
EVERY_STYLE = pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
EIGHTH = Fraction(1, 2)

Struck = dict[Fraction, tuple[int, ...]]
"""The notes that are struck at each onset, lowest first."""


def chord_notes(
    chart: Chart, style: Style = SWINGING, seed: int = 0, choruses: int = 1
) -> tuple[PlayedNote, ...]:
    bars, chords = bar_layouts(chart, choruses), chord_timeline(chart, choruses)
    scales = chord_scales(chart, chords)
    random = Random(f"chords {seed}")
    return chords_part(bars, chords, scales, style=style.chords, random=random).notes


def struck(notes: tuple[PlayedNote, ...]) -> Struck:
    onsets = sorted({note.onset for note in notes})
    return {o: tuple(n.midi for n in notes if n.onset == o) for o in onsets}


def sounding(chart_spans: tuple[Span, ...], onset: Fraction) -> list[Span]:
    """The chord at an onset, and the one that begins an eighth later or sooner."""
    (span,) = [s for s in chart_spans if s.start <= onset < s.end]
    coming = [s for s in chart_spans if span.end == s.start and s.start - onset <= EIGHTH]
    return [*coming, span]


def fits(midi: tuple[int, ...], span: Span, scale: frozenset[int]) -> bool:
    """True where all notes are the chord's, or colours it leaves open."""
    tones = {t.name.pitch_class for t in chord_tones(span.symbol)}
    colours = open_colours(span.symbol, scale)
    tones |= {(span.symbol.root + degree.interval).pitch_class for degree in colours}
    if span.symbol.alt:
        tones |= {(span.symbol.root.pitch_class + step) % 12 for step in (1, 3, 6, 8)}
    return not span.symbol.silent and {note % 12 for note in midi} <= tones


def test_the_band_has_these_chords() -> None:
    assert make_backing(SWING, style=SWINGING, seed=2)[2].notes == chord_notes(SWING, seed=2)


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 3))
def test_every_note_fits_the_chord_that_sounds_or_comes(
    chart: Chart, style: Style, seed: int
) -> None:
    notes = chord_notes(chart, style, seed)
    timeline = chord_timeline(chart)
    scales = dict(zip(timeline.spans, chord_scales(chart, timeline), strict=True))
    for onset, midi in struck(notes).items():
        assert any(fits(midi, span, scales[span]) for span in sounding(spans(chart), onset))
        assert 48 <= midi[0] <= midi[-1] <= 72


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 3))
def test_every_chord_is_heard_within_a_beat_or_an_eighth_early(
    chart: Chart, style: Style, seed: int
) -> None:
    onsets = set(struck(chord_notes(chart, style, seed)))
    for span in spans(chart):
        if not span.symbol.silent:
            until = min(span.end, span.start + 1)
            assert any(span.start - EIGHTH <= onset < until for onset in onsets)


@pytest.mark.slow
@given(charts(), BANDS)
def test_silence_is_silent(chart: Chart, style: Style) -> None:
    """But for the coming chord, which may be struck an eighth early."""
    silent = [span for span in spans(chart) if span.symbol.silent]
    for note in chord_notes(chart, style):
        assert not any(span.start <= note.onset < span.end - EIGHTH for span in silent)


@pytest.mark.sampled
@EVERY_STYLE
def test_no_place_of_the_bar_is_struck_in_three_bars_running(style: Style) -> None:
    for chart in (in_keys(SWING)[STYLES.index(style)], VAMP):
        onsets = set(struck(chord_notes(chart, style, choruses=4)))
        bars = [
            {o - 4 * n for o in onsets if 4 * n <= o < 4 * n + 4}
            for n in range(4 * len(chart.bars))
        ]
        for first, second, third in zip(bars, bars[1:], bars[2:], strict=False):
            assert not first & second & third


@pytest.mark.sampled
@EVERY_STYLE
def test_no_bar_is_the_one_before(style: Style) -> None:
    for chart in (SWING, VAMP):
        hits = struck(chord_notes(chart, style, choruses=4))
        bars = [
            [(o - 4 * n, midi) for o, midi in hits.items() if 4 * n <= o < 4 * n + 4]
            for n in range(4 * len(chart.bars))
        ]
        assert all(one != other for one, other in pairwise(bars))


@pytest.mark.slow
@EVERY_STYLE
def test_a_symbol_that_returns_has_another_voicing(style: Style) -> None:
    for chart in (in_keys(SWING)[STYLES.index(style)], MINOR):
        hits = struck(chord_notes(chart, style, choruses=4))
        timeline = chord_timeline(chart, 4)
        for chorus in range(4):
            stretch = timeline.within(chorus * chart.beats, (chorus + 1) * chart.beats)
            for symbol in {span.symbol for span in stretch}:
                places = [span for span in stretch if span.symbol == symbol]
                laid = {
                    hits[o]
                    for span in places
                    for o in hits
                    if span.start - EIGHTH <= o < span.end - EIGHTH
                }
                assert len(places) == 1 or len(laid) >= 2


@pytest.mark.slow
@pytest.mark.sampled
@EVERY_STYLE
def test_the_top_line_sings(style: Style) -> None:
    """Mostly steps, nothing wider than a fifth, no note more than twice; our own bounds."""
    for chart in (in_keys(SWING)[STYLES.index(style)], MINOR):
        laid = list(struck(chord_notes(chart, style, choruses=4)).values())
        voicings = [laid[0], *(b for a, b in pairwise(laid) if a != b)]
        tops = [notes[-1] for notes in voicings]
        leaps = [abs(a - b) for a, b in pairwise(tops)]
        assert max(leaps) <= 7
        assert sum(leap <= 2 for leap in leaps) > 0.6 * len(leaps)
        assert not any(a == b == c for a, b, c in zip(tops, tops[1:], tops[2:], strict=False))


@pytest.mark.sampled
@EVERY_STYLE
@pytest.mark.parametrize("meter", METERS[::4], ids=str)
def test_no_chorus_is_the_one_before_even_on_one_chord(style: Style, meter: Meter) -> None:
    chart = chart_of("Dm7 | Dm7", meter)
    choruses = sorted(blocks_of(chart, chord_notes(chart, style, choruses=4)))
    assert all(one != other for one, other in pairwise(choruses))


@pytest.mark.sampled
@EVERY_STYLE
def test_strokes_are_not_one_as_hard_as_the_next(style: Style) -> None:
    """A standard deviation of 4 to 8; common practice, no source."""
    velocities = [note.velocity for note in chord_notes(SWING, style, choruses=4)]
    assert 3.5 <= pstdev(velocities) <= 8


@pytest.mark.slow
def test_styles_have_a_density_of_their_own() -> None:
    """A ballad is held, funk is busy; common practice, no source."""
    density = {
        style.name: len(struck(chord_notes(VAMP, style, choruses=4))) / 32 for style in STYLES
    }
    assert density["ballad"] < density["swing"] < density["shuffle"]
    assert density["funk"] > 2.5


def test_some_chords_come_an_eighth_early() -> None:
    onsets = struck(chord_notes(SWING, style_named("bossa-nova"), choruses=4))
    early = [o for o in onsets if o % 4 == Fraction(7, 2)]
    assert len(early) > 4
