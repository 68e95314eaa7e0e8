"""What do notes cost in the places of a line? Tables of rules and costs, made once for each kind.

Slots that rules and costs cannot tell apart are of one kind and share their tables, however
often a line is drawn and wherever it is laid out anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache, partial
from itertools import pairwise

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
from halfstep.etude.palette import Midis, Palette
from halfstep.etude.rules import LocalRule
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
        self._numbers: dict[tuple[object, ...], int] = {}
        self._looks: dict[Palette | None, int] = {}
        self._look_numbers: dict[tuple[object, ...], int] = {(): 0}
        self._open: list[Midis] = []
        self._notes: list[int] = []
        self._note_numbers: dict[bytes, int] = {}
        self._known: dict[tuple[object, ...], Costs] = {}
        self._of_three: dict[tuple[bool, ...], Costs] = {}
        self._placed_rules = [r for r in rules if r.width == 3 and not r.asks_notes_alone]

    def chain(self, slots: Sequence[Slot]) -> tuple[Chain, list[Midis]]:
        """The costs of slots in a row as a chain, and the MIDI numbers its states stand for."""
        kinds = [self._kind(slot) for slot in slots]
        changes = [False, *(old.palette is not new.palette for old, new in pairwise(slots))]

        def table(width: int, place: int) -> Costs:
            first = place - width + 1
            own = (*changes[first + 1 : place + 1], *kinds[first : place + 1])
            known = self._known.get(own)
            return self._table_of(slots[first : place + 1], own) if known is None else known

        midis = [self._open[kind] for kind in kinds]
        ones = [
            table(1, place) + contour(slot, midis[place], self._contour_weight)
            for place, slot in enumerate(slots)
        ]
        twos = Lazy[Costs | None](len(slots), lru_cache(HELD)(partial(table, 2)))
        threes = Lazy[Costs | None](len(slots), lru_cache(HELD)(partial(table, 3)))
        return Chain(ones, twos, threes), midis

    def _kind(self, slot: Slot) -> int:
        kind = (self._look(slot.palette), *slot.marks)
        number = self._numbers.setdefault(kind, len(self._open))
        if number == len(self._open):
            notes = self._open_midis(slot)
            self._open.append(notes)
            known = self._note_numbers.setdefault(notes.tobytes(), len(self._note_numbers))
            self._notes.append(known)
        return number

    def _look(self, palette: Palette | None) -> int:
        """A number for how a palette looks, which is dear to compare."""
        if palette not in self._looks:
            look = palette.look if palette else ()
            number = self._look_numbers.setdefault(look, len(self._look_numbers))
            self._looks[palette] = number
        return self._looks[palette]

    def _open_midis(self, slot: Slot) -> Midis:
        """The MIDI numbers that no rule for one note forbids."""
        if slot.stands:
            return np.array([slot.pin])
        if slot.pin is not None:
            return np.asarray(self._grid[self._grid == slot.pin])
        allowed = np.ones(len(self._grid), bool)
        for rule in self._rules:
            if rule.width == 1 and rule.applies([slot]):
                allowed &= rule.holds([slot], [self._grid])
        return self._grid[allowed]

    def _table_of(self, window: Sequence[Slot], own: tuple[int, ...]) -> Costs:
        """The table of a window, whose own key ends with the kinds of its slots."""
        kinds = own[-len(window) :]
        if len(self._known) >= MOST_TABLES:
            self._known.clear()
        shared = self._shared_key(window, kinds) or own
        table = self._known.get(shared)
        if table is None:
            table = self._made(window, [self._open[kind] for kind in kinds])
        self._known[own] = self._known[shared] = table
        return table

    def _shared_key(self, window: Sequence[Slot], kinds: Sequence[int]) -> tuple[object, ...]:
        """What windows with the same table have in common; empty where only their kinds have.

        Of three notes most of what counts is the notes: places with the same ones share it.
        """
        if len(window) < 3 or any(slot.stands for slot in window):
            return ()
        if any(rule.applies(window) for rule in self._placed_rules):
            return ()
        return (self._counting(window), *(self._notes[kind] for kind in kinds))

    def _counting(self, window: Sequence[Slot]) -> tuple[bool, ...]:
        """Which costs for three notes count there."""
        return tuple(cost.applies(window) for cost in self._costs if cost.width == 3)

    def _made(self, window: Sequence[Slot], notes: Sequence[Midis]) -> Costs:
        """Summed costs of all open notes in a window.

        Infinite where a rule forbids; high where it is broken beside notes that stand.
        """
        axes = range(len(notes) - 1, -1, -1)
        midis = [
            choices[(..., *[None] * after)] for choices, after in zip(notes, axes, strict=True)
        ]
        standing = [slot.stands for slot in window]
        alone = len(window) == 3 and not any(standing)
        if alone:
            low = self._grid[0]
            table = self._threes(self._counting(window))[
                np.ix_(*(choices - low for choices in notes))
            ]
        else:
            table = np.zeros([len(choices) for choices in notes])
            for cost in self._costs:
                if cost.width == len(window) and cost.applies(window):
                    table += cost.weight * cost.amount(window, midis)
        if len(window) == 1 or all(standing):
            return table
        price = JOINT if any(standing) else np.inf
        for rule in self._placed_rules if alone else self._rules:
            if rule.width == len(window) and rule.applies(window):
                table += np.where(rule.holds(window, midis), 0.0, price)
        return table

    def _threes(self, counting: tuple[bool, ...]) -> Costs:
        """What any three notes of the range cost in a row, wherever they stand."""
        if counting not in self._of_three:
            grid = self._grid
            midis = [grid[:, None, None], grid[None, :, None], grid[None, None, :]]
            table = np.zeros([len(grid)] * 3)
            wide = [cost for cost in self._costs if cost.width == 3]
            for cost, counts in zip(wide, counting, strict=True):
                if counts:
                    table += cost.weight * cost.amount((), midis)
            for rule in self._rules:
                if rule.asks_notes_alone:
                    table[~np.broadcast_to(rule.holds((), midis), table.shape)] = np.inf
            self._of_three[counting] = table
        return self._of_three[counting]


def unhurried(brief: Brief) -> Cost | None:
    """What keeps the crossings few that a beginner has to make after an eighth or less."""
    return None if brief.barrier is None else hurried_crossing(brief.barrier, HURRIED)


def playability(brief: Brief) -> list[Cost]:
    """What is hard on the player's instrument: its break, notes and pairs that lie badly."""
    instrument = brief.instrument
    down = instrument.rise.semitones
    costs: list[Cost] = []
    if instrument.break_midi is not None:
        across = crossing(instrument.break_midi - down, BREAK_WEIGHT[brief.level])
        costs += [across] if across else []
    if hurried := unhurried(brief):
        costs.append(hurried)
    if instrument.easy is not None:
        easy = instrument.easy.low.midi - down, instrument.easy.high.midi - down
        costs += out_of_hand(easy, HAND_WEIGHT[brief.level])
    if pairs := awkward_pairs(instrument):
        costs += awkward(pairs, HAND_WEIGHT[brief.level])
    return costs
