"""Which places of a line hold the same notes for the same costs? Kinds of slots, numbered.

Slots that rules and costs cannot tell apart are of one kind, wherever and however often they are
laid out.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import HIGH_POINT, LocalRule
from halfstep.etude.slots import Slot

MOST_SLOTS = 2000
"""Slots whose kind is known at a time."""


class SlotKind(NamedTuple):
    """Notes that a slot may hold.

    Below a high point they are some in a row of those of its base, the same kind without one: no
    cost looks at a high point, nor does a rule for several notes, so that tables are parts of the
    base's.
    """

    notes: Midis
    notes_number: int
    base: int
    part: slice


class SlotKinds:
    """The kinds that are met, in the order they are met in.

    Parameters
    ----------
    rules : sequence of LocalRule
        For one note.
    grid : array of int
        MIDI numbers of the player's range.
    """

    def __init__(self, rules: Sequence[LocalRule], grid: Midis) -> None:
        self._rules, self._grid = rules, grid
        self._kinds: list[SlotKind] = []
        self._numbers: dict[tuple[object, ...], int] = {}
        self._slots: dict[int, tuple[Slot, int]] = {}
        self._looks: dict[Palette | None, int] = {}
        self._look_numbers: dict[tuple[object, ...], int] = {(): 0}
        self._note_numbers: dict[bytes, int] = {}

    def __getitem__(self, number: int) -> SlotKind:
        return self._kinds[number]

    def number(self, slot: Slot) -> int:
        """The number of a slot's kind; of one and the same slot it is known."""
        known = self._slots.get(id(slot))
        if known is None:
            if len(self._slots) >= MOST_SLOTS:
                self._slots.clear()
            known = self._slots[id(slot)] = (slot, self._numbered(slot))
        return known[1]

    def _numbered(self, slot: Slot) -> int:
        """The number of its kind, a new one for a new kind."""
        look = (self._look(slot.palette), *slot.marks)
        number = self._numbers.get(look)
        if number is not None:
            return number
        free = (*look[:-2], None, False)
        base = self._numbers.get(free)
        if base is None:
            base = self._new_kind(free, self._open_midis(slot))
        if look == free:
            return base
        notes = self[base].notes
        within = np.flatnonzero(self._within(slot, notes))
        low, high = (within[0], within[-1] + 1) if len(within) else (0, 0)
        return self._new_kind(look, notes[low:high], base, low)

    def _new_kind(
        self, look: tuple[object, ...], notes: Midis, base: int | None = None, start: int = 0
    ) -> int:
        number = self._numbers[look] = len(self._kinds)
        notes_number = self._note_numbers.setdefault(notes.tobytes(), len(self._note_numbers))
        base = number if base is None else base
        self._kinds.append(SlotKind(notes, notes_number, base, slice(start, start + len(notes))))
        return number

    def _look(self, palette: Palette | None) -> int:
        """A number for how a palette looks, which is dear to compare."""
        if palette not in self._looks:
            look = palette.look if palette else ()
            number = self._look_numbers.setdefault(look, len(self._look_numbers))
            self._looks[palette] = number
        return self._looks[palette]

    def _open_midis(self, slot: Slot) -> Midis:
        """The MIDI numbers that no rule for one note forbids, but for that of a high point."""
        if slot.stands:
            return np.array([slot.pin])
        if slot.pin is not None:
            return np.asarray(self._grid[self._grid == slot.pin])
        allowed = np.ones(len(self._grid), bool)
        for rule in self._rules:
            if rule is not HIGH_POINT and rule.applies([slot]):
                allowed &= rule.holds([slot], [self._grid])
        return self._grid[allowed]

    def _within(self, slot: Slot, notes: Midis) -> Flags:
        """Which of the notes a high point leaves."""
        is_bound = HIGH_POINT in self._rules and slot.pin is None
        return HIGH_POINT.holds([slot], [notes]) if is_bound else np.ones(len(notes), np.bool_)
