"""What do notes cost in the places of a line? Tables of rules and costs, made once for each kind.

Slots that rules and costs cannot tell apart are of one kind and share their tables, however
often a line is drawn and wherever it is laid out anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache, partial
from itertools import accumulate, compress, pairwise
from typing import NamedTuple

import numpy as np

from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.etude.costs import (
    CONTOUR_WEIGHT,
    Cost,
    awkward,
    contour,
    crossing,
    hurried_crossing,
    out_of_hand,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.kept_bars import JOINT
from halfstep.etude.palette import Midis
from halfstep.etude.rules import LocalRule
from halfstep.etude.slot_kinds import SlotKinds
from halfstep.etude.slots import Slot
from halfstep.level import Level
from halfstep.search import HELD, Chain, Costs, Lazy

HAND_WEIGHT = {Level.BEGINNER: 0.6, Level.INTERMEDIATE: 0.4, Level.ADVANCED: 0.25}
"""For a note that lies badly on the instrument, and again for two in a row."""
BREAK_WEIGHT = {Level.BEGINNER: 2.2, Level.INTERMEDIATE: 0.6, Level.ADVANCED: 0.2}
HURRIED = 30.0
"""For a beginner who crosses the break after an eighth or less: more than all else."""
MOST_TABLES = 2000
"""Tables known at a time; a table for three notes may take 100 kB."""


class CostTables:
    """Tables over the notes that slots may hold, for one step and one brief.

    Parameters
    ----------
    rules : sequence of LocalRule
        Infinite costs; high ones beside notes that stand.
    costs : sequence of Cost
        Beside those of the player's instrument.
    brief : Brief
    contour_weight : float
        What being away from the height that is aimed at counts.
    """

    def __init__(
        self,
        rules: Sequence[LocalRule],
        costs: Sequence[Cost],
        brief: Brief,
        contour_weight: float = CONTOUR_WEIGHT,
    ) -> None:
        self._contour_weight = contour_weight
        self._rules = rules
        self._costs = [*costs, *playability(brief)]
        self._grid = np.arange(brief.concert_low, brief.concert_high + 1)
        self._known: dict[tuple[object, ...], Costs] = {}
        self._grids: dict[tuple[int, tuple[bool, ...]], Costs] = {}
        self._asked = {width: self._all_asked(width) for width in (1, 2, 3)}
        self._alone = {width: asked.among(alone=True) for width, asked in self._asked.items()}
        self._placed = {width: asked.among(alone=False) for width, asked in self._asked.items()}
        self._kinds = SlotKinds(self._asked[1].rules, self._grid)

    def _all_asked(self, width: int) -> _Asked:
        """The costs and rules for so many notes in a row."""
        return _Asked(
            tuple(cost for cost in self._costs if cost.width == width),
            tuple(rule for rule in self._rules if rule.width == width),
        )

    def chain(self, slots: Sequence[Slot]) -> tuple[Chain, list[Midis]]:
        """The costs of slots in a row as a chain, and the MIDI numbers its states stand for."""
        kinds = [self._kinds.number(slot) for slot in slots]
        changes = [False, *(old.palette is not new.palette for old, new in pairwise(slots))]

        def table(width: int, place: int) -> Costs:
            first = place - width + 1
            own = (*changes[first + 1 : place + 1], *kinds[first : place + 1])
            known = self._known.get(own)
            return self._table_of(slots[first : place + 1], own) if known is None else known

        midis = [self._kinds[kind].notes for kind in kinds]
        sizes = [len(notes) for notes in midis]
        heights = np.repeat([slot.target for slot in slots], sizes)
        flat = np.concatenate([table(1, place) for place in range(len(slots))])
        flat += contour(np.concatenate(midis), heights, self._contour_weight)
        ones = [flat[low:high] for low, high in pairwise((0, *accumulate(sizes)))]
        twos = Lazy[Costs | None](len(slots), lru_cache(HELD)(partial(table, 2)))
        threes = Lazy[Costs | None](len(slots), lru_cache(HELD)(partial(table, 3)))
        return Chain(ones, twos, threes), midis

    def _table_of(self, window: Sequence[Slot], own: tuple[int, ...]) -> Costs:
        """The table of a window, whose own key ends with the kinds of its slots."""
        kinds = own[-len(window) :]
        if len(self._known) >= MOST_TABLES:
            self._known.clear()
        own_kinds = [self._kinds[kind] for kind in kinds]
        whole = (*own[: -len(window)], *(kind.base for kind in own_kinds))
        if whole == own:
            asked = self._placed[len(window)].there(window)
            shared: tuple[object, ...] = own
            if len(window) > 1 and asked == _NOTHING and not any(slot.stands for slot in window):
                shared = (self._counting(window), *(kind.notes_number for kind in own_kinds))
            table = self._known.get(shared)
            if table is None:
                table = self._made(window, [kind.notes for kind in own_kinds], asked)
            self._known[shared] = table
        else:
            table = self._known.get(whole)
            if table is None:
                table = self._table_of(window, whole)
            table = table[tuple(kind.part for kind in own_kinds)]
        self._known[own] = table
        return table

    def _made(self, window: Sequence[Slot], notes: Sequence[Midis], placed: _Asked) -> Costs:
        """Summed costs of all open notes in a window.

        Infinite where a rule forbids; high where it is broken beside notes that stand.
        """
        width, standing = len(window), [slot.stands for slot in window]
        midis = _axes(notes)
        costs, rules = placed
        if any(standing):
            costs, rules = self._asked[width].there(window)
            table = np.zeros([len(choices) for choices in notes])
        else:
            low = self._grid[0]
            table = self._of_grid(width, self._counting(window))[tuple(m - low for m in midis)]
        for cost in costs:
            table += cost.weight * cost.amount(window, midis)
        if width > 1 and not all(standing):
            price = JOINT if any(standing) else np.inf
            for rule in rules:
                table += np.where(rule.holds(window, midis), 0.0, price)
        return table

    def _counting(self, window: Sequence[Slot]) -> tuple[bool, ...]:
        """Which costs and rules that ask notes alone count there."""
        costs, rules = self._alone[len(window)]
        counting = [cost.applies(window) for cost in costs]
        return (*counting, *(rule.applies(window) for rule in rules))

    def _of_grid(self, width: int, counting: tuple[bool, ...]) -> Costs:
        """What any notes of the range cost in a row, wherever they stand."""
        known = self._grids.get((width, counting))
        if known is None:
            costs, rules = self._alone[width]
            midis = _axes([self._grid] * width)
            known = np.zeros([len(self._grid)] * width)
            for cost in compress(costs, counting):
                known += cost.weight * cost.amount((), midis)
            for rule in compress(rules, counting[len(costs) :]):
                known += np.where(rule.holds((), midis), 0.0, np.inf)
            self._grids[width, counting] = known
        return known


class _Asked(NamedTuple):
    """Costs and rules for notes in a row."""

    costs: tuple[Cost, ...]
    rules: tuple[LocalRule, ...]

    def there(self, window: Sequence[Slot]) -> _Asked:
        """Those that apply to a window."""
        return _Asked(
            tuple(cost for cost in self.costs if cost.applies(window)),
            tuple(rule for rule in self.rules if rule.applies(window)),
        )

    def among(self, *, alone: bool) -> _Asked:
        """Those that ask notes alone, or those that do not."""
        return _Asked(
            tuple(cost for cost in self.costs if cost.asks_notes_alone is alone),
            tuple(rule for rule in self.rules if rule.asks_notes_alone is alone),
        )


_NOTHING = _Asked((), ())


def _axes(notes: Sequence[Midis]) -> list[Midis]:
    """Notes of places in a row, each along an axis of its own."""
    after = range(len(notes) - 1, -1, -1)
    return [choices[(..., *[None] * more)] for choices, more in zip(notes, after, strict=True)]


def unhurried(brief: Brief) -> Cost | None:
    """What keeps the crossings few that a beginner has to make after an eighth or less."""
    return None if brief.barrier is None else hurried_crossing(brief.barrier, HURRIED)


def playability(brief: Brief) -> list[Cost]:
    """What is hard on the player's instrument: its break, notes and pairs that lie badly."""
    instrument = brief.instrument
    down = instrument.rise.semitones
    costs: list[Cost] = []
    if instrument.break_midi is not None:
        costs.append(crossing(instrument.break_midi - down, BREAK_WEIGHT[brief.level]))
    if hurried := unhurried(brief):
        costs.append(hurried)
    if instrument.easy is not None:
        easy = instrument.easy.low.midi - down, instrument.easy.high.midi - down
        costs += out_of_hand(easy, HAND_WEIGHT[brief.level])
    if pairs := awkward_pairs(instrument):
        costs += awkward(pairs, HAND_WEIGHT[brief.level])
    return costs
