"""Which bars carry one figure on: made lines with it and without, and our own etudes.

That a figure is moved, turned over and drawn out is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.played_takes import line_of
from halfstep.feedback.motif_bars import BarNote, MotifBars, motif_bars

F = Fraction
NOW = F(0)
FIGURE = ((F(0), 60), (F(1), 64), (F(3, 2), 62), (F(2), 67))


def line(*bars: tuple[tuple[Fraction, int], ...]) -> list[BarNote]:
    """Notes by bars of four quarters, from their places in the bar."""
    return [
        BarNote(number, 4 * (number - 1) + place, midi)
        for number, bar in enumerate(bars, 1)
        for place, midi in bar
    ]


def varied(
    *, up: int = 0, later: Fraction = NOW, turn: int = 1
) -> tuple[tuple[Fraction, int], ...]:
    """The figure moved in pitch and time, or upside down."""
    return tuple((place + later, 60 + turn * (midi - 60) + up) for place, midi in FIGURE)


@pytest.mark.parametrize(
    "second",
    [
        varied(), varied(up=5), varied(later=F(1, 2)), varied(turn=-1),
        (*varied(up=2), (F(3), 50)), ((F(0), 50), *varied(later=F(1))),
        ((F(0), 60), (F(1), 65), (F(3, 2), 63), (F(2), 66)),
    ],
    ids=["again", "higher", "later", "upside down", "drawn out", "with a start", "adapted"],
)  # fmt: skip
def test_a_figure_is_known_when_it_is_varied(second: tuple[tuple[Fraction, int], ...]) -> None:
    assert motif_bars(line(FIGURE, second)) == MotifBars(2, 2)


@pytest.mark.parametrize(
    "second",
    [
        ((F(0), 60), (F(1), 64), (F(2), 62), (F(3), 67)),
        ((F(0), 60), (F(1), 64), (F(3, 2), 67), (F(2), 72)),
        ((F(0), 60), (F(1), 64)),
    ],
    ids=["another rhythm", "another shape", "too little of it"],
)
def test_what_is_another_figure_is_none(second: tuple[tuple[Fraction, int], ...]) -> None:
    assert motif_bars(line(FIGURE, second)) == MotifBars(0, 2)


def test_a_bar_that_is_silent_counts_neither_way() -> None:
    assert motif_bars(line(FIGURE, (), (), FIGURE)) == MotifBars(2, 2)


def test_scales_up_and_down_are_no_figure() -> None:
    up = tuple((F(n, 2), 60 + n) for n in range(8))
    down = tuple((F(n, 2), 68 - n) for n in range(8))
    assert motif_bars(line(up, down)).carried == 0


def test_an_even_figure_is_told_again_by_its_steps_and_not_by_its_rhythm() -> None:
    turns = tuple((F(n, 2), midi) for n, midi in enumerate((60, 64, 62, 65)))
    skips = tuple((F(n, 2), midi) for n, midi in enumerate((60, 67, 62, 74)))
    assert motif_bars(line(turns, skips)).carried == 0
    assert motif_bars(line(turns, turns)).carried == 2


def test_nothing_is_played() -> None:
    assert motif_bars([]) == MotifBars(0, 0)


places = st.fractions(0, 3, max_denominator=4)
bars = st.lists(
    st.lists(st.tuples(places, st.integers(55, 79)), max_size=6).map(
        lambda notes: tuple(sorted(dict(notes).items()))
    ),
    max_size=6,
)


@pytest.mark.slow
@given(bars, st.integers(-12, 12))
def test_a_line_has_as_many_in_any_key(
    made: list[tuple[tuple[Fraction, int], ...]], up: int
) -> None:
    notes = line(*made)
    carried, sounding = motif_bars(notes)
    assert 0 <= carried <= sounding == sum(map(bool, made))
    assert motif_bars([n._replace(midi=n.midi + up) for n in notes]) == (carried, sounding)


@pytest.mark.parametrize("chart", ["evening class", "twelve bars"])
def test_our_motif_carries_its_figure_on_and_our_chorus_far_less(chart: str) -> None:
    """Over the course's progressions: motif .62 to 1, most often 1; chorus .20 to .50."""
    shares = {}
    for step in ("motif", "chorus"):
        notes = [n for n in line_of(step, chart)[1] if n.pitch]
        made = [BarNote(int(n.onset // 4), n.onset, n.pitch.midi) for n in notes if n.pitch]
        shares[step] = motif_bars(made)
    assert shares["motif"].carried >= 0.6 * shares["motif"].sounding
    assert shares["chorus"].carried <= 0.55 * shares["chorus"].sounding
