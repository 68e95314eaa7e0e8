"""Are the numbers those of NumPy's default generator, which every etude was written with?

The outside source is NumPy itself: its SeedSequence and PCG64, and the ways in which its
Generator makes numbers of the bits.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.random_stream import RandomStream

KEYS = st.lists(st.one_of(st.integers(0, 40), st.integers(0, 2**200)), min_size=1, max_size=7).map(
    tuple
)
CALLS = st.lists(st.integers(0, 7), min_size=1, max_size=30)
COUNTS = [1, 2, 3, 6, 20, 5040, 2**31, 2**31 + 1, 3 * 2**30, 2**32 - 1]
"""Numbers to choose from: of those near 2³² up to half of what is drawn is drawn again."""


def weights(count: int) -> list[float]:
    """Shares of 1 that are all different."""
    plain = np.arange(1.0, count + 1) ** 1.5
    return list((plain / plain.sum()).tolist())


def drawn(stream: RandomStream, call: int, turn: int) -> object:
    """One call of a stream, and what it gives."""
    count = COUNTS[turn % len(COUNTS)]
    some = list(range(100, 103 + turn))
    calls = [
        stream.random,
        lambda: stream.uniform(-0.3, 1.7),
        lambda: stream.integers(count),
        lambda: stream.integers(-4, count - 4),
        lambda: stream.choice(some),
        lambda: stream.choice(some, weights(len(some))),
        lambda: stream.several(some, turn % len(some), weights(len(some))),
        lambda: stream.permutation(turn),
    ]
    return calls[call]()


def numpy_drawn(rng: np.random.Generator, call: int, turn: int) -> object:
    """The same call of NumPy's generator."""
    count = COUNTS[turn % len(COUNTS)]
    some = list(range(100, 103 + turn))
    shares, few = weights(len(some)), turn % len(some)
    calls = [
        rng.random,
        lambda: rng.uniform(-0.3, 1.7),
        lambda: rng.integers(count),
        lambda: rng.integers(-4, count - 4),
        lambda: rng.choice(some),
        lambda: rng.choice(some, p=shares),
        lambda: rng.choice(some, few, replace=False, p=shares).tolist() if few else [],
        lambda: rng.permutation(turn).tolist(),
    ]
    return calls[call]()


@given(KEYS, CALLS)
def test_each_number_is_numpys(key: tuple[int, ...], calls: list[int]) -> None:
    stream, rng = RandomStream(*key), np.random.default_rng(key)
    for turn, call in enumerate(calls):
        assert drawn(stream, call, turn) == numpy_drawn(rng, call, turn)


@pytest.mark.parametrize("seed", [*range(50), 2**32 - 1, 2**32, 2**64, 10**17])
def test_a_seed_alone_is_the_key_of_one_number(seed: int) -> None:
    stream, rng = RandomStream(seed), np.random.default_rng(seed)
    assert [stream.random() for _ in range(20)] == rng.random(20).tolist()


@pytest.mark.parametrize("count", COUNTS)
def test_numbers_below_a_bound_go_on_as_numpys_where_some_are_drawn_again(count: int) -> None:
    stream, rng = RandomStream(3), np.random.default_rng(3)
    assert [stream.integers(count) for _ in range(200)] == rng.integers(count, size=200).tolist()


def test_a_key_has_no_number_below_0() -> None:
    with pytest.raises(ValueError, match="below 0: -1"):
        RandomStream(2, -1)


@pytest.mark.parametrize("count", [-1, 0, 2**32, 2**60])
def test_there_must_be_some_numbers_and_not_too_many(count: int) -> None:
    with pytest.raises(ValueError, match="numbers to choose from"):
        RandomStream(1).integers(count)
