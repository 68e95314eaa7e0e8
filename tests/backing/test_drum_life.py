"""Drums that live, by figures: common practice, no source, where none is named.

Bars are compared by their strokes, places and keys, not by how hard these are: two bars whose
velocities alone differ count as equal.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from statistics import fmean, pstdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_charts import METERS, SWING, WALTZ, chart_of, charts
from played_bars import BLOCK, drum_bars, drums_alone, strokes

from halfstep.backing import STYLES, Style, make_backing
from halfstep.meter import Meter, parse_meter
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart

SEEDS = st.integers(0, 99)
BANDS = st.sampled_from(STYLES)
BY_NAME = {style.name: style for style in STYLES}
SNARE, CRASH, RIDE, PEDAL_HAT = 38, 49, 51, 44
FIVE = chart_of("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 A7 | Cmaj7", Meter(5, 4))
SEVEN = chart_of("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 A7 | Cmaj7", parse_meter("7/8 2+2+3"))
PLAIN_CHARTS = (SWING, WALTZ, FIVE, SEVEN)

every_style = pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)


def cymbal_of(style: Style, chart: Chart) -> int:
    """What keeps time: the brushes tap it on the snare."""
    if style.name == "ballad" and chart.meter.unit == 4:
        return SNARE
    return style.drums.cymbal


@pytest.mark.slow
@given(charts(), BANDS, SEEDS)
@settings(max_examples=60)
def test_no_bar_equals_the_one_before_it_nor_over_the_seam(
    chart: Chart, style: Style, seed: int
) -> None:
    figures = [strokes(bar) for bar in drum_bars(chart, style, seed=seed)]
    assert all(one != other for one, other in pairwise([*figures, figures[0]]))


@pytest.mark.slow
@given(charts(), BANDS, SEEDS)
@settings(max_examples=60)
def test_no_two_choruses_of_a_block_are_equal(chart: Chart, style: Style, seed: int) -> None:
    figures = [strokes(bar) for bar in drum_bars(chart, style, seed=seed)]
    form = len(chart.form)
    choruses = [tuple(figures[n * form : (n + 1) * form]) for n in range(BLOCK)]
    assert len(set(choruses)) == BLOCK


@pytest.mark.sampled
@pytest.mark.parametrize("meter", METERS, ids=str)
@pytest.mark.parametrize("symbol", ["C7", "N.C."])
@every_style
def test_a_chart_of_one_bar_is_played_in_four_ways(style: Style, symbol: str, meter: Meter) -> None:
    """In silence too, where time alone goes on: then the foot on the hi-hat makes them differ."""
    for tempo_bpm in (40, 300):
        bars = drum_bars(chart_of(symbol, meter), style, tempo_bpm=tempo_bpm)
        assert len({strokes(bar) for bar in bars}) == BLOCK


@pytest.mark.slow
@every_style
def test_velocities_of_quarters_and_of_all_time_spread_by_four_to_eight(style: Style) -> None:
    for chart in PLAIN_CHARTS:
        for seed in range(3):
            time = list(time_strokes(chart, style, seed))
            on_beat = [note.velocity for note in time if counted(note.onset, chart)]
            assert 4 <= pstdev(on_beat) <= 8
            if cymbal_of(style, chart) != SNARE:  # of the brushes other taps are softer
                assert 4 <= pstdev(note.velocity for note in time) <= 8


def time_strokes(chart: Chart, style: Style, seed: int) -> Iterator[PlayedNote]:
    """The strokes on the cymbal that keeps time."""
    key = cymbal_of(style, chart)
    for bar in drum_bars(chart, style, seed=seed):
        yield from (note for note in bar if note.midi == key)


def counted(onset: Fraction, chart: Chart) -> bool:
    """On a quarter, or at the start of a group where the metre is in eighths."""
    return onset.denominator == 1 if chart.meter.unit == 4 else onset in chart.meter.strong_beats


@pytest.mark.slow
@given(st.sampled_from(PLAIN_CHARTS), BANDS, SEEDS)
@settings(max_examples=20)
def test_what_stands_between_the_beats_is_softer_than_the_beat_before(
    chart: Chart, style: Style, seed: int
) -> None:
    key = cymbal_of(style, chart)
    if key == SNARE:
        return
    last = 128
    for bar in drum_bars(chart, style, seed=seed):
        for note in bar:
            if note.midi == key and counted(note.onset, chart):
                last = note.velocity
            elif note.midi == key:
                assert note.velocity <= last - 4


@pytest.mark.slow
@given(st.sampled_from(PLAIN_CHARTS), st.sampled_from(("swing", "jazz-waltz")), SEEDS)
@settings(max_examples=20)
def test_the_snare_answers_in_no_place_three_bars_running(
    chart: Chart, name: str, seed: int
) -> None:
    bars = drum_bars(chart, BY_NAME[name], seed=seed)
    places = [{note.onset for note in bar if note.midi == SNARE} for bar in bars]
    for one, two, three in zip(
        places, places[1:] + places[:1], places[2:] + places[:2], strict=True
    ):
        assert not one & two & three


def sectioned(chart: Chart, *starts: int) -> Chart:
    """The chart with a letter at some bars."""
    bars = [b._replace(section="ABCDE"[starts.index(b.number)] if b.number in starts else "")
            for b in chart.bars]  # fmt: skip
    return replace(chart, bars=tuple(bars))


@pytest.mark.sampled
@every_style
def test_a_section_is_led_into_and_begun_with_a_cymbal(style: Style) -> None:
    """A section of four bars or more; four bars in, a lighter fill and no cymbal."""
    chart = sectioned(SWING, 1, 9)
    for seed in range(4):
        bars = drum_bars(chart, style, seed=seed)
        crashes = [n for n, bar in enumerate(bars) if any(note.midi == CRASH for note in bar)]
        assert crashes == [n for n in range(48) if n % 12 in {0, 8}]
        high, *low = style.drums.fill
        for n, bar in enumerate(bars):
            last_beats = {note.midi for note in bar if note.onset >= 2}
            assert bool(last_beats & set(low)) == (n % 12 in {7, 11})
            assert high in last_beats or n % 12 != 3


@every_style
def test_a_short_form_has_its_cymbal_every_eight_bars(style: Style) -> None:
    chart = chart_of("Dm7 | G7 | Cmaj7 | A7", Meter())
    bars = drum_bars(chart, style, seed=1)
    crashes = [n for n, bar in enumerate(bars) if any(note.midi == CRASH for note in bar)]
    assert crashes == [0, 8]


@pytest.mark.sampled
@every_style
def test_fills_differ_from_chorus_to_chorus(style: Style) -> None:
    bars = drum_bars(SWING, style, seed=2)
    ends = [
        frozenset(s for s in strokes(bars[n]) if s[1] in style.drums.fill)
        for n in range(11, 48, 12)
    ]
    assert len(set(ends)) >= 2


@pytest.mark.slow
@given(BANDS, SEEDS)
@settings(max_examples=30)
def test_silence_has_softer_time_and_nothing_else(style: Style, seed: int) -> None:
    chart = chart_of("C7 | N.C. | C7 | N.C. | C7 | N.C. | C7 | N.C.", Meter())
    bars = drum_bars(chart, style, seed=seed)
    time = {SNARE if style.name == "ballad" else 0, 40, 42, 44, 46, 51}
    silent, sounding = bars[1::2], bars[::2]
    assert {note.midi for bar in silent for note in bar} <= time
    key = cymbal_of(style, chart)
    means = [
        fmean(n.velocity for b in some for n in b if n.midi == key) for some in (silent, sounding)
    ]
    assert means[0] < 0.9 * means[1]


@pytest.mark.sampled
@pytest.mark.parametrize("tempo_bpm", [40, 60, 120, 180, 220, 260, 300])
@every_style
def test_no_hand_goes_on_faster_than_nine_times_a_second(style: Style, tempo_bpm: int) -> None:
    """Three strokes of one cymbal take two tenths of a second at least."""
    for chart in PLAIN_CHARTS:
        onsets = [
            float(n * bar_beats(chart) + note.onset)
            for n, bar in enumerate(drum_bars(chart, style, choruses=1, tempo_bpm=tempo_bpm))
            for note in bar
            if note.midi == style.drums.cymbal
        ]
        for first, third in zip(onsets, onsets[2:], strict=False):
            assert (third - first) * 60 / tempo_bpm >= 0.1999


def bar_beats(chart: Chart) -> Fraction:
    return chart.meter.bar_beats


def test_above_260_the_ride_leaves_most_skip_notes_out() -> None:
    skips = [
        sum(n.midi == RIDE and n.onset.denominator == 2 for b in bars for n in b)
        for bars in (drum_bars(SWING, BY_NAME["swing"], tempo_bpm=t) for t in (200, 280))
    ]
    assert skips[0] > 2 * skips[1] > 0


def test_very_slow_even_eighths_are_filled_with_sixteenths() -> None:
    for tempo_bpm, finest in ((60, 4), (90, 2), (290, 1)):
        bars = drum_bars(SWING, BY_NAME["straight"], tempo_bpm=tempo_bpm, choruses=1)
        assert max(n.onset.denominator for n in bars[0] if n.midi == 42) == finest


@pytest.mark.slow
@given(charts(), BANDS, SEEDS, st.sampled_from((60, 280)))
@settings(max_examples=10)
def test_the_drums_of_these_tests_are_those_of_the_band(
    chart: Chart, style: Style, seed: int, tempo_bpm: int
) -> None:
    band = make_backing(chart, style=style, seed=seed, choruses=2, tempo_bpm=tempo_bpm)
    assert band[0] == drums_alone(chart, style, seed=seed, choruses=2, tempo_bpm=tempo_bpm)
