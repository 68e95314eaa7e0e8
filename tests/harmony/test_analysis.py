"""A chart explained: every chord in its place, and what changes on the way round."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.harmony.analysis import analyse
from halfstep.harmony.changes import Change, change_between
from halfstep.harmony.scale_choice import diatonic_label
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.pitch import Interval, Name, name_at
from halfstep.progression.chart import Bar, Chart, spans
from halfstep.progression.key import Key, key_of
from name_intervals import ascending
from strategies import charts
from typed_charts import read_chart_text

C = Name(0)

IN_C = {
    "| Dm7 | G7 | Cmaj7 | % |": False,
    "| C7 | F7 | C7 | % | F7 | % | C7 | A7 | Dm7 | G7 | C7 | G7 |": False,
    "| Cmaj7 A7 | Dm7 G7 | Em7b5 A7b9 | Dm7 G7alt | Cmaj7 |": False,
    "| Cmaj7 | % | Fm7 | Bb7 | Ebmaj7 | % | Dm7 | G7#5 | Cmaj7 | N.C. |": False,
    "| Dm7b5 | G7b9 | Cm6 | % |": True,
    "| Cm7 | Fm7 Bb7 | Ebmaj7 Abmaj7 | Dm7b5 G7 | Cm7 | Bdim7 |": True,
}
"""Invented charts, and whether they are in minor."""


@pytest.mark.parametrize(("text", "minor"), IN_C.items())
def test_an_analysis_moves_with_its_chart_through_twelve_keys(text: str, minor: bool) -> None:
    chart = read_chart_text(text)
    here = analyse(chart)
    assert here.home == Key(C, minor)
    for fifths in range(-4, 3) if not minor else range(-1, 7):
        up = ascending(C, name_at(fifths))
        there = analyse(chart.moved(up))
        assert there.home == Key(C + up, minor)
        for one, two in zip(here.chords, there.chords, strict=True):
            assert two.span == one.span._replace(symbol=one.span.symbol.moved(up))
            assert two.key == Key(one.key.tonic + up, one.key.minor)
            assert two.numeral == one.numeral
            assert [c.scale.mode for c in two.choices] == [c.scale.mode for c in one.choices]
            assert [c.reason.text for c in two.choices] == [c.reason.text for c in one.choices]
            if one.choices:
                assert two.scale.names == tuple(name + up for name in one.scale.names)
        assert [_sizes(change) for change in there.changes] == [
            _sizes(change) for change in here.changes
        ]


def _sizes(change: Change | None) -> tuple[int, ...]:
    if change is None:
        return ()
    moved = (change.renamed, change.half_steps, change.steps)
    return len(change.stays), *map(len, moved), len(change.new), len(change.leaves)


@pytest.mark.slow
@settings(max_examples=40)
@given(charts(max_bars=6))
def test_the_chords_of_an_analysis_add_up_to_the_form(chart: Chart) -> None:
    found = analyse(chart)
    assert tuple(here.span for here in found.chords) == spans(chart)
    assert sum((here.span.beats for here in found.chords), Fraction(0)) == chart.beats
    assert len(found.changes) == len(found.chords)


@pytest.mark.slow
@settings(max_examples=40)
@given(charts(max_bars=6))
def test_a_stated_key_is_the_home_key(chart: Chart) -> None:
    found = analyse(chart)
    assert chart.key is None or found.home == chart.key


@pytest.mark.slow
@settings(max_examples=40)
@given(charts(max_bars=6), st.sampled_from(list(Level)))
def test_every_change_lies_between_the_first_choices_of_neighbours(
    chart: Chart, level: Level
) -> None:
    found = analyse(chart, level=level)
    for index, here in enumerate(found.chords):
        change = found.changing_into(index)
        before = found.chords[index - 1]
        assert change == change_between(before.scale, here.scale)


@pytest.mark.slow
@settings(max_examples=40)
@given(charts(max_bars=6))
def test_the_core_of_a_chord_lies_in_its_scale(chart: Chart) -> None:
    for here in analyse(chart).chords:
        assert {tone.name.pitch_class for tone in here.core} <= here.scale.pitch_classes
        assert all(tone.degree.number <= 7 for tone in here.core)
        assert set(here.core) <= set(here.tones)


def test_the_last_chord_changes_into_the_first() -> None:
    found = analyse(read_chart_text("| C7 | F7 | Bb7 | % |"))
    round_again = found.changing_into(0)
    assert round_again is not None
    assert round_again == change_between(found.chords[-1].scale, found.chords[0].scale)
    into_f = found.changing_into(1)
    assert into_f is not None
    assert into_f.instruction == "only the E becomes E♭"


def test_one_chord_changes_into_itself() -> None:
    found = analyse(read_chart_text("| Dm7 | % | Dm7 | % |"))
    assert len(found.chords) == 1
    assert found.chords[0].span.beats == 16
    change = found.changing_into(0)
    assert change is not None
    assert change.instruction == "keep every note"


def test_equal_neighbours_are_one_chord_across_the_bar_line() -> None:
    found = analyse(read_chart_text("| Dm7 G7 | G7 | G7 Cmaj7 | Cmaj7 |"))
    assert [(str(h.span.symbol), h.span.start, h.span.beats) for h in found.chords] == [
        ("Dm7", 0, 2),
        ("G7", 2, 8),
        ("Cmaj7", 10, 6),
    ]


def test_silence_has_no_scale_and_no_change_on_either_side() -> None:
    found = analyse(read_chart_text("| Cmaj7 | N.C. | G7 | Cmaj7 |"))
    silent = found.chords[1]
    assert silent.silent
    assert (silent.tones, silent.choices, silent.numeral) == ((), (), "N.C.")
    assert found.changing_into(1) is None
    assert found.changing_into(2) is None
    assert found.changing_into(3) is not None
    assert found.home.ascii == "C"


def test_a_dominant_before_silence_is_at_home_in_its_key() -> None:
    found = analyse(read_chart_text("| Dm7 | G7 | N.C. | Cmaj7 |"))
    assert found.chords[1].scale.mode.label == "Mixolydian"
    assert found.chords[1].choices[0].reason.sentence() == "a dominant at home in C major"


@pytest.mark.parametrize("symbols", [[], ["N.C."]])
def test_a_chart_without_chords_is_refused_in_words(symbols: list[str]) -> None:
    bars = read_chart_text("| N.C. | C |").bars
    empty = Bar(1, Meter(), Meter().bar_beats, (), 1)
    chart = Chart("Evening Class", (bars[0],) if symbols else (empty,))
    with pytest.raises(ReadError, match="the chart has no chords; write bars such as"):
        analyse(chart)


def test_an_altered_ninth_leaves_the_natural_fifth_out_of_the_arpeggio() -> None:
    here = analyse(read_chart_text("| Dm7 | G7#9 | Cmaj7 | % |")).chords[1]
    assert "D" in [tone.name.ascii for tone in here.tones]
    assert [tone.name.ascii for tone in here.core] == ["G", "B", "F"]


@pytest.mark.slow
@settings(max_examples=40)
@given(charts(max_bars=6))
def test_a_scale_said_to_be_the_keys_has_the_keys_notes(chart: Chart) -> None:
    for here in analyse(chart).chords:
        first = here.choices[0]
        if first.reason.text.startswith("it is the scale of"):
            signature = key_of(here.key.fifths).tonic.pitch_class
            ionian = {(signature + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)}
            assert first.scale.pitch_classes == ionian
            assert first.scale.mode.label == diatonic_label(first.reason.place)


@pytest.mark.parametrize("text", ["| G7 | Cmaj7 |", "| Ab7 | Dbmaj7 |"])
def test_a_turn_between_spellings_keeps_the_sound(text: str) -> None:
    chart = read_chart_text(text)
    turned = chart.moved(Interval(1, 0))
    for one, two in zip(analyse(chart).chords, analyse(turned).chords, strict=True):
        assert one.scale.pitch_classes == two.scale.pitch_classes
