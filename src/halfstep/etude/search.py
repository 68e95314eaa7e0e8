"""Exact search over a chain of choices. No music in here.

Every place in the chain has a set of states. A path takes one state at each place and
costs the sum of

- ``ones[i][a]``, for state ``a`` at place ``i``;
- ``twos[i][a, b]``, for ``a`` at ``i - 1`` and ``b`` at ``i``;
- ``threes[i][a, b, c]``, for three places in a row ending at ``i`` (or None).

An infinite cost forbids. `best_path` finds the cheapest path; `sample_path` draws a
path with probability proportional to ``exp(-cost / temperature)``, exactly, by filtering
forward and sampling backward. Both grow linearly with the length of the chain.

Sources: dynamic programming after Viterbi 1967; forward filtering, backward sampling as
in hidden Markov models (both from memory); checked against brute force in the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Costs = NDArray[np.float64]


class NoPath(Exception):
    """Every path is forbidden; ``place`` is the first place that cannot be reached."""

    def __init__(self, place: int) -> None:
        self.place = place
        super().__init__(f"no path reaches place {place}")


@dataclass(frozen=True, slots=True)
class Chain:
    """The costs of a chain of ``len(ones)`` places.

    Attributes
    ----------
    ones : sequence of array, shape (n_i,)
    twos : sequence of array or None, shape (n_{i-1}, n_i)
        ``twos[0]`` is not used.
    threes : sequence of array or None, shape (n_{i-2}, n_{i-1}, n_i)
        ``threes[0]`` and ``threes[1]`` are not used.
    """

    ones: Sequence[Costs]
    twos: Sequence[Costs | None]
    threes: Sequence[Costs | None]

    def cost(self, path: Sequence[int]) -> float:
        """What a path costs."""
        total = 0.0
        for place, state in enumerate(path):
            total += self.ones[place][state]
            two, three = self.twos[place], self.threes[place]
            if place >= 1 and two is not None:
                total += two[path[place - 1], state]
            if place >= 2 and three is not None:
                total += three[path[place - 2], path[place - 1], state]
        return float(total)


def best_path(chain: Chain) -> list[int]:
    """The cheapest path.

    Raises
    ------
    NoPath
    """
    tables = _forward(chain, _least)
    return _backward(chain, tables, lambda costs: int(np.argmin(costs)))


def sample_path(chain: Chain, *, temperature: float, rng: np.random.Generator) -> list[int]:
    """A path drawn with probability proportional to ``exp(-cost / temperature)``.

    Parameters
    ----------
    chain : Chain
    temperature : float
        In units of cost, above 0; the smaller, the nearer to the cheapest.
    rng : numpy.random.Generator

    Raises
    ------
    NoPath
    """

    def soft_least(costs: Costs) -> Costs:
        least = costs.min(axis=0)
        floor = np.where(np.isfinite(least), least, 0.0)
        with np.errstate(divide="ignore"):
            total = np.log(np.exp((floor - costs) / temperature).sum(axis=0))
        return np.asarray(floor - temperature * total)

    def draw(costs: Costs) -> int:
        weights = np.exp((costs.min() - costs) / temperature).cumsum()
        return int(np.searchsorted(weights, rng.random() * weights[-1], side="right"))

    tables = _forward(chain, soft_least)
    return _backward(chain, tables, draw)


def _least(costs: Costs) -> Costs:
    return np.asarray(costs.min(axis=0))


def _forward(chain: Chain, reduce: Callable[[Costs], Costs]) -> list[Costs]:
    """For every place the cost of all that leads to it.

    Table 0 has the shape (n_0,), table ``i`` the shape (n_{i-1}, n_i): the cost of
    standing at those two states with everything before them summed by ``reduce``.
    """
    tables: list[Costs] = [chain.ones[0]]
    _demand_a_way(tables)
    for place in range(1, len(chain.ones)):
        before = tables[-1]
        if place == 1:
            reach = before[:, None]
        elif (three := chain.threes[place]) is None:
            reach = reduce(before)[:, None]
        else:
            reach = reduce(before[:, :, None] + three)
        two = chain.twos[place]
        table = reach + chain.ones[place][None, :]
        tables.append(table if two is None else table + two)
        _demand_a_way(tables)
    return tables


def _demand_a_way(tables: list[Costs]) -> None:
    if not np.isfinite(tables[-1]).any():
        raise NoPath(len(tables) - 1)


def _backward(chain: Chain, tables: list[Costs], pick: Callable[[Costs], int]) -> list[int]:
    """Walk back from the end; ``pick`` chooses among costs."""
    last = tables[-1]
    if last.ndim == 1:
        return [pick(last)]
    path = list(divmod(pick(last.ravel()), last.shape[1]))
    for place in range(len(chain.ones) - 1, 1, -1):
        costs = tables[place - 1][:, path[0]]
        three = chain.threes[place]
        if three is not None:
            costs = costs + three[:, path[0], path[1]]
        path.insert(0, pick(costs))
    return path
