"""Paths are those of the other search, drawn with the same random numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.random_stream import RandomStream
from halfstep.search import Chain, Costs, NoPath, best_path, sample_path
from halfstep.sparse_search import SparseChain, SummedPaths

PRICES = st.one_of(st.integers(0, 20).map(lambda n: n / 4), st.just(1000.0), st.none())
"""From 0 to 5 in quarters, as good as never, and never."""


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[list[int]], list[Costs], list[Costs]]:
    """Entries, the costs of states, and what it costs to go to each entry from each state before.

    Of one to six places with one to five states each.
    """
    sizes = draw(st.lists(st.integers(1, 5), min_size=1, max_size=6))
    entries = [[0] * sizes[0]]
    for size in sizes[1:]:
        row = draw(st.lists(st.integers(0, 2), min_size=size, max_size=size))
        numbers = {entry: number for number, entry in enumerate(dict.fromkeys(row))}
        entries.append([numbers[entry] for entry in row])
    own = [np.array(draw(st.lists(st.integers(0, 20), min_size=n, max_size=n))) / 4 for n in sizes]
    joins = []
    for size, row in zip(sizes, entries[1:], strict=False):
        count = size * (max(row) + 1)
        prices = draw(st.lists(PRICES, min_size=count, max_size=count))
        joins.append(np.array([np.inf if p is None else p for p in prices]).reshape(size, -1))
    return entries, own, joins


def sparse(entries: list[list[int]], joins: list[Costs]) -> SparseChain:
    steps = [
        [[(n, price) for n, price in enumerate(column) if np.isfinite(price)] for column in join.T]
        for join in joins
    ]
    return SparseChain(entries, steps)


def dense(entries: list[list[int]], own: list[Costs], joins: list[Costs]) -> Chain:
    twos = [join[:, row] for join, row in zip(joins, entries[1:], strict=True)]
    return Chain(own, [None, *twos], [None] * len(own))


@given(tables(), st.integers(0, 99))
def test_the_same_paths_are_drawn_and_the_same_is_the_cheapest(
    made: tuple[list[list[int]], list[Costs], list[Costs]], seed: int
) -> None:
    """At three temperatures at once, each with costs of its own."""
    entries, own, joins = made
    try:
        least = best_path(dense(entries, own, joins))
    except NoPath as blocked:
        with pytest.raises(NoPath, match=f"place {blocked.place}$"):
            sparse(entries, joins)
        return
    chain = sparse(entries, joins)
    costs = np.concatenate(own)
    whole = dense(entries, own, joins)
    assert whole.cost(chain.best_path(costs)) == pytest.approx(whole.cost(least))
    factors, temperatures = np.array([1.0, 0.5, 3.0]), np.array([0.35, 1.0, 40.0])
    summed = SummedPaths(chain, factors[:, None] * costs, temperatures)
    for number, (factor, temperature) in enumerate(zip(factors, temperatures, strict=True)):
        pushed = dense(entries, [factor * each for each in own], joins)
        one, other = RandomStream(seed), RandomStream(seed)
        for _ in range(3):
            path = sample_path(pushed, temperature=temperature, rng=one)
            assert summed.path(number, other) == path


def test_a_path_that_is_as_good_as_never_is_found_where_there_is_no_other() -> None:
    chain = SparseChain([[0, 0], [0, 1], [0]], [[[(0, 0.0)], [(1, 1e4)]], [[(1, 1e4)]]])
    summed = SummedPaths(chain, np.zeros((1, 5)), np.array([0.35]))
    assert summed.path(0, RandomStream(1)) == chain.best_path(np.zeros(5)) == [1, 1, 0]
