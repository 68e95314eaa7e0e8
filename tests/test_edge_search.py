"""Paths are those of the other search, drawn with the same random numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.edge_search import EdgeJoin, sample_joined_path
from halfstep.random_stream import RandomStream
from halfstep.search import Chain, Costs, Indices, NoPath, sample_path

PRICES = st.one_of(st.integers(0, 20).map(lambda n: n / 4), st.sampled_from((1000.0, np.inf)))
"""From 0 to 5 in quarters, as good as never, and never."""


def numbered(draw: st.DrawFn, count: int) -> Indices:
    """Numbers up to three, each up to the largest."""
    drawn = draw(st.lists(st.integers(0, 2), min_size=count, max_size=count))
    return np.unique(drawn, return_inverse=True)[1]


@st.composite
def joined(draw: st.DrawFn) -> tuple[list[Costs], list[EdgeJoin]]:
    """Costs of one to five places with one to five states each, and the joins between them."""
    sizes = draw(st.lists(st.integers(1, 5), min_size=1, max_size=5))
    ones = [np.array(draw(st.lists(PRICES, min_size=n, max_size=n))) for n in sizes]
    joins = []
    for before, size in zip([sizes[0], *sizes], sizes, strict=False):
        ends, starts = numbered(draw, before), numbered(draw, size)
        shape = int(ends.max()) + 1, int(starts.max()) + 1
        prices = draw(st.lists(PRICES, min_size=shape[0] * shape[1], max_size=shape[0] * shape[1]))
        joins.append(EdgeJoin(ends, starts, np.array(prices).reshape(shape)))
    return ones, joins


@given(joined(), st.integers(0, 99), st.sampled_from((0.35, 40.0)))
def test_the_same_paths_are_drawn(
    made: tuple[list[Costs], list[EdgeJoin]], seed: int, temperature: float
) -> None:
    ones, joins = made
    chain = Chain(ones, [join.table() for join in joins], [None] * len(ones))
    one, other = RandomStream(seed), RandomStream(seed)
    for _ in range(3):
        try:
            path = sample_path(chain, temperature=temperature, rng=one)
        except NoPath as blocked:
            with pytest.raises(NoPath, match=f"place {blocked.place}$"):
                sample_joined_path(ones, joins, temperature=temperature, rng=other)
        else:
            assert sample_joined_path(ones, joins, temperature=temperature, rng=other) == path
