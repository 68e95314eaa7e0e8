"""What is heard before beat 0, and what may be played to without a band."""

from __future__ import annotations

from fractions import Fraction

import pytest
from invented_charts import METERS, SWING, WALTZ, chart_of

from halfstep.backing import click_part, count_in, count_in_bars, drone_part
from halfstep.harmony.tones import chord_tones
from halfstep.meter import Meter, parse_meter
from halfstep.played import PlayedPart
from halfstep.progression.chart import spans
from halfstep.progression.key import parse_key

STICK, BLOCK_KEY = 37, 76


def sticks(part: PlayedPart) -> list[tuple[Fraction, int]]:
    return [(note.onset, note.velocity) for note in part.notes if note.midi == STICK]


@pytest.mark.parametrize("meter", METERS, ids=str)
def test_two_bars_are_counted_by_groups_and_then_by_pulses(meter: Meter) -> None:
    """One and three, then all four."""
    one, two = count_in(meter), count_in(meter, bars=2)
    assert [s for s in sticks(two) if s[0] >= -meter.bar_beats] == sticks(one)
    first = [place + 2 * meter.bar_beats for place, _ in sticks(two) if place < -meter.bar_beats]
    assert first[0] == 0
    assert set(first) <= {place + meter.bar_beats for place, _ in sticks(one)} | set(
        meter.strong_beats
    )
    assert len(first) <= len(sticks(one))


def test_fours_and_sevens_are_counted_by_their_groups() -> None:
    """Common practice, no source."""
    first_bar = [place + 8 for place, _ in sticks(count_in(Meter(), bars=2)) if place < -4]
    assert first_bar == [0, 2]
    seven = sticks(count_in(parse_meter("7/8 2+2+3")))
    heavy = [(place + Fraction(7, 2)) * 2 for place, velocity in seven if velocity > 100]
    assert heavy == [0, 2, 4]
    assert len(seven) == 7


def test_pulses_too_fast_to_tell_apart_are_clicked_by_groups() -> None:
    """Eighths of 7/8 at 200 quarters a minute come every 150 ms; quarters at 300 every 200."""
    assert len(sticks(count_in(parse_meter("7/8 2+2+3"), tempo_bpm=200))) == 3
    assert len(sticks(count_in(Meter(), tempo_bpm=300))) == 4


@pytest.mark.parametrize(
    ("meter", "tempo_bpm", "pickup", "bars"),
    [
        ("4/4", 120, 0, 1), ("4/4", 159, 0, 1), ("4/4", 200, 0, 2), ("4/4", 300, 0, 2),
        ("3/4", 110, 0, 1), ("3/4", 180, 0, 2), ("5/4", 180, 0, 1), ("5/4", 300, 0, 2),
        ("6/8", 70, 0, 1), ("6/8", 140, 0, 2), ("2/2", 250, 0, 2),
        ("4/4", 120, 1, 1), ("4/4", 120, "3/2", 2), ("4/4", 60, 3, 2), ("6/8", 60, "3/2", 1),
    ],
)  # fmt: skip
def test_a_short_bar_or_a_long_pickup_asks_for_two(
    meter: str, tempo_bpm: float, pickup: str | int, bars: int
) -> None:
    """A bar below a second and a half, a pickup above a pulse; bounds of our own."""
    read = parse_meter(meter)
    assert count_in_bars(read, tempo_bpm=tempo_bpm, pickup_beats=Fraction(pickup)) == bars


def test_clicks_go_on_softer_under_the_pickup_and_lead_to_it() -> None:
    plain = dict(sticks(count_in(Meter(), bars=2)))
    led = dict(sticks(count_in(Meter(), bars=2, pickup_beats=Fraction(3, 2))))
    assert plain.keys() == led.keys()
    for place, velocity in led.items():
        assert velocity == plain[place] - (24 if place >= Fraction(-3, 2) else 0)


def test_a_count_ends_where_an_intro_begins() -> None:
    moved = [place + 8 for place, _ in sticks(count_in(Meter(), end=Fraction(-8)))]
    assert moved == [place for place, _ in sticks(count_in(Meter()))]


@pytest.mark.parametrize("chart", [SWING, WALTZ], ids=["four", "three"])
def test_a_click_alone_goes_on_for_the_block(chart: object) -> None:
    part = click_part(chart, 2)  # type: ignore[arg-type]
    assert (part.name, part.percussion) == ("click", True)
    beats = 2 * (SWING if chart is SWING else WALTZ).beats
    assert [place for place, _ in sticks(part)] == list(range(int(beats)))
    bar = (SWING if chart is SWING else WALTZ).meter.bar_beats
    firsts = [place for place, velocity in sticks(part) if velocity == 116]
    assert firsts == [n * bar for n in range(int(beats / bar))]
    assert [note.onset for note in part.notes if note.midi == BLOCK_KEY] == firsts


def test_a_drone_holds_the_root_and_the_fifth_of_each_chord() -> None:
    part = drone_part(SWING)
    assert not part.percussion
    for span in spans(SWING):
        sounding = {n.midi % 12 for n in part.notes if n.onset <= span.start < n.onset + n.beats}
        fifths = {t.name.pitch_class for t in chord_tones(span.symbol) if t.degree.number == 5}
        root = span.symbol.root.pitch_class
        assert root in sounding
        plain = fifths <= {(root + 7) % 12} and not span.symbol.alt
        assert sounding == ({root, (root + 7) % 12} if plain else {root})


def test_chords_on_one_root_are_one_tone_and_silence_has_none() -> None:
    part = drone_part(chart_of("C7 | Cm7 | N.C. | F7b5", Meter()), 2)
    lengths = sorted({(note.onset, note.beats) for note in part.notes})
    assert lengths == [(0, 8), (12, 4), (16, 8), (28, 4)]
    assert max(note.midi for note in part.notes) <= 50 + 11 + 12


def test_a_drone_may_stay_at_home() -> None:
    """In the key that the chart states, or the one that explains it best."""
    part = drone_part(SWING, 2, at_home=True)
    assert {note.midi % 12 for note in part.notes} == {5, 0}
    assert [note.onset for note in part.notes] == [0, 0, 48, 48]
    from dataclasses import replace

    stated = drone_part(replace(SWING, key=parse_key("D minor")), at_home=True)
    assert {note.midi % 12 for note in stated.notes} == {2, 9}
