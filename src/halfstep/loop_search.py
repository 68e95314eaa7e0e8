"""Which choice at each place of a loop, so that the whole costs least? Exact, no music.

A loop takes one choice from each layer; every choice, every step from one choice to the
next, and the step from the last choice to the first has a cost.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

T = TypeVar("T")

Weighed = tuple[T, float]
"""A choice and its own cost."""


def cheapest_loop(
    layers: Sequence[Sequence[Weighed[T]]], step_cost: Callable[[int, T, T], float]
) -> list[T]:
    """The loop of least total cost; the earlier choice wins where costs are equal.

    Parameters
    ----------
    layers : sequence of sequence of (choice, cost)
        None may be empty.
    step_cost : callable
        Given the number of a layer, its choice and the next choice, the cost of the step;
        the last layer steps to the first.
    """
    if not layers:
        return []
    steps = [
        [[step_cost(n, a, b) for b, _ in layers[(n + 1) % len(layers)]] for a, _ in layer]
        for n, layer in enumerate(layers)
    ]
    loops = (_best(layers, steps, first) for first in range(len(layers[0])))
    return min(loops, key=lambda loop: loop[0])[1]


def _best(
    layers: Sequence[Sequence[Weighed[T]]],
    steps: Sequence[Sequence[Sequence[float]]],
    first: int,
) -> tuple[float, list[T]]:
    """Cost and choices of the best loop that starts at ``first``."""
    reached = {first: layers[0][first][1]}
    back: list[list[int]] = []
    for layer, step in zip(layers[1:], steps, strict=False):
        origins = [
            min(reached, key=lambda a, b=b: reached[a] + step[a][b])  # type: ignore[misc]
            for b in range(len(layer))
        ]
        reached = {b: reached[a] + step[a][b] + layer[b][1] for b, a in enumerate(origins)}
        back.append(origins)
    closing = [row[first] for row in steps[-1]]
    last = min(reached, key=lambda n: reached[n] + closing[n])
    cost = reached[last] + closing[last]
    numbers = [last]
    for origins in reversed(back):
        numbers.append(origins[numbers[-1]])
    numbers.reverse()
    return cost, [layer[n][0] for layer, n in zip(layers, numbers, strict=True)]
