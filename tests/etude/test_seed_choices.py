"""Which way a seed takes: the plainest for seed 0, and otherwise where a chord comes again."""

from __future__ import annotations

from collections import Counter
from itertools import product

import numpy as np
import pytest
from briefs_over_charts import brief_over
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.seed_choices import _product, manner, times_before, times_over_chart


@pytest.mark.parametrize(
    ("chart", "times"),
    [
        ("key: C\n| Dm7 | G7 | Dm7 | G7 |", [0, 0, 1, 1]),
        ("key: C\n| Dm7 | G7 | Dm7 | G7 | Dm7 | G7 |", [0, 0, 1, 1, 2, 2]),
        ("key: C\n| Dm7 G7 | Dm7 G7 |", [0, 0, 1, 1]),
        ("key: C\n| Dm7 G7 | G7 Dm7 |", [0, 0, 0, 0]),  # in another place of the bar
        ("key: C\n| Dm7 | Dm7 G7 |", [0, 0, 0]),  # of another length
        ("key: C\n| G7 | % | % | % |", [0, 0, 1, 1]),  # up and down are one time
        ("| N.C. | Dm7 | N.C. |", [0, 0, 1]),
    ],
)
def test_a_chord_is_counted_where_it_stood_before_in_the_same_place(
    chart: str, times: list[int]
) -> None:
    request = brief_over(chart)
    assert times_before(request.cut, request.palettes) == times


def test_a_chart_counts_each_of_its_chords_on_from_a_number_of_its_own() -> None:
    request = brief_over("key: C\n| Dm7 | G7 | Dm7 | G7 |")
    plain = times_before(request.cut, request.palettes)
    times = times_over_chart(request.cut, request.palettes, seed=1)
    assert [times[2] - times[0], times[3] - times[1]] == [1, 1]
    assert times == times_over_chart(request.cut, request.palettes, seed=2)
    assert times[:2] != plain[:2]
    assert times_over_chart(request.cut, request.palettes, seed=0) == plain


@given(st.integers(0, 50), st.integers(2, 9))
def test_seed_0_takes_the_plainest_way_of_what_is_new(place: int, count: int) -> None:
    assert manner(0, place, 0, count) == 0


@given(st.integers(0, 500), st.integers(0, 50), st.integers(0, 9), st.integers(1, 9))
def test_a_way_is_one_of_those_there_are(seed: int, place: int, times: int, count: int) -> None:
    assert 0 <= manner(seed, place, times, count) < count


@given(st.integers(0, 200), st.integers(0, 30), st.integers(2, 7))
def test_what_comes_again_takes_every_way_once_before_it_repeats_one(
    seed: int, place: int, count: int
) -> None:
    routes = [manner(seed, place, times, count) for times in range(count)]
    assert sorted(routes) == list(range(count))


@given(st.integers(0, 60), st.sampled_from([3, 5, 7]))
def test_neighbouring_seeds_take_different_ways_in_most_places(seed: int, count: int) -> None:
    """Within a block of as many seeds as there are ways they agree nowhere."""
    first = seed - seed % count
    for place in range(count):
        assert len({manner(first + n, place, 0, count) for n in range(count)}) == count


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_over_many_seeds_and_places_every_way_is_taken_alike(count: int) -> None:
    """Chi-square over 64 seeds and 48 places; 20 would be far beyond chance for four classes."""
    routes = Counter(manner(seed, place, 0, count) for seed, place in product(range(64), range(48)))
    expected = 64 * 48 / count
    statistic = sum((routes[n] - expected) ** 2 / expected for n in range(count))
    assert statistic < 20


def test_the_field_of_four_elements() -> None:
    """Each row and column of the products of what is not 0 has every such element once."""
    table = np.array([[_product(a, b) for b in range(4)] for a in range(4)])
    assert (table == table.T).all()
    assert not table[0].any()
    assert table[1].tolist() == [0, 1, 2, 3]
    assert all(sorted(row) == [1, 2, 3] for row in table[1:, 1:].tolist())
    for a, b, c in product(range(4), repeat=3):
        assert _product(a, b ^ c) == _product(a, b) ^ _product(a, c)
        assert _product(_product(a, b), c) == _product(a, _product(b, c))
