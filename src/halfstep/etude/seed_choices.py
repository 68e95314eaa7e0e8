"""Which of several ways does a seed take over a chart? What comes again comes otherwise.

Two seeds differ over every chart as they differ over one: what the chart adds is the same
for all of them. Only seed 0 takes the plainest ways of any chart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from halfstep.etude.chart_number import chart_number
from halfstep.etude.palette import Palette
from halfstep.etude.slots import Piece
from halfstep.random_stream import RandomStream

MOST_WAYS = 5040
"""A chart's first way is drawn from so many: whatever number of ways there is divides it."""


def times_over_chart(
    cut: Sequence[Piece], palettes: Sequence[Palette | None], seed: int
) -> list[int]:
    """As `times_before`, but each chord is counted on from a number that its chart has for it."""
    keys = _keys(cut, palettes)
    times = _times(keys)
    if not seed:
        return times
    rng = RandomStream(number_of(cut))
    begun = {key: rng.integers(MOST_WAYS) for key in dict.fromkeys(keys)}
    return [begun[key] + count for key, count in zip(keys, times, strict=True)]


def number_of(cut: Sequence[Piece]) -> int:
    """The number of the chart that was cut."""
    return chart_number({piece.bar.number: piece.bar for piece in cut}.values())


def times_before(cut: Sequence[Piece], palettes: Sequence[Palette | None]) -> list[int]:
    """For each piece how often its chord stood before in the same place of a bar.

    Of a chord that stays, every second bar is counted: up and down are one time.
    """
    return _times(_keys(cut, palettes))


def _times(keys: Sequence[int]) -> list[int]:
    """How often each stood before."""
    counts: Counter[int] = Counter()
    times: list[int] = []
    for key in keys:
        times.append(counts[key])
        counts[key] += 1
    return times


def _keys(cut: Sequence[Piece], palettes: Sequence[Palette | None]) -> list[int]:
    """A number for each piece: the same where a chord comes again in the same place of a bar."""
    numbers: dict[tuple[object, ...], int] = {}
    keys: list[int] = []
    turn = 0
    for number, piece in enumerate(cut):
        palette = palettes[piece.chord]
        turn = turn + 1 if number and cut[number - 1].chord == piece.chord else 0
        key = palette and palette.look, piece.start - piece.bar_start, piece.beats, turn % 2
        keys.append(numbers.setdefault(key, len(numbers)))
    return keys


def manner(seed: int, place: int, times: int, count: int) -> int:
    """Which of ``count`` ways to take in a place, a phrase or a bar; the plainest is 0.

    Neighbouring seeds seldom take the same one. For ``count`` prime any two below its
    square do so in one place of ``count`` at most, below its cube in two: they differ by a
    polynomial of the place. Of two ways each two of four neighbouring seeds take the same
    one in one place of three, any two of sixteen in half of twelve places: three places
    make a word, and the words differ by a polynomial over the field of four elements. What
    comes again comes otherwise.
    """
    if count == 2:
        block = place // 3 % 4
        word = seed % 4 ^ _product(seed // 4 % 4, block)
        word ^= _product(seed // 16 % 4, _product(block, block))
        return (times + (word > 0 and place % 3 != word - 1)) % 2
    return (seed + times + place * (seed // count) + place**2 * (seed // count**2)) % count


def _product(left: int, right: int) -> int:
    """The product of two elements of the field of four."""
    return (left + right - 2) % 3 + 1 if left and right else 0
