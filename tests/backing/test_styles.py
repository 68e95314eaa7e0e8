"""A style is a row: what one player does in it can be another row's as well."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from statistics import fmean

import pytest
from invented_charts import EVEN, SIX_EIGHT, SWING, SWINGING, chart_of

from halfstep.backing import STYLES, Style, make_backing, style_for
from halfstep.meter import Feel, Meter, parse_meter


def test_names_are_for_good_and_each_stands_once() -> None:
    assert [style.name for style in STYLES] == [
        "swing", "ballad", "shuffle", "bossa-nova", "straight", "funk", "swung-funk",
        "jazz-waltz", "six-eight", "five", "seven", "two-beat",
    ]  # fmt: skip
    assert len({style.title for style in STYLES}) == len(STYLES)


@pytest.mark.parametrize("feel", Feel)
def test_every_feel_has_a_style_of_its_name(feel: Feel) -> None:
    assert style_for(feel).feel is feel
    assert style_for(feel).name == feel.value


@pytest.mark.parametrize(
    ("feel", "meter", "name"),
    [
        (Feel.SWING, "4/4", "swing"), (Feel.SWING, "3/4", "jazz-waltz"),
        (Feel.SWING, "5/4", "five"), (Feel.SWING, "3/2", "swing"),
        (Feel.SWING, "7/4", "swing"), (Feel.SWING, "12/8", "swing"),
        (Feel.STRAIGHT, "4/4", "straight"), (Feel.STRAIGHT, "3/4", "straight"),
        (Feel.STRAIGHT, "6/8", "six-eight"), (Feel.STRAIGHT, "9/8", "six-eight"),
        (Feel.STRAIGHT, "7/8", "seven"), (Feel.STRAIGHT, "7/4", "seven"),
        (Feel.STRAIGHT, "5/4", "straight"), (Feel.STRAIGHT, "3/8", "straight"),
    ],
)  # fmt: skip
def test_a_metre_may_have_a_style_of_its_own(feel: Feel, meter: str, name: str) -> None:
    """Common practice, no source. The feel stays what it was."""
    style = style_for(feel, parse_meter(meter))
    assert (style.name, style.feel) == (name, feel)


@pytest.mark.parametrize(
    ("style", "programs"), [(SWINGING, (32, 0)), (EVEN, (33, 4))], ids=lambda row: str(row)[:5]
)
def test_a_style_has_its_own_instruments(style: Style, programs: tuple[int, int]) -> None:
    """General MIDI, counted from 0: acoustic and fingered bass, grand and electric piano."""
    _, bass, chords = make_backing(SWING, style=style)
    assert (bass.program, chords.program) == programs


@pytest.mark.slow
def test_styles_have_their_own_loudness_of_chords() -> None:
    means = {
        style.name: fmean(n.velocity for n in make_backing(SWING, style=style)[2].notes)
        for style in STYLES
    }
    assert all(abs(means[style.name] - style.chords.velocity) <= 2 for style in STYLES)
    assert min(means, key=lambda name: means[name]) == "ballad"


@pytest.mark.parametrize(("style", "cymbal"), [(SWINGING, 51), (EVEN, 42)])
def test_metres_in_eighths_have_the_cymbal_of_their_style(style: Style, cymbal: int) -> None:
    """General MIDI 51 is the ride cymbal, 42 the closed hi-hat."""
    drums = make_backing(SIX_EIGHT, style=style)[0]
    before_fill = Fraction(1, 2) * 6 * (len(SIX_EIGHT.form) - 1)
    assert [n.onset for n in drums.notes if n.midi == cymbal and n.onset < before_fill] == [
        Fraction(n, 2) for n in range(6 * (len(SIX_EIGHT.form) - 1))
    ]
    assert not [n for n in drums.notes if n.midi in {42, 51} and n.midi != cymbal]


def test_players_of_two_styles_play_together() -> None:
    mixed = replace(SWINGING, name="mixed", bass=EVEN.bass)
    swinging, even = (make_backing(SWING, style=style, seed=3) for style in (SWINGING, EVEN))
    assert make_backing(SWING, style=mixed, seed=3) == (swinging[0], even[1], swinging[2])


def test_a_new_row_needs_nothing_but_its_values() -> None:
    bells = replace(EVEN, name="bells", chords=replace(EVEN.chords, program=9, velocity=40))
    chords = make_backing(SWING, style=bells)[2]
    assert chords.program == 9
    assert 36 <= fmean(note.velocity for note in chords.notes) <= 44


def test_a_swinging_bass_in_a_compound_metre_has_the_pulses() -> None:
    chart = chart_of("Dm7 | G7", Meter(12, 8))
    walked = make_backing(chart, style=SWINGING)[1]
    onsets = {note.onset for note in walked.notes}
    assert {Fraction(3 * n, 2) for n in range(8)} <= onsets
    assert all(onset.denominator <= 2 for onset in onsets)
