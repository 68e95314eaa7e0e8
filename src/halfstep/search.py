"""Exact search over a chain of choices. No music in here.

Every place in the chain has a set of states. A path takes one state at each place and
costs the sum of

- ``ones[i][a]``, for state ``a`` at place ``i``;
- ``twos[i][a, b]``, for ``a`` at ``i - 1`` and ``b`` at ``i``;
- ``threes[i][a, b, c]``, for three places in a row ending at ``i`` (or None).

An infinite cost forbids. `best_path` finds the cheapest path; `sample_path` draws a
path with probability proportional to ``exp(-cost / temperature)``, exactly, by filtering
forward and sampling backward.

A `Word` prices states in a row, such as those of an earlier path in one block of the
chain, so that another path is drawn there. This is exact because "as the word has it since
the block began" is one more state at each place, with the price at the block's end.

A loop is a chain whose last place is its first one again.

All grow linearly with the length of the chain; of a long one only some tables are held,
and the others are made again on the way back.

Sources: dynamic programming after Viterbi 1967; forward filtering, backward sampling as
in hidden Markov models; words as an automaton beside the chain as in Aho and Corasick
1975 (all from memory); checked against brute force in the tests.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import accumulate, islice
from math import exp
from typing import Any, NamedTuple, TypeVar, overload

import numpy as np

from halfstep.random_stream import RandomStream

Costs = np.ndarray[Any, np.dtype[np.float64]]
Indices = np.ndarray[Any, np.dtype[np.int64]]
T = TypeVar("T", covariant=True)

BEYOND = 1e200
"""More than any path costs that is not forbidden."""
MOST_REFUSED = 2
"""Draws that are refused before one is made that knows the words, where these are fewer."""
FEW = 32
"""States that are faster drawn from one by one than as an array."""
CHECKED = 8
"""Every so many places it is asked whether any path leads there."""
HELD = 1024
"""Tables held at a time, in a row; of the rest every 1024th."""


class NoPath(Exception):
    """Every path is forbidden; ``place`` is the first place that cannot be reached."""

    def __init__(self, place: int) -> None:
        self.place = place
        super().__init__(f"no path reaches place {place}")


class Lazy(Sequence[T]):
    """A sequence whose items are made when they are asked for."""

    def __init__(self, count: int, make: Callable[[int], T]) -> None:
        self._count = count
        self._make = make

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, place: int) -> T: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[T]: ...
    def __getitem__(self, place: int | slice) -> T | Sequence[T]:
        if isinstance(place, slice):
            return [self._make(index) for index in range(*place.indices(self._count))]
        if not -self._count <= place < self._count:
            raise IndexError(place)
        return self._make(place % self._count)


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """The costs of a chain of ``len(ones)`` places.

    Attributes
    ----------
    ones : sequence of array, shape (n_i,)
    twos : sequence of array or None, shape (n_{i-1}, n_i)
        ``twos[0]`` is not used.
    threes : sequence of array or None, shape (n_{i-2}, n_{i-1}, n_i)
        ``threes[0]`` and ``threes[1]`` are not used.
    make_column : callable or None
        Makes a `column` without the rest of its table, where that is cheaper.
    """

    ones: Sequence[Costs]
    twos: Sequence[Costs | None]
    threes: Sequence[Costs | None]
    make_column: Callable[[int, int, int], Costs | None] | None = None

    def cost(self, path: Sequence[int]) -> float:
        """What a path costs."""
        total = 0.0
        for place, state in enumerate(path):
            total += self.ones[place][state]
            two = self.twos[place] if place >= 1 else None
            three = self.threes[place] if place >= 2 else None
            if two is not None:
                total += two[path[place - 1], state]
            if three is not None:
                total += three[path[place - 2], path[place - 1], state]
        return float(total)

    def column(self, place: int, before: int, state: int) -> Costs | None:
        """``threes[place][:, before, state]``, None where there is no table."""
        if self.make_column is not None:
            return self.make_column(place, before, state)
        three = self.threes[place]
        return None if three is None else three[:, before, state]


class Word(NamedTuple):
    """States in a row, from place ``start`` on, and what it costs to take them all.

    Words that share a place begin and end together. An infinite price forbids.
    """

    start: int
    states: tuple[int, ...]
    price: float

    @property
    def stop(self) -> int:
        """The place after the last."""
        return self.start + len(self.states)


def best_path(chain: Chain, *, words: Sequence[Word] = ()) -> list[int]:
    """The cheapest path, with the prices of the words in it.

    Raises
    ------
    NoPath
    """
    return next(_walks(chain, words, _least, lambda costs: int(np.argmin(costs))))


def best_loop(chain: Chain) -> list[int]:
    """The cheapest path that ends in the state it begins with, without its end.

    Each state of the first place is held at both ends in turn, so that the time grows with
    their number: who wants it short gives the first place one state.

    Parameters
    ----------
    chain : Chain
        Its last place has the states of its first; the tables that end there are those of
        the steps that close the loop.

    Raises
    ------
    NoPath
    """
    loops = []
    for state in range(len(chain.ones[0])):
        with suppress(NoPath):
            loops.append(best_path(_closed(chain, state)))
    if not loops:
        raise NoPath(len(chain.ones) - 1)
    return min(loops, key=chain.cost)[:-1] if len(loops) > 1 else loops[0][:-1]


def _closed(chain: Chain, state: int) -> Chain:
    """The chain with one state left at both ends."""
    last = len(chain.ones) - 1

    def ones(place: int) -> Costs:
        costs = chain.ones[place]
        if place not in {0, last}:
            return costs
        held = np.full(len(costs), np.inf)
        held[state] = costs[state]
        return held

    return replace(chain, ones=Lazy(len(chain.ones), ones))


def sample_path(
    chain: Chain, *, temperature: float, rng: RandomStream, words: Sequence[Word] = ()
) -> list[int]:
    """A path drawn with probability proportional to ``exp(-cost / temperature)``.

    Parameters
    ----------
    chain : Chain
    temperature : float
        In units of cost, above 0; the smaller, the nearer to the cheapest.
    rng : RandomStream
    words : sequence of Word
        Their prices count as costs.

    Raises
    ------
    NoPath
    """
    return next(sample_paths(chain, temperature=temperature, rng=rng, words=words))


def sample_paths(
    chain: Chain, *, temperature: float, rng: RandomStream, words: Sequence[Word] = ()
) -> Iterator[list[int]]:
    """Paths without end, each drawn as `sample_path` draws one.

    What leads to each place is summed up once for all of them, when the first is asked for.
    """

    def soft_least(costs: Costs) -> Costs:
        floor = np.minimum(np.minimum.reduce(costs, axis=0), BEYOND)
        weights = floor - costs
        weights /= temperature
        shares = weights.astype(np.float32)  # seven digits in half of the time
        total = np.add.reduce(np.exp(shares, out=shares), axis=0)
        return np.asarray(floor - temperature * np.log(total, dtype=np.float64))

    def draw(costs: Costs) -> int:
        if len(costs) <= FEW:
            few = costs.tolist()
            floor = min(few)
            sums = list(accumulate([exp((floor - cost) / temperature) for cost in few]))
            return bisect_right(sums, rng.random() * sums[-1])
        return drawn_share(-costs / temperature, rng)

    return _walks(chain, words, soft_least, draw)


def drawn_share(shares: Costs, rng: RandomStream) -> int:
    """One of several, drawn by the logarithms of their shares."""
    sums = np.exp(shares - shares.max()).cumsum()
    return int(sums.searchsorted(rng.random() * sums[-1], side="right"))


def redrawn(
    chain: Chain,
    path: Sequence[int],
    bounds: tuple[int, int],
    *,
    temperature: float,
    rng: RandomStream,
    words: Sequence[Word] = (),
) -> list[int]:
    """States for some places in a row of a path, drawn anew where all others stay as they are.

    They are drawn as `sample_path` draws them if the others are given, at the cost of these
    places alone. Mostly a draw that knows of no words is none of them; one that is, is kept as
    often as their price says.

    Parameters
    ----------
    chain : Chain
    path : sequence of int
        One that is not forbidden.
    bounds : (int, int)
        The first of the places, and the one after the last.
    temperature : float
    rng : RandomStream
    words : sequence of Word
        Between the bounds.

    Raises
    ------
    NoPath
        Where the path is forbidden, or every way there has an infinite price.
    """
    start, stop = bounds
    low, high = max(0, start - 2), min(len(path), stop + 2)
    part = _held_chain(chain, path, range(low, high), range(start, stop))
    moved = [word._replace(start=word.start - low) for word in words]
    tried = MOST_REFUSED if len({word.states for word in words}) < MOST_REFUSED else 0
    for made in islice(sample_paths(part, temperature=temperature, rng=rng), tried):
        price = sum(w.price for w in moved if tuple(made[w.start : w.stop]) == w.states)
        if not price or rng.random() < exp(-price / temperature):
            break
    else:
        made = sample_path(part, temperature=temperature, rng=rng, words=moved)
    return made[start - low : stop - low]


def _held_chain(chain: Chain, path: Sequence[int], places: range, free: range) -> Chain:
    """Places in a row of a chain; those that are not free have one state, that of the path."""
    states = [slice(None) if n in free else slice(path[n], path[n] + 1) for n in places]

    def held(tables: Sequence[Costs | None], width: int) -> list[Costs | None]:
        made: list[Costs | None] = [None] * (width - 1)
        for stop, place in enumerate(places[width - 1 :], width):
            table = tables[place]
            made.append(None if table is None else table[tuple(states[stop - width : stop])])
        return made

    return Chain(
        [chain.ones[n][own] for n, own in zip(places, states, strict=True)],
        held(chain.twos, 2),
        held(chain.threes, 3),
    )


def _least(costs: Costs) -> Costs:
    return np.asarray(costs.min(axis=0))


def _walks(
    chain: Chain,
    words: Sequence[Word],
    reduce: Callable[[Costs], Costs],
    pick: Callable[[Costs], int],
) -> Iterator[list[int]]:
    """Once forward, summing up all that leads to each place by ``reduce``; back by ``pick``."""
    if not words:
        tables = _forward(chain, reduce)
        while True:
            yield _back(chain, tables, reduce, pick)
    marked = _Marked(chain, words)
    for path in _walks(marked.chain, (), reduce, pick):
        yield marked.plain(path)


def _step(
    chain: Chain, place: int, before: Costs | None, reduce: Callable[[Costs], Costs]
) -> Costs:
    """For every two states that end at ``place`` the cost of all that leads to them.

    The table of place 0 has the shape (n_0,), that of place ``i`` (n_{i-1}, n_i).
    """
    costs = chain.ones[place]
    if before is None:
        table = costs
    else:
        three = chain.threes[place] if place > 1 else None
        two = chain.twos[place]
        if place == 1:
            reach = before[:, None]
        elif three is None:
            reach = reduce(before)[:, None]
        else:
            reach = reduce(before[:, :, None] + three)
        table = reach + (costs if two is None else two + costs)
    return table


class _Forward(NamedTuple):
    """What leads to the places of a chain: every 1024th table, and the last ones in a row."""

    kept: list[Costs]
    row: list[Costs]


def _forward(chain: Chain, reduce: Callable[[Costs], Costs]) -> _Forward:
    kept: list[Costs] = []
    row: list[Costs] = []
    with np.errstate(divide="ignore"):  # what cannot be reached
        for place in range(len(chain.ones)):
            table = _step(chain, place, row[-1] if row else None, reduce)
            if place % HELD == 0:
                kept.append(table)
                row = []
            row.append(table)
            if (place + 1) % CHECKED == 0 or place + 1 == len(chain.ones) or not table.size:
                _demand_way(row, place)
    return _Forward(kept, row)


def _demand_way(row: Sequence[Costs], last: int) -> None:
    """Raise `NoPath` where one of some tables in a row leads nowhere, and so all after it."""
    if np.minimum.reduce(row[-1], axis=None, initial=np.inf) == np.inf:
        is_reached = [bool(np.isfinite(table).any()) for table in row]
        raise NoPath(last + 1 - len(row) + is_reached.index(False))


def _back(
    chain: Chain,
    tables: _Forward,
    reduce: Callable[[Costs], Costs],
    pick: Callable[[Costs], int],
) -> list[int]:
    """A path, its last place first chosen."""
    count = len(chain.ones)
    kept, row = tables
    last = row[-1]
    if last.ndim == 1:
        return [pick(last)]
    path = list(divmod(pick(last.ravel()), last.shape[1]))[::-1]
    for place in range(count - 2, 0, -1):
        if place % HELD == HELD - 1:
            row = [kept[place // HELD]]
            with np.errstate(divide="ignore"):
                for again in range(place - HELD + 2, place + 1):
                    row.append(_step(chain, again, row[-1], reduce))
        costs = row[place % HELD][:, path[-1]]
        column = chain.column(place + 1, path[-1], path[-2])
        path.append(pick(costs if column is None else costs + column))
    return path[::-1]


class _Marked:
    """A chain with one more state, a mark, wherever a path may be inside a word.

    A mark is the mark before it, -1 for none, and its plain state. A plain state in a
    block with words means: already unlike every word.
    """

    def __init__(self, chain: Chain, words: Sequence[Word]) -> None:
        count = len(chain.ones)
        self._base = chain
        self._marks: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        self._prices: list[list[float]] = [[] for _ in range(count)]
        self._goes_on = [False] * count
        for word in words:
            self._add(word)
        self._known: dict[int, Indices] = {}
        self.chain = Chain(
            Lazy(count, self._one),
            Lazy(count, self._two),
            Lazy(count, self._three),
            self._column,
        )

    def _add(self, word: Word) -> None:
        before = -1
        for place, state in enumerate(word.states, word.start):
            marks, prices = self._marks[place], self._prices[place]
            if (before, state) not in marks:
                marks.append((before, state))
                prices.append(0.0)
            before = marks.index((before, state))
            self._goes_on[place] = place < word.stop - 1
        prices[before] += word.price

    def plain(self, path: Sequence[int]) -> list[int]:
        """The path with the plain state behind every mark."""
        sizes = [len(states) for states in self._base.ones]
        return [
            state if state < size else marks[state - size][1]
            for state, size, marks in zip(path, sizes, self._marks, strict=True)
        ]

    def _states(self, place: int) -> Indices:
        """The plain state behind every state."""
        if place not in self._known:
            marked = [state for _, state in self._marks[place]]
            self._known[place] = np.array([*range(len(self._base.ones[place])), *marked])
        return self._known[place]

    def _one(self, place: int) -> Costs:
        plain = self._base.ones[place]
        if place and not self._marks[place]:
            return plain
        costs = plain[self._states(place)]
        costs[len(plain) :] += self._prices[place]
        return costs if place else costs + self._forbidden(0, np.array([-1]), len(plain))[0]

    def _two(self, place: int) -> Costs | None:
        two = self._base.twos[place]
        if not self._marks[place - 1] and not self._marks[place]:
            return two
        old, new = self._states(place - 1), self._states(place)
        inside = np.full(len(old), -1)
        if self._goes_on[place - 1]:
            marks = len(self._marks[place - 1])
            inside[len(old) - marks :] = np.arange(marks)
        table = self._forbidden(place, inside, len(new) - len(self._marks[place]))
        return table if two is None else table + two.take(old, 0).take(new, 1)

    def _forbidden(self, place: int, inside: Indices, size: int) -> Costs:
        """Infinite where a state cannot follow: a word goes on by its mark, or is left.

        Parameters
        ----------
        place : int
        inside : array of int
            For each state before, the mark it is, or -1 where no word goes on.
        size : int
            How many plain states there are at the place.
        """
        marks = self._marks[place]
        table = np.zeros((len(inside), size + len(marks)))
        if marks:
            before, states = np.array(marks).T
            goes_on = inside[:, None] == before
            table[:, size:][~goes_on] = np.inf
            rows, columns = goes_on.nonzero()
            table[rows, states[columns]] = np.inf
        return table

    def _three(self, place: int) -> Costs | None:
        three = self._base.threes[place]
        for axis in range(3 if three is not None else 0):
            marks = self._marks[place - 2 + axis]
            if three is not None and marks:
                more = three.take([state for _, state in marks], axis)
                three = np.concatenate((three, more), axis)
        return three

    def _column(self, place: int, before: int, state: int) -> Costs | None:
        first, second, third = (self._states(place - back) for back in (2, 1, 0))
        column = self._base.column(place, int(second[before]), int(third[state]))
        return None if column is None else column[first]
