"""The search is exact: it is held against every path there is, and knows no music."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from halfstep import search
from halfstep.random_stream import RandomStream
from halfstep.search import (
    Chain,
    Costs,
    NoPath,
    Word,
    best_loop,
    best_path,
    redrawn,
    sample_path,
)


def table(draw: st.DrawFn, *shape: int, some: bool = False) -> Costs:
    """Costs from 0 to 5 in quarters, about one in six forbidden."""
    cost = st.one_of(st.integers(0, 20).map(lambda n: n / 4), st.just(np.inf) | st.just(0.0))
    size = int(np.prod(shape))
    values = draw(st.lists(cost, min_size=size, max_size=size))
    filled = np.array(values, dtype=float).reshape(shape)
    return np.where(np.isfinite(filled), filled, 0.0) if some else filled


@st.composite
def chains(draw: st.DrawFn) -> Chain:
    """Chains of one to five places with one to four states each."""
    sizes = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    ones, twos, threes = [], [], []
    for place, size in enumerate(sizes):
        ones.append(table(draw, size))
        pair = place >= 1 and draw(st.booleans())
        triple = place >= 2 and draw(st.booleans())
        twos.append(table(draw, *sizes[place - 1 : place + 1]) if pair else None)
        threes.append(table(draw, *sizes[place - 2 : place + 1]) if triple else None)
    return Chain(ones, twos, threes)


def every_path(chain: Chain) -> Iterator[tuple[int, ...]]:
    return product(*(range(len(states)) for states in chain.ones))


def summed(chain: Chain, path: tuple[int, ...]) -> float:
    """What a path costs, added up from the definition."""
    pairs = [two[path[n - 1], path[n]] for n, two in enumerate(chain.twos) if n and two is not None]
    triples = [
        three[path[n - 2], path[n - 1], path[n]]
        for n, three in enumerate(chain.threes)
        if n > 1 and three is not None
    ]
    return float(sum([chain.ones[n][a] for n, a in enumerate(path)] + pairs + triples))


@given(chains())
def test_a_path_costs_the_sum_of_its_parts(chain: Chain) -> None:
    for path in every_path(chain):
        assert chain.cost(path) == summed(chain, path)


@pytest.mark.slow
@given(chains())
def test_no_other_path_costs_less(chain: Chain) -> None:
    least = min(summed(chain, path) for path in every_path(chain))
    assume(np.isfinite(least))
    assert summed(chain, tuple(best_path(chain))) == least


@pytest.mark.slow
@given(chains(), st.data())
def test_no_other_loop_costs_less(chain: Chain, data: st.DataObject) -> None:
    """A loop is a path that ends in the state of its beginning."""
    size, count = len(chain.ones[0]), len(chain.ones[-1])
    back = table(data.draw, count, size)
    looped = Chain([*chain.ones, np.zeros(size)], [*chain.twos, back], [*chain.threes, None])
    loops = [path for path in every_path(looped) if path[0] == path[-1]]
    least = min(summed(looped, loop) for loop in loops)
    assume(np.isfinite(least))
    loop = best_loop(looped)
    assert summed(looped, (*loop, loop[0])) == least


def test_a_loop_that_cannot_close_has_no_path() -> None:
    never = np.full((1, 1), np.inf)
    with pytest.raises(NoPath):
        best_loop(Chain([np.zeros(1), np.zeros(1)], [None, never], [None, None]))


@pytest.mark.slow
@given(chains())
def test_a_blocked_chain_names_the_first_place_out_of_reach(chain: Chain) -> None:
    def reachable(places: int) -> bool:
        head = Chain(chain.ones[:places], chain.twos[:places], chain.threes[:places])
        return any(np.isfinite(summed(head, path)) for path in every_path(head))

    blocked = [n for n in range(len(chain.ones)) if not reachable(n + 1)]
    assume(blocked)
    with pytest.raises(NoPath, match=f"place {blocked[0]}$") as best:
        best_path(chain)
    assert best.value.place == blocked[0]
    with pytest.raises(NoPath) as sampled:
        sample_path(chain, temperature=1.0, rng=RandomStream(0))
    assert sampled.value.place == blocked[0]


@pytest.mark.slow
@given(chains(), st.integers(0, 99), st.sampled_from([0.1, 0.5, 3.0]))
def test_a_sampled_path_is_never_forbidden(chain: Chain, seed: int, temperature: float) -> None:
    assume(any(np.isfinite(summed(chain, path)) for path in every_path(chain)))
    path = sample_path(chain, temperature=temperature, rng=RandomStream(seed))
    assert np.isfinite(summed(chain, tuple(path)))


def random_chain(sizes: list[int], seed: int) -> Chain:
    """A chain with every table, one entry in ten forbidden."""
    rng = np.random.default_rng(seed)

    def costs(*shape: int) -> Costs:
        return np.where(rng.random(shape) < 0.1, np.inf, 2 * rng.random(shape))

    places = range(len(sizes))
    return Chain(
        [costs(size) for size in sizes],
        [costs(*sizes[n - 1 : n + 1]) if n else None for n in places],
        [costs(*sizes[n - 2 : n + 1]) if n > 1 else None for n in places],
    )


@pytest.mark.slow
@pytest.mark.parametrize("temperature", [0.3, 1.0, 4.0])
@pytest.mark.parametrize("sizes", [[5], [3, 4], [2, 3, 2], [3, 1, 3, 2]], ids=str)
def test_paths_are_drawn_as_often_as_their_costs_say(sizes: list[int], temperature: float) -> None:
    """Draws follow exp(-cost / T) / Z: chi-square within five deviations of its mean."""
    chain = random_chain(sizes, seed=20 + len(sizes))
    weights = {
        path: np.exp(-summed(chain, path) / temperature) for path in every_path(chain)
    }  # infinite cost, weight 0
    rng = RandomStream(11)
    expect_often(weights, lambda: sample_path(chain, temperature=temperature, rng=rng))


@pytest.mark.slow
@given(chains(), st.integers(0, 99))
def test_a_cold_draw_is_the_best_path(chain: Chain, seed: int) -> None:
    costs = [summed(chain, path) for path in every_path(chain)]
    assume(np.isfinite(min(costs)))
    path = sample_path(chain, temperature=1e-3, rng=RandomStream(seed))
    assert summed(chain, tuple(path)) == min(costs)


def test_a_hot_draw_takes_every_path_about_as_often() -> None:
    chain = Chain([np.array([0.0, 9.0]), np.array([3.0, 0.0])], [None, None], [None, None])
    rng = RandomStream(5)
    drawn = [tuple(sample_path(chain, temperature=1e6, rng=rng)) for _ in range(2000)]
    shares = [drawn.count(path) / 2000 for path in every_path(chain)]
    assert min(shares) > 0.2


def test_the_same_seed_draws_the_same_paths_and_another_does_not() -> None:
    chain = random_chain([4, 4, 4, 4, 4, 4], seed=3)

    def drawn(seed: int) -> list[list[int]]:
        rng = RandomStream(seed)
        return [sample_path(chain, temperature=1.0, rng=rng) for _ in range(5)]

    assert drawn(1) == drawn(1)
    assert drawn(1) != drawn(2)


def test_large_costs_do_not_overflow() -> None:
    """Costs far above the temperature still leave their differences."""
    chain = Chain([np.array([1e5, 1e5 + 1])] * 3, [None] * 3, [None] * 3)
    assert sample_path(chain, temperature=0.01, rng=RandomStream(0)) == [0, 0, 0]


# Words


@st.composite
def priced(draw: st.DrawFn) -> tuple[Chain, list[Word]]:
    """A chain, and words with prices at some of its blocks."""
    chain = draw(chains())
    places = len(chain.ones)
    start = draw(st.integers(0, places - 1))
    middle = draw(st.integers(start + 1, places))
    words = []
    for low, high in ((start, middle), (middle, draw(st.integers(middle, places)))):
        for _ in range(draw(st.integers(0, 3)) if low < high else 0):
            states = tuple(draw(st.integers(0, len(chain.ones[n]) - 1)) for n in range(low, high))
            words.append(Word(low, states, draw(st.sampled_from([0.5, 2.0, 8.0, np.inf]))))
    return chain, words


def with_prices(chain: Chain, words: list[Word], path: tuple[int, ...]) -> float:
    met = [word.price for word in words if path[word.start : word.stop] == word.states]
    return summed(chain, path) + sum(met)


@pytest.mark.slow
@given(priced())
def test_words_cost_their_price(made: tuple[Chain, list[Word]]) -> None:
    chain, words = made
    least = min(with_prices(chain, words, path) for path in every_path(chain))
    assume(np.isfinite(least))
    assert with_prices(chain, words, tuple(best_path(chain, words=words))) == least


@pytest.mark.slow
@given(priced(), st.data())
def test_places_that_are_drawn_anew_cold_are_the_best_beside_the_others(
    chain_and_words: tuple[Chain, list[Word]], data: st.DataObject
) -> None:
    chain, words = chain_and_words
    allowed = [path for path in every_path(chain) if np.isfinite(summed(chain, path))]
    assume(allowed)
    path, count = data.draw(st.sampled_from(allowed)), len(chain.ones)
    start = data.draw(st.integers(0, count - 1))
    stop = data.draw(st.integers(start + 1, count))
    inside = [word for word in words if start <= word.start and word.stop <= stop]
    others = [p for p in allowed if p[:start] == path[:start] and p[stop:] == path[stop:]]
    least = min(with_prices(chain, inside, other) for other in others)
    assume(np.isfinite(least))
    rng = RandomStream(1)
    drawn = redrawn(chain, path, (start, stop), temperature=1e-3, rng=rng, words=inside)
    made = (*path[:start], *drawn, *path[stop:])
    assert made in others
    assert with_prices(chain, inside, made) == least


WORDS = [Word(1, (0, 1), 1.0), Word(1, (2, 0), 0.5), Word(1, (0, 0), np.inf)]


@pytest.mark.slow
def test_paths_are_drawn_as_often_as_costs_and_prices_say() -> None:
    """Chi-square within five deviations, with words of two places in the middle."""
    chain, rng = random_chain([3, 3, 3, 2], seed=2), RandomStream(4)
    weights = {path: np.exp(-with_prices(chain, WORDS, path)) for path in every_path(chain)}
    expect_often(weights, lambda: sample_path(chain, temperature=1.0, rng=rng, words=WORDS))


@pytest.mark.slow
@pytest.mark.parametrize("count", [1, 3])
def test_places_are_drawn_anew_as_often_as_costs_and_prices_say(count: int) -> None:
    """Chi-square within five deviations, where draws are refused and where words are known."""
    chain, rng, words = random_chain([3, 3, 3, 2], seed=3), RandomStream(4), WORDS[-count:]
    beside = [path for path in every_path(chain) if (path[0], path[-1]) == (1, 0)]
    weights = {path: np.exp(-with_prices(chain, words, path)) for path in beside}

    def drawn() -> list[int]:
        anew = redrawn(chain, beside[-1], (1, 3), temperature=1.0, rng=rng, words=words)
        return [1, *anew, 0]

    expect_often(weights, drawn)


def expect_often(weights: dict[tuple[int, ...], float], drawn: Callable[[], list[int]]) -> None:
    """Chi-square within five deviations of its mean."""
    whole, draws = sum(weights.values()), 4000
    counts = dict.fromkeys(weights, 0)
    for _ in range(draws):
        counts[tuple(drawn())] += 1
    assert all(counts[path] == 0 for path, weight in weights.items() if weight == 0)
    expected = {path: draws * weight / whole for path, weight in weights.items()}
    often = [path for path, each in expected.items() if each >= 5]
    assert len(often) >= 4
    square = sum((counts[path] - expected[path]) ** 2 / expected[path] for path in often)
    assert square < len(often) - 1 + 5 * np.sqrt(2 * (len(often) - 1))


@pytest.mark.slow
@given(chains(), st.integers(1, 3), st.integers(0, 9))
def test_a_chain_too_long_to_hold_is_walked_the_same(chain: Chain, held: int, seed: int) -> None:
    """Tables made again on the way back give the same best path and the same draw."""
    assume(any(np.isfinite(summed(chain, path)) for path in every_path(chain)))

    def both() -> tuple[list[int], list[int]]:
        rng = RandomStream(seed)
        return best_path(chain), sample_path(chain, temperature=1.0, rng=rng)

    whole = both()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(search, "HELD", held)
        assert both() == whole
