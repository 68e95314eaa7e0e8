"""Drawing from a chain of choices in which few states lead into each. No music in here.

As in `halfstep.search` a path takes one state at each place, which costs what each state does by
itself and each step from one to the next, and paths are drawn exactly, by filtering forward and
sampling backward. Here only the steps that are allowed are looked at, states that are entered
alike share what leads to them, and costs are summed up at several temperatures at once: of a few
states, what an array costs is mostly to ask for it.

A path is drawn with the same random numbers as there, and is the same.

Sources: as `halfstep.search`, which the tests hold it against.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import cache
from itertools import accumulate

import numpy as np

from halfstep.random_stream import RandomStream
from halfstep.search import Costs, Indices, NoPath, drawn_share

Steps = Sequence[Sequence[tuple[int, float]]]
"""For each entry of a place the states before that lead there, in order, and what that costs."""
FORBIDDEN = 1e30
"""What fills tables up; not infinite, so that it can be subtracted."""


class SparseChain:
    """What states may follow one another, and at what cost.

    Parameters
    ----------
    entries : sequence of sequence of int
        For each place the number of the entry of each state; 0 for all of the first place.
    steps : sequence of Steps
        For each place after the first.

    Raises
    ------
    NoPath
    """

    def __init__(self, entries: Sequence[Sequence[int]], steps: Sequence[Steps]) -> None:
        _demand_path(entries, steps)
        self.entries = entries
        self.starts = [0, *accumulate(map(len, entries))]
        """Where the states of each place begin in a row of all of them."""
        self.before = [[], *([[n for n, _ in ways] for ways in into] for into in steps)]
        """The states that lead into each entry of each place."""
        most = max((len(ways) for into in steps for ways in into), default=0)
        shape = len(entries), max(map(len, steps), default=1), most
        self.states: Indices = np.zeros(shape, int)
        """The same in one array, as places in the row; filled up to its shape."""
        self.prices: Costs = np.full(shape, FORBIDDEN)
        for place, into in enumerate(steps, 1):
            for entry, ways in enumerate(into):
                for number, (state, price) in enumerate(ways):
                    self.states[place, entry, number] = self.starts[place - 1] + state
                    self.prices[place, entry, number] = price
        self.origins: Indices = np.array([n for row in entries for n in row], int)[self.states]
        """The entries of those states."""
        self.last_pairs: Indices = np.array(
            sorted(
                (before, state, entry, number)
                for state, entry in enumerate(entries[-1])
                for number, before in enumerate(self.before[-1][entry] if steps else ())
            )
        ).T
        """Of each two states at the end the two, the entry of the second, and which of the steps
        into it it is."""

    def best_path(self, costs: Costs) -> list[int]:
        """The cheapest path.

        Parameters
        ----------
        costs : array, shape (states,)
            Those of all places in a row; finite.
        """
        gains = -costs[self.states] - self.prices
        reach = np.zeros(gains.shape[1])
        picks = [np.zeros(gains.shape[1], int)]
        for origins, gained in zip(self.origins[1:], gains[1:], strict=True):
            reached = reach[origins] + gained
            picks.append(reached.argmax(axis=1))
            reach = reached.max(axis=1)
        path = [int(np.argmax(reach[self.entries[-1]] - costs[self.starts[-2] :]))]
        for place in range(len(self.entries) - 1, 0, -1):
            entry = self.entries[place][path[-1]]
            path.append(self.before[place][entry][picks[place][entry]])
        return path[::-1]


def _demand_path(entries: Sequence[Sequence[int]], steps: Sequence[Steps]) -> None:
    """That there is a path."""
    reached = set(range(len(entries[0])))
    for place, into in enumerate(steps, 1):
        open_entries = {n for n, ways in enumerate(into) if not reached.isdisjoint(dict(ways))}
        reached = {state for state, n in enumerate(entries[place]) if n in open_entries}
        if not reached:
            raise NoPath(place)


class SummedPaths:
    """What leads to each place of a chain summed up, for several costs at once.

    Parameters
    ----------
    chain : SparseChain
    costs : array, shape (several, states)
        As those of the cheapest path.
    temperatures : array, shape (several,)
        In units of cost, above 0; the smaller, the nearer to the cheapest.
    """

    def __init__(self, chain: SparseChain, costs: Costs, temperatures: Costs) -> None:
        self._chain = chain
        self._own = -costs / temperatures[:, None]
        self._prices = chain.prices / temperatures[:, None, None, None]
        shares = np.ascontiguousarray((self._own[:, chain.states] - self._prices).swapaxes(0, 1))
        reach = np.zeros(shares.shape[1:3])
        self._reach = [reach]
        for origins, share in zip(chain.origins[1:], shares[1:], strict=True):
            share += reach.take(origins, axis=1)
            most = np.maximum.reduce(share, axis=2)
            share -= most[:, :, None]
            np.exp(share, out=share)
            reach = np.log(np.add.reduce(share, axis=2)) + most
            self._reach.append(reach)
        sums = shares.cumsum(axis=3)
        self._sums = cache(lambda number: sums[:, number].tolist())
        """For each place and entry the shares of the states that lead there, summed up."""

    def path(self, number: int, rng: RandomStream) -> list[int]:
        """A path drawn at the costs of that number."""
        chain, summed = self._chain, self._sums(number)
        path = self._ending(number, rng)[::-1]
        for place in range(len(chain.entries) - 2, 0, -1):
            entry = chain.entries[place][path[-1]]
            sums = summed[place][entry]
            path.append(chain.before[place][entry][bisect_right(sums, rng.random() * sums[-1])])
        return path[::-1]

    def _ending(self, number: int, rng: RandomStream) -> list[int]:
        """The last two states, drawn as one."""
        chain, own = self._chain, self._own[number]
        if len(chain.entries) == 1:
            return [drawn_share(own, rng)]
        before, state, entry, way = chain.last_pairs
        shares = own[chain.states[-1, entry, way]] + own[chain.starts[-2] + state]
        shares += self._reach[-2][number, chain.origins[-1, entry, way]]
        shares -= self._prices[number, -1, entry, way]
        pair = drawn_share(shares, rng)
        return [int(before[pair]), int(state[pair])]
