"""Which strokes fill a bar? Figures written on a grid, dealt so that none comes twice running.

A figure is a row of signs, one for each equal step of what it fills: a letter is a stroke,
``-`` holds it, ``.`` is a rest, a blank only parts. ``"T-P-"`` over two beats is two quarters.
A table has figures for whole bars by the lengths of their groups, and for single groups, so
that a bar of any metre is filled: as a whole where the table has it, else group by group.

Conventions
-----------
- Places are beats from the start of bar 1, lengths are beats.
- Players deal figures like cards: each comes once before one comes again, so that a
  figure's share is its share of the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from random import Random
from typing import Generic, TypeVar

from halfstep.backing.bar_layout import BarLayout

T = TypeVar("T")

Groups = tuple[Fraction, ...]
"""The lengths of the groups that a figure fills."""

FigureTable = Mapping[Groups, Sequence[str]]
"""Figures by what they fill; one that stands twice comes twice as often."""


def groups(*beats: float) -> Groups:
    """A key of a table: ``groups(2, 2)`` is a bar of four, ``groups(1.5)`` three eighths."""
    return tuple(Fraction(length) for length in beats)


@dataclass(frozen=True, slots=True)
class FigureStroke:
    """One stroke of a figure.

    Attributes
    ----------
    onset, beats : Fraction
    sign : str
        The letter that asks for it.
    """

    onset: Fraction
    beats: Fraction
    sign: str

    @property
    def end(self) -> Fraction:
        """Where it is let go."""
        return self.onset + self.beats

    def fits(self, bar: BarLayout, grid: Fraction) -> bool:
        """True where it begins on a grid of so many beats from the start of its bar."""
        return (self.onset - bar.start) % grid == 0


def finest_grid(quarter_s: float) -> Fraction:
    """The grid in beats that a hand can play at a tempo: sixteenths, or eighths at fast ones.

    >>> str(finest_grid(0.5)), str(finest_grid(0.25))
    ('1/4', '1/2')
    """
    return SIXTEENTH if quarter_s / 4 >= _LEAST_S else 2 * SIXTEENTH


SIXTEENTH = Fraction(1, 4)
_LEAST_S = 0.085  # between strokes of one hand, common practice, no source


@lru_cache(maxsize=2048)
def figure_strokes(figure: str, beats: Fraction) -> tuple[FigureStroke, ...]:
    """The strokes of a figure that fills so many beats, from 0.

    >>> [(s.sign, str(s.onset), str(s.beats)) for s in figure_strokes("R--F .P", Fraction(3))]
    [('R', '0', '3/2'), ('F', '3/2', '1/2'), ('P', '5/2', '1/2')]
    """
    signs = figure.replace(" ", "")
    step = beats / len(signs)
    return tuple(
        FigureStroke(n * step, _held_steps(signs, n) * step, sign)
        for n, sign in enumerate(signs)
        if sign not in "-."
    )


def _held_steps(signs: str, n: int) -> int:
    """The stroke and the holds behind it."""
    rest = signs[n + 1 :]
    return 1 + len(rest) - len(rest.lstrip("-"))


class Dealer(Generic[T]):
    """Deals choices by their key: each once before one comes again, none twice running."""

    def __init__(self, random: Random) -> None:
        self._random = random
        self._decks: dict[object, list[T]] = {}
        self._last: dict[object, T] = {}

    def deal(self, key: object, choices: Sequence[T]) -> T:
        """The next of the choices under a key."""
        deck = self._decks.setdefault(key, [])
        if not deck:
            deck.extend(self._random.sample(choices, len(choices)))
        unlike = (n for n in reversed(range(len(deck))) if deck[n] != self._last.get(key))
        self._last[key] = deck.pop(next(unlike, len(deck) - 1))
        return self._last[key]


def bar_strokes(
    bar: BarLayout, table: FigureTable, dealer: Dealer[str], *, plain: Sequence[str]
) -> Iterator[FigureStroke]:
    """The strokes of a bar in order; ``plain`` figures where the table has nothing."""
    start = bar.start
    for piece in _pieces(bar, table):
        length = sum(piece, Fraction(0))
        figure = dealer.deal(piece, table.get(piece) or plain)
        for stroke in figure_strokes(figure, length):
            yield FigureStroke(start + stroke.onset, stroke.beats, stroke.sign)
        start += length


def _pieces(bar: BarLayout, table: FigureTable) -> Sequence[Groups]:
    """A bar cut into what the table has figures for."""
    lengths = tuple(group.beats for group in bar.groups)
    if lengths in table:
        return (lengths,)
    return [piece for length in lengths for piece in _cut(length, table)]


def _cut(length: Fraction, table: FigureTable) -> Iterator[Groups]:
    """A group as the longest lengths that the table has, and what is left over."""
    singles = sorted((key[0] for key in table if len(key) == 1), reverse=True)
    while length > 0:
        piece = next((single for single in singles if single <= length), length)
        yield (piece,)
        length -= piece
