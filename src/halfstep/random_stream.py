"""Random numbers from a seed, the same ones on every machine and for good. No music in here.

The numbers are those that NumPy's default generator gives for the same key, bit for bit;
written out, because to load that generator takes as long as all else that a line needs.

Sources: PCG64 is PCG XSL RR 128/64 of O'Neill 2014, "PCG: a family of simple fast
space-efficient statistically good algorithms for random number generation"; the seed is
spread as in her ``randutils::seed_seq_fe`` of 2015, numbers below a bound are drawn after
Lemire 2019, "Fast random integer generation in an interval" (all from memory); checked
against NumPy in the tests.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate
from typing import TypeVar

T = TypeVar("T")

_MASK_32 = 2**32 - 1
_MASK_64 = 2**64 - 1
_MASK_128 = 2**128 - 1
_MULTIPLIER = 0x2360ED051FC65DA44385DF649FCCF645
_POOL = 4
"""Words that a key is mixed into."""


class RandomStream:
    """Random numbers, one after another; what a call gives depends on the calls before it.

    Parameters
    ----------
    *key : int
        Each 0 or more. The same key gives the same numbers.

    >>> round(RandomStream(1).random(), 3), RandomStream(7, 2).integers(3, 7)
    (0.512, 4)
    """

    __slots__ = ("_half", "_increment", "_state")

    def __init__(self, *key: int) -> None:
        words = _spread(_mixed(list(_words(key))))
        self._half: int | None = None
        self._increment = (_joined(words[4:]) << 1 | 1) & _MASK_128
        self._state = self._increment + _joined(words[:4]) & _MASK_128
        self._step()

    def _step(self) -> None:
        self._state = self._state * _MULTIPLIER + self._increment & _MASK_128

    def _bits_64(self) -> int:
        self._step()
        folded, turn = (self._state >> 64 ^ self._state) & _MASK_64, self._state >> 122
        return (folded >> turn | folded << 64 - turn) & _MASK_64

    def _bits_32(self) -> int:
        """The low half of 64 bits; the next time their high half."""
        if self._half is not None:
            bits, self._half = self._half, None
            return bits
        both = self._bits_64()
        self._half = both >> 32
        return both & _MASK_32

    def random(self) -> float:
        """A number from 0 to below 1."""
        return (self._bits_64() >> 11) * 2.0**-53

    def uniform(self, low: float, high: float) -> float:
        """A number from ``low`` to below ``high``."""
        return low + (high - low) * self.random()

    def integers(self, low: int, high: int | None = None) -> int:
        """A whole number from ``low`` to below ``high``; below ``low`` where that is all.

        At most 2³² − 1 of them to choose from.

        Raises
        ------
        ValueError
            When there are more, or none.
        """
        low, count = (0, low) if high is None else (low, high - low)
        if not 0 < count <= _MASK_32:
            raise ValueError(f"{count} numbers to choose from")
        if count == 1:
            return low
        product = self._bits_32() * count
        while product & _MASK_32 < (_MASK_32 + 1 - count) % count:
            product = self._bits_32() * count
        return low + (product >> 32)

    def choice(self, items: Sequence[T], shares: Sequence[float] | None = None) -> T:
        """One of the items, all as likely or each as its share of 1 says."""
        if shares is None:
            return items[self.integers(len(items))]
        return items[self._places(shares, 1)[0]]

    def _places(self, shares: Sequence[float], count: int) -> list[int]:
        sums = list(accumulate(shares))
        edges = [total / sums[-1] for total in sums]
        return [bisect_right(edges, self.random()) for _ in range(count)]

    def several(self, items: Sequence[T], count: int, shares: Sequence[float]) -> list[T]:
        """So many different items, in the order that they were drawn in."""
        left, places = list(shares), list[int]()
        while len(places) < count:
            places += dict.fromkeys(self._places(left, count - len(places)))
            left = [0.0 if place in places else share for place, share in enumerate(shares)]
        return [items[place] for place in places]

    def permutation(self, count: int) -> list[int]:
        """The numbers 0 to ``count - 1`` in any order."""
        numbers = list(range(count))
        for last in range(count - 1, 0, -1):
            place = self._at_most(last)
            numbers[place], numbers[last] = numbers[last], numbers[place]
        return numbers

    def _at_most(self, most: int) -> int:
        mask = (1 << most.bit_length()) - 1
        while (number := self._bits_32() & mask) > most:
            pass
        return number


def _words(key: Sequence[int]) -> Iterator[int]:
    """The numbers as 32 bits each, the lowest first."""
    for number in key:
        if number < 0:
            raise ValueError(f"a key has no number below 0: {number}")
        yield number & _MASK_32
        while number := number >> 32:
            yield number & _MASK_32


class _Hash:
    """Scrambles one word after another, each otherwise."""

    def __init__(self, start: int, factor: int) -> None:
        self._constant = start
        self._factor = factor

    def __call__(self, word: int) -> int:
        word ^= self._constant
        self._constant = self._constant * self._factor & _MASK_32
        word = word * self._constant & _MASK_32
        return word ^ word >> 16


def _mixed(words: Sequence[int]) -> list[int]:
    """A pool in which each word of the key has a part in each word."""
    scrambled = _Hash(0x43B0D7E5, 0x931E8875)
    pool = [scrambled(word) for word in [*words, *[0] * _POOL][:_POOL]]
    for source in range(_POOL):
        for place in range(_POOL):
            if place != source:
                pool[place] = _mix(pool[place], scrambled(pool[source]))
    for word in words[_POOL:]:
        pool = [_mix(old, scrambled(word)) for old in pool]
    return pool


def _mix(left: int, right: int) -> int:
    word = 0xCA01F9DD * left - 0x4973F715 * right & _MASK_32
    return word ^ word >> 16


def _joined(words: Sequence[int]) -> int:
    """Four words as one number of 128 bits; of each two the lower stands first."""
    return words[1] << 96 | words[0] << 64 | words[3] << 32 | words[2]


def _spread(pool: Sequence[int]) -> list[int]:
    """Eight words of 32 bits, as many as the state and the increment have."""
    scrambled = _Hash(0x8B51F9DD, 0x58F38DED)
    return [scrambled(word) for word in [*pool, *pool]]
