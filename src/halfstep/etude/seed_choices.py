"""Which of several ways does a seed take? What comes again comes otherwise."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from halfstep.etude.palette import Palette
from halfstep.etude.slots import Piece


def times_before(cut: Sequence[Piece], palettes: Sequence[Palette | None]) -> list[int]:
    """For each piece how often its chord stood before in the same place of a bar.

    Of a chord that stays, every second bar is counted: up and down are one time.
    """
    counts: Counter[tuple[object, ...]] = Counter()
    times: list[int] = []
    turn = 0
    for number, piece in enumerate(cut):
        palette = palettes[piece.chord]
        turn = turn + 1 if number and cut[number - 1].chord == piece.chord else 0
        key = (palette and palette.look, piece.start - piece.bar_start, piece.beats, turn % 2)
        times.append(counts[key])
        counts[key] += 1
    return times


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
