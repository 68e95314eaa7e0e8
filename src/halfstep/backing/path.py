"""Which choice at each place, so that the whole costs least? An exact search, no music.

A path takes one choice from each layer; every choice and every step from one choice to
the next has a cost. The path may be closed, so that the step from its last choice to its
first counts as well.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

T = TypeVar("T")

Weighed = tuple[T, float]
"""A choice and its own cost."""


def cheapest_path(
    layers: Sequence[Sequence[Weighed[T]]],
    step_cost: Callable[[int, T, T], float],
    *,
    closed: bool = False,
) -> list[T]:
    """The path of least total cost; the earlier choice wins where costs are equal.

    Parameters
    ----------
    layers : sequence of sequence of (choice, cost)
        None may be empty.
    step_cost : callable
        Given the number of a layer, its choice and the next choice, the cost of the step.
    closed : bool
        True counts the step from the last layer to the first.
    """
    if not layers:
        return []
    steps = [
        [[step_cost(n, a, b) for b, _ in layers[(n + 1) % len(layers)]] for a, _ in layer]
        for n, layer in enumerate(layers)
    ]
    if not closed:
        return _best(layers, steps, range(len(layers[0])), [0.0] * len(layers[-1]))[1]
    ways = (
        _best(layers, steps, (first,), [row[first] for row in steps[-1]])
        for first in range(len(layers[0]))
    )
    return min(ways, key=lambda way: way[0])[1]


def _best(
    layers: Sequence[Sequence[Weighed[T]]],
    steps: Sequence[Sequence[Sequence[float]]],
    firsts: Sequence[int],
    endings: Sequence[float],
) -> tuple[float, list[T]]:
    """Cost and choices of the best path that starts at one of ``firsts``."""
    reached = {n: layers[0][n][1] for n in firsts}
    back: list[list[int]] = []
    for layer, step in zip(layers[1:], steps, strict=False):
        origins = [
            min(reached, key=lambda a, b=b: reached[a] + step[a][b])  # type: ignore[misc]
            for b in range(len(layer))
        ]
        reached = {b: reached[a] + step[a][b] + layer[b][1] for b, a in enumerate(origins)}
        back.append(origins)
    last = min(reached, key=lambda n: reached[n] + endings[n])
    cost = reached[last] + endings[last]
    numbers = [last]
    for origins in reversed(back):
        numbers.append(origins[numbers[-1]])
    numbers.reverse()
    return cost, [layer[n][0] for layer, n in zip(layers, numbers, strict=True)]
