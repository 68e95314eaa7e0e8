"""Drawing from a chain of choices that join by their edges alone. No music in here.

As in `halfstep.search` a path takes one state at each place, and is drawn exactly, by filtering
forward and sampling backward. Here a step costs what the end of one state and the start of the
next say, and many states end or start alike: what leads to a place is summed up for each end,
and no table is larger than there are ends and starts.

A path is drawn with the same random numbers as there, and is the same.

Sources: as `halfstep.search`, which the tests hold it against.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.random_stream import RandomStream
from halfstep.search import Costs, Indices, NoPath, drawn_share


class EdgeJoin:
    """What it costs to go from each state of a place to each of the next.

    Parameters
    ----------
    ends : array of int, shape (states before,)
        The number of the end of each state; each number up to the largest is there.
    starts : array of int, shape (states,)
        The number of the start of each of the next.
    costs : array, shape (ends, starts)
        An infinite cost forbids.
    """

    def __init__(self, ends: Indices, starts: Indices, costs: Costs) -> None:
        self._ends, self._starts, self._costs = ends, starts, costs
        self._order = np.argsort(ends, kind="stable")
        self._bounds = np.searchsorted(ends[self._order], np.arange(len(costs)))

    def table(self) -> Costs:
        """The costs from state to state, shape (states before, states)."""
        return self._costs.take(self._starts, 1).take(self._ends, 0)

    def column(self, state: int) -> Costs:
        """Those from each state before to one."""
        return np.asarray(self._costs[self._ends, self._starts[state]])

    def summed(self, shares: Costs, temperature: float) -> Costs:
        """Of the logarithms of what leads to each state before those of what leads to each."""
        ordered = shares[self._order]
        most = _finite(np.maximum.reduceat(ordered, self._bounds))
        ordered = np.exp(ordered - most[self._ends[self._order]])
        into = np.log(np.add.reduceat(ordered, self._bounds)) + most
        joined = into[:, None] - self._costs / temperature
        most = _finite(joined.max(axis=0))
        return np.asarray((np.log(np.exp(joined - most).sum(axis=0)) + most)[self._starts])


def _finite(most: Costs) -> Costs:
    return np.where(np.isfinite(most), most, 0.0)


def sample_joined_path(
    ones: Sequence[Costs], joins: Sequence[EdgeJoin], *, temperature: float, rng: RandomStream
) -> list[int]:
    """A path drawn with probability proportional to ``exp(-cost / temperature)``.

    Parameters
    ----------
    ones : sequence of array
        The costs of the states of each place.
    joins : sequence of EdgeJoin
        Into each place; that of the first is not asked for.
    temperature : float
        In units of cost, above 0.
    rng : RandomStream

    Raises
    ------
    NoPath
    """
    reached: list[Costs] = []
    with np.errstate(divide="ignore"):  # what cannot be reached
        for place, costs in enumerate(ones):
            shares = -costs / temperature
            if place:
                shares += joins[place].summed(reached[-1], temperature)
            if shares.max(initial=-np.inf) == -np.inf:
                raise NoPath(place)
            reached.append(shares)
    if len(ones) == 1:
        return [drawn_share(reached[0], rng)]
    both = reached[-2][:, None] - (joins[len(ones) - 1].table() + ones[-1]) / temperature
    path = list(divmod(drawn_share(both.ravel(), rng), both.shape[1]))[::-1]
    for place in range(len(ones) - 2, 0, -1):
        column = joins[place].column(path[-1])
        path.append(drawn_share(reached[place - 1] - column / temperature, rng))
    return path[::-1]
