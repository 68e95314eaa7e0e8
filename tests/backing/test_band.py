"""The three parts together: what holds for any chart in any metre."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_charts import METERS, SWING, SWINGING, WALTZ, chart_of, charts, pickup_before

from halfstep.backing import STYLES, Style, count_in, make_backing
from halfstep.backing.bar_layout import bar_layouts, chord_timeline
from halfstep.meter import Meter
from halfstep.progression.chart import Chart

BANDS = st.sampled_from(STYLES)


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 3))
def test_every_note_lies_within_the_chorus(chart: Chart, style: Style, seed: int) -> None:
    for part in make_backing(chart, style=style, seed=seed):
        for note in part.notes:
            assert 0 <= note.onset < chart.beats
            assert note.beats > 0
            assert note.onset + note.beats <= chart.beats or part.percussion
            assert 1 <= note.velocity <= 127


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 3))
def test_no_key_is_struck_again_while_it_sounds(chart: Chart, style: Style, seed: int) -> None:
    for part in make_backing(chart, style=style, seed=seed):
        ends: dict[int, Fraction] = {}
        for note in part.notes:
            assert note.onset >= ends.get(note.midi, Fraction(0))
            ends[note.midi] = note.onset + note.beats


@pytest.mark.slow
@given(charts(), BANDS)
def test_notes_come_in_order(chart: Chart, style: Style) -> None:
    for part in make_backing(chart, style=style):
        onsets = [note.onset for note in part.notes]
        assert onsets == sorted(onsets)


@pytest.mark.slow
@given(charts(), BANDS, st.integers(0, 9))
@settings(max_examples=25)
def test_the_same_seed_gives_the_same_notes(chart: Chart, style: Style, seed: int) -> None:
    assert make_backing(chart, style=style, seed=seed) == make_backing(
        chart, style=style, seed=seed
    )


def test_another_seed_gives_other_notes() -> None:
    assert make_backing(SWING, style=SWINGING, seed=1) != make_backing(
        SWING, style=SWINGING, seed=2
    )


def test_parts_are_called_drums_bass_and_chords() -> None:
    parts = make_backing(WALTZ, style=SWINGING)
    assert [part.name for part in parts] == ["drums", "bass", "chords"]
    assert [part.percussion for part in parts] == [True, False, False]


def test_a_pickup_changes_nothing() -> None:
    assert make_backing(pickup_before(SWING, Fraction(1)), style=SWINGING) == make_backing(
        SWING, style=SWINGING
    )


def test_a_silent_chart_has_only_time() -> None:
    drums, bass, chords = make_backing(chart_of("N.C. | N.C.", Meter()), style=SWINGING)
    assert not bass.notes
    assert not chords.notes
    assert {note.midi for note in drums.notes} <= {42, 44, 51}
    assert {int(note.onset) for note in drums.notes} == set(range(8))


@pytest.mark.parametrize("meter", METERS, ids=str)
def test_the_count_in_is_one_bar_of_pulses_with_the_loudest_first(meter: Meter) -> None:
    notes = count_in(meter).notes
    sticks = [note for note in notes if note.midi == 37]
    assert [note.onset for note in sticks] == [
        -meter.bar_beats + n * meter.pulse_beats for n in range(len(sticks))
    ]
    assert sticks[-1].onset == -meter.pulse_beats
    assert all(note.velocity < sticks[0].velocity for note in sticks[1:])
    assert notes[0].onset == -meter.bar_beats
    assert all(note.onset + note.beats <= 0 for note in notes)


def test_six_eight_is_counted_in_two() -> None:
    """Common practice, no source."""
    sticks = [note for note in count_in(Meter(6, 8)).notes if note.midi == 37]
    assert len(sticks) == 2


@pytest.mark.parametrize("chart", [SWING, WALTZ], ids=["four", "three"])
def test_a_block_lays_the_form_out_chorus_by_chorus(chart: Chart) -> None:
    """Each bar and each chord stands as many choruses later as its chorus says."""
    form, block = bar_layouts(chart), bar_layouts(chart, 3)
    assert [bar.index for bar in block] == [bar.index for bar in form] * 3
    for n, bar in enumerate(block):
        first = form[n % len(form)]
        assert bar.start == first.start + bar.chorus * chart.beats
        assert [g.start - bar.start for g in bar.groups] == [
            g.start - first.start for g in first.groups
        ]
    chords = chord_timeline(chart, 3)
    assert chords.after(chords.spans[-1]) == chords.spans[0]
    assert chords.at(2 * chart.beats).start == 2 * chart.beats
    assert chords.at(2 * chart.beats).symbol == chords.spans[0].symbol


def test_a_section_ends_before_the_next_letter_and_with_the_form() -> None:
    bars = tuple(bar._replace(section={1: "A", 3: "B"}.get(bar.number, "")) for bar in SWING.bars)
    laid = bar_layouts(replace(SWING, bars=bars), 2)
    form = len(bars)
    assert [n for n, bar in enumerate(laid) if bar.ends_section] == [
        1, form - 1, form + 1, 2 * form - 1,
    ]  # fmt: skip
    assert [bar.section_bar for bar in laid][:4] == [0, 1, 0, 1]
