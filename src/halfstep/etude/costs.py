"""What makes one line better than another? Every musical cost is one small function.

A cost looks at one, two or three notes in a row, as MIDI numbers in arrays that
broadcast, and returns what they cost. Costs have no unit; one is about what a listener
would notice. They are kept apart from the search, which adds them up.

Source: common practice, no source.
"""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from halfstep.etude.palette import Flags, Midis
from halfstep.etude.rules import FIFTH, palette_at
from halfstep.etude.slots import Slot
from halfstep.meter import EIGHTH

Amounts = np.ndarray[Any, np.dtype[np.float64]]
TEMPERATURE = 0.35
"""In units of cost: how far a sampled line may lie from the best one."""
CONTOUR_WEIGHT = 0.35
"""What a fourth away from the height that is aimed at costs."""
CONTOUR_REACH = 0.6
"""How far the contour goes from the middle of the range, as a share of half of it."""
NEAR_MIDDLE, NEAR_REACH = 0.35, 0.2
"""Both in the steps before theory, so that they stay where a player is at home."""
# semitones:            0    1    2    3    4    5    6    7    8    9   10   11   12
_STEPWISE = np.array([3.0, 0.0, 0.0, 0.5, 0.7, 1.5, 2.5, 1.9, 2.9, 3.0, 4.0, 4.5, 4.0])
_SKIPPING = np.array([3.0, 0.0, 0.0, 0.4, 0.6, 0.7, 2.5, 1.0, 2.0, 2.2, 4.0, 4.5, 4.0])
_WIDER = 6.0
TRILL = 4.0
"""How much dearer two notes that lie badly are when they alternate quickly."""


def _always(_slots: Sequence[Slot]) -> bool:
    return True


class Cost(NamedTuple):
    """A cost for ``width`` notes in a row, with its weight; ``applies`` says in which slots.

    One that asks notes alone is given no slots, so that its table is made once for a line.
    """

    width: int
    amount: Callable[[Sequence[Slot], Sequence[Midis]], Amounts]
    weight: float
    applies: Callable[[Sequence[Slot]], bool] = _always
    asks_notes_alone: bool = False


def of_notes(
    width: int,
    amount: Callable[[Sequence[Slot], Sequence[Midis]], Amounts],
    weight: float,
    applies: Callable[[Sequence[Slot]], bool] = _always,
) -> Cost:
    """A cost that asks notes alone."""
    return Cost(width, amount, weight, applies, asks_notes_alone=True)


def by_size(table: Amounts, midis: Sequence[Midis]) -> Amounts:
    """What a table says of each interval, by its semitones."""
    size = np.abs(midis[1] - midis[0])
    return np.where(size < len(table), table[np.minimum(size, len(table) - 1)], _WIDER)


def stepwise(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Steps are free, thirds cheap, the rest dearer the wider."""
    return by_size(_STEPWISE, midis)


def skipping(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Mostly steps, and now and then a fourth or a fifth."""
    return by_size(_SKIPPING, midis)


def beyond_fifth(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Wider than a fifth costs one."""
    return np.where(np.abs(midis[1] - midis[0]) > FIFTH, 1.0, 0.0)


def beyond_step(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Wider than a step costs one."""
    return np.where(np.abs(midis[1] - midis[0]) > 2, 1.0, 0.0)


def new_note_first(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A new chord shows itself: by a changing note, else by its third or seventh."""
    if slots[0].entry:
        return np.zeros(1)
    palette = palette_at(slots[0])
    midi = midis[0]
    return np.where(palette.changing[midi], 0.0, np.where(palette.guide[midi], 0.5, 1.2))


def rooted(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """On strong beats a chord tone, best one of the arpeggio."""
    if not slots[0].strong:
        return np.zeros(1)
    palette = palette_at(slots[0])
    midi = midis[0]
    return np.where(palette.core[midi], 0.0, np.where(palette.tones[midi], 0.4, 1.5))


def comes_to_rest(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """The last note is the root or the third."""
    if not slots[0].last:
        return np.zeros(1)
    palette = palette_at(slots[0])
    midi = midis[0]
    above = (midi - palette.root_class) % 12
    price = np.array([0.0, 5.0, 5.0, 0.4, 0.4, *[1.5] * 7])
    return np.where(palette.core[midi], price[above], 5.0)


def pauses(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A phrase ends on a chord tone, and least of all on the fourth over a major third."""
    if not slots[0].closes:
        return np.zeros(1)
    palette = palette_at(slots[0])
    midi = midis[0]
    return np.where(palette.tones[midi], 0.0, np.where(palette.avoid[midi], 4.0, 2.0))


def lingering(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note of a beat or more does not stay on the fourth over a major third."""
    if slots[0].beats < 1:
        return np.zeros(1)
    return np.where(palette_at(slots[0]).avoid[midis[0]], 1.0, 0.0)


def tells(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note costs what it does not tell of its chord, in nats under the best note's."""
    gains = palette_at(slots[0]).gain[slots[0].weight]
    return np.asarray(gains.max() - gains[midis[0]])


def unlike_figure(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Each step of the scale more or less than the figure has costs one."""
    rank, wanted = palette_at(slots[1]).scale_rank, slots[1].motif or 0
    return np.asarray(np.abs(rank[midis[1]] - rank[midis[0]] - wanted), float)


def in_figure(slots: Sequence[Slot]) -> bool:
    """True between two notes of a figure."""
    return slots[1].motif is not None


def turning(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A turn costs a little, so that lines have length."""
    first, second, third = midis
    return np.where((third - second) * (second - first) < 0, 1.0, 0.0)


def returning(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """There and straight back again says nothing new."""
    first, second, third = midis
    return np.where((first == third) & (first != second), 1.0, 0.0)


def leaping_twice(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Two skips in one direction are hard to hear and to play."""
    first, second, third = midis
    low, high = second - first, third - second
    return np.where((low * high > 0) & (np.abs(low) > 4) & (np.abs(high) > 4), 1.0, 0.0)


def recovering(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """After a leap of a fourth or more the line turns back, best by step."""
    first, second, third = midis
    leap, after = second - first, third - second
    back = np.where(np.abs(after) <= 2, 0.0, 0.4)
    return np.where(np.abs(leap) > 4, np.where(leap * after < 0, back, 1.0), 0.0)


def rocking(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """Two skips of nearly the same size up and down rock in one place."""
    first, second, third = midis
    low, high = second - first, third - second
    turned = (low * high < 0) & (np.abs(low) > 2) & (np.abs(high) > 2)
    return np.where(turned & (np.abs(low + high) <= 2), 1.0, 0.0)


def crossing(break_midi: int, weight: float) -> Cost:
    """The cost of crossing an instrument's register break, a concert MIDI number."""

    def crosses(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
        return np.where((midis[0] <= break_midi) != (midis[1] <= break_midi), 1.0, 0.0)

    return of_notes(2, crosses, weight)


def hurried_crossing(break_midi: int, weight: float) -> Cost:
    """The cost of crossing a register break after an eighth or less."""
    across = crossing(break_midi, weight)
    return across._replace(applies=_hurried)


def _hurried(slots: Sequence[Slot]) -> bool:
    """True after a short note."""
    return slots[0].beats <= EIGHTH


def out_of_hand(easy: tuple[int, int], weight: float) -> tuple[Cost, Cost]:
    """The cost of notes that lie badly, and of two in a row: concert MIDI numbers, both ends."""
    low, high = easy

    def hard(midi: Midis) -> Flags:
        return np.asarray((midi < low) | (midi > high))

    def lies_badly(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
        return np.where(hard(midis[0]), 1.0, 0.0)

    def one_to_another(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
        return np.where(hard(midis[0]) & hard(midis[1]), 1.0, 0.0)

    return Cost(1, lies_badly, weight), of_notes(2, one_to_another, weight)


def awkward(pairs: frozenset[tuple[int, int]], weight: float) -> tuple[Cost, Cost]:
    """The cost of pairs of concert MIDI numbers that lie badly, and of quick trills on them.

    Any other alternation is free.
    """
    known = np.zeros((128, 128), bool)
    for low, high in pairs:
        known[low, high] = known[high, low] = True

    def slides(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
        return np.where(known[midis[0], midis[1]], 1.0, 0.0)

    def alternating(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
        first, second, third = midis
        return np.asarray(known[first, second] & (first == third), float)

    return of_notes(2, slides, weight), of_notes(3, alternating, TRILL * weight, _quick)


def _quick(slots: Sequence[Slot]) -> bool:
    """True where two short notes lead to a third."""
    return max(slot.beats for slot in slots[:2]) < 1


def contour(midis: Midis, heights: Amounts, weight: float) -> Amounts:
    """What it costs to be away from the heights the line is led to; a fourth costs one."""
    return np.asarray(weight * ((midis - heights) / 5.0) ** 2)
