"""The search is exact: it is held against trying everything."""

from itertools import pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from halfstep.loop_search import cheapest_loop

LAYERS = st.lists(
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 5)), min_size=1, max_size=3),
    min_size=1,
    max_size=5,
)


def step_cost(n: int, a: int, b: int) -> float:
    return float(abs(a - b) * (n % 3 + 1) + (a == b))


def total(choices: list[int], costs: list[float]) -> float:
    pairs = pairwise([*choices, choices[0]])
    return sum(costs) + sum(step_cost(n, a, b) for n, (a, b) in enumerate(pairs))


@given(LAYERS)
def test_no_other_loop_costs_less(layers: list[list[tuple[int, int]]]) -> None:
    best = min(total([c for c, _ in loop], [w for _, w in loop]) for loop in product(*layers))
    path = cheapest_loop(layers, step_cost)
    costs = [
        min(weight for choice, weight in layer if choice == taken)
        for layer, taken in zip(layers, path, strict=True)
    ]
    assert total(path, costs) == best


def test_no_layers_give_no_loop() -> None:
    assert cheapest_loop([], step_cost) == []
