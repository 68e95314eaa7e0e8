"""What makes each style on the drums. Common practice, no source; keys by General MIDI."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from invented_charts import SWING, WALTZ, chart_of
from played_bars import Notes, drum_bars

from halfstep.backing import STYLES, Style, make_backing
from halfstep.meter import Meter, parse_meter
from halfstep.progression.chart import Chart

BY_NAME = {style.name: style for style in STYLES}
KICK, STICK, SNARE, SWIRL, HAT, FOOT, OPEN, RIDE = 36, 37, 38, 40, 42, 44, 46, 51
FIVE = chart_of("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 A7 | Cmaj7", Meter(5, 4))
HALF = Fraction(1, 2)


def bars_of(name: str, chart: Chart = SWING, seed: int = 1) -> list[Notes]:
    """The bars without fills: all but every fourth."""
    bars = drum_bars(chart, BY_NAME[name], seed=seed)
    return [bar for n, bar in enumerate(bars) if n % len(chart.form) % 4 != 3]


def at(bar: Notes, key: int, *, least: int = 1, most: int = 127) -> list[Fraction]:
    """Where a drum is struck so hard."""
    return [note.onset for note in bar if note.midi == key and least <= note.velocity <= most]


def test_the_ballad_is_on_the_brush_kit_with_swirls_one_into_another() -> None:
    """Each lasts some half second: on groups, beats or eighths by tempo."""
    assert make_backing(SWING, style=BY_NAME["ballad"])[0].program == 40
    for bar in bars_of("ballad"):
        assert at(bar, SWIRL) == [0, 1, 2, 3]
        assert {0, 1, 2, 3} <= set(at(bar, SNARE))
        assert max(note.velocity for note in bar if note.midi != 49) <= 90
    slow, quick = (drum_bars(SWING, BY_NAME["ballad"], tempo_bpm=t)[0] for t in (60, 200))
    assert at(slow, SWIRL) == [n * HALF for n in range(8)]
    assert at(quick, SWIRL) == [0, 2]


@pytest.mark.parametrize("style", [s for s in STYLES if s.name != "ballad"], ids=lambda s: s.name)
def test_all_others_are_on_the_standard_kit(style: object) -> None:
    assert make_backing(SWING, style=style)[0].program == 0  # type: ignore[arg-type]


def test_the_shuffle_rides_every_swung_eighth_over_a_backbeat_with_ghosts() -> None:
    bars = bars_of("shuffle")
    for bar in bars:
        assert at(bar, RIDE) == [n * HALF for n in range(8)]
        assert at(bar, SNARE, least=70) == [1, 3]
    assert sum(len(at(bar, SNARE, most=55)) for bar in bars) >= len(bars) / 2


def test_the_bossa_has_a_stick_over_two_bars_and_a_kick_that_leads_into_each_half() -> None:
    bars = drum_bars(SWING, BY_NAME["bossa-nova"], seed=1)
    for n in (0, 1, 4, 5, 8, 9, 12, 13):
        assert at(bars[n], STICK) == ([1, 5 * HALF] if n % 2 else [0, 3 * HALF, 3])
        assert {0, 2} <= set(at(bars[n], KICK))
    led = sum(3 * HALF in at(bar, KICK) for bar in bars)
    assert led >= len(bars) / 2


@pytest.mark.parametrize("name", ["funk", "swung-funk"])
def test_funk_has_a_backbeat_ghosts_on_sixteenths_and_an_open_hi_hat(name: str) -> None:
    bars = [b for s in range(3) for b in drum_bars(SWING, BY_NAME[name], seed=s, tempo_bpm=96)]
    plain = [bar for n, bar in enumerate(bars) if n % 4 != 3]
    assert all(at(bar, SNARE, least=80) == [1, 3] for bar in plain)
    assert all(at(bar, KICK)[0] == 0 for bar in plain)
    ghosts = [onset for bar in plain for onset in at(bar, SNARE, most=50)]
    assert len(ghosts) >= len(plain)
    assert sum(onset.denominator == 4 for onset in ghosts) >= len(ghosts) / 3
    hats = [len(at(bar, HAT)) + len(at(bar, OPEN)) for bar in plain]
    assert min(hats) >= 15
    opened = [bar for bar in plain if at(bar, OPEN)]
    assert 0.1 <= len(opened) / len(plain) <= 0.6
    for bar in opened:
        (onset,) = at(bar, OPEN)
        assert onset not in at(bar, HAT)


def test_funk_falls_back_to_eighths_where_sixteenths_are_too_fast() -> None:
    bars = drum_bars(SWING, BY_NAME["funk"], tempo_bpm=150)
    assert {note.onset.denominator for bar in bars for note in bar if note.midi == HAT} == {1, 2}


def test_two_beat_has_the_kick_on_one_and_three_and_the_foot_on_two_and_four() -> None:
    for bar in bars_of("two-beat"):
        assert {0, 2} == set(at(bar, KICK, least=55))
        assert at(bar, FOOT) == [1, 3]


def test_the_jazz_waltz_has_the_foot_on_two_and_at_times_on_three() -> None:
    feet = [at(bar, FOOT) for bar in bars_of("jazz-waltz", WALTZ)]
    assert {tuple(foot) for foot in feet} == {(1,), (1, 2)}
    assert sum(foot == [1] for foot in feet) > len(feet) / 2


def test_five_says_three_and_two() -> None:
    for bar in bars_of("five", FIVE):
        assert {0, 3} <= set(at(bar, KICK, least=40))
        assert at(bar, FOOT) == [1, 4]


def test_seven_goes_by_its_groups() -> None:
    chart = chart_of("Dm7 | G7 | Cmaj7 | A7", Meter(7, 4, (2, 2, 3)))
    for bar in bars_of("seven", chart):
        assert {0, 2, 4} <= set(at(bar, KICK, least=50))
        assert at(bar, SNARE, least=65) == [1, 3, 6]


def test_six_eight_answers_its_second_group() -> None:
    chart = chart_of("Dm | Am7/C | Bbmaj7 | A7", Meter(6, 8))
    for bar in bars_of("six-eight", chart):
        assert at(bar, HAT) == [n * HALF for n in range(6)]
        assert 0 in at(bar, KICK)
        assert at(bar, SNARE, least=55) == [3 * HALF]


def test_the_kick_of_swing_is_felt_more_than_heard() -> None:
    """Feathered: on the beats below 50, louder only where it answers or marks a section."""
    on_beat = [
        note.velocity
        for bar in bars_of("swing")
        for note in bar
        if note.midi == KICK and note.onset.denominator == 1
    ]
    assert len(on_beat) >= 3 * len(bars_of("swing"))
    assert sum(velocity < 50 for velocity in on_beat) >= 0.85 * len(on_beat)


@pytest.mark.slow
def test_an_open_hi_hat_sounds_until_it_is_closed() -> None:
    """For a beat at most."""
    for seed in range(4):
        notes = [n for n in band_drums("funk", seed) if n.midi in {HAT, FOOT, OPEN}]
        for note, following in pairwise(notes):
            if note.midi == OPEN:
                assert note.beats == min(1, following.onset - note.onset)


def band_drums(name: str, seed: int) -> Notes:
    """The strokes of a chorus, from beat 0."""
    return make_backing(SWING, style=BY_NAME[name], seed=seed, tempo_bpm=96)[0].notes


GROUPED = (
    "7/8 2+2+3", "7/8 3+2+2", "9/8 2+2+2+3", "10/8 3+2+2+3", "11/8 3+3+3+2", "5/8 2+3", "12/8",
    "7/4 2+2+3", "5/4 2+3", "2/2", "3/2",
)  # fmt: skip


@pytest.mark.sampled
@pytest.mark.parametrize("text", GROUPED)
@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_any_grouped_metre_is_played_by_its_groups(style: Style, text: str) -> None:
    """Each group begins with time and weight: kick, snare or stick; half way into a fill too."""
    meter = parse_meter(text)
    chart = chart_of("Dm7 | G7 | Cmaj7", meter)
    for bar in drum_bars(chart, style, seed=2)[:2]:
        for place in meter.strong_beats:
            keys = {note.midi for note in bar if note.onset == place}
            assert keys & {HAT, RIDE, SNARE, SWIRL, 49}
            if meter.unit > 4:
                assert keys & {KICK, STICK, SNARE}
