"""The search is exact: it is held against trying everything."""

from itertools import pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from halfstep.backing.path import cheapest_path

LAYERS = st.lists(
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 5)), min_size=1, max_size=3),
    min_size=1,
    max_size=5,
)


def step_cost(n: int, a: int, b: int) -> float:
    return float(abs(a - b) * (n % 3 + 1) + (a == b))


def total(choices: list[int], costs: list[float], closed: bool) -> float:
    pairs = list(pairwise(choices))
    steps = sum(step_cost(n, a, b) for n, (a, b) in enumerate(pairs))
    closing = step_cost(len(choices) - 1, choices[-1], choices[0]) if closed else 0.0
    return sum(costs) + steps + closing


@given(LAYERS, st.booleans())
def test_no_other_path_costs_less(layers: list[list[tuple[int, int]]], closed: bool) -> None:
    best = min(total([c for c, _ in way], [w for _, w in way], closed) for way in product(*layers))
    path = cheapest_path(layers, step_cost, closed=closed)
    costs = [
        min(weight for choice, weight in layer if choice == taken)
        for layer, taken in zip(layers, path, strict=True)
    ]
    assert total(path, costs, closed) == best


def test_no_layers_give_no_path() -> None:
    assert cheapest_path([], step_cost, closed=True) == []
