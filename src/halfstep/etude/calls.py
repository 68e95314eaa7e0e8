"""Calls: bars that are played, and bars that are left for the player to answer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.etude.palette import Flags, Midis
from halfstep.etude.rules import palette_at
from halfstep.etude.slots import Slot

CALL_BARS = 2
"""Bars of a call, and of the answer that is left open."""
ASKS = 9
"""The motif of a slot that ends a question."""


def call_bars(bars: int) -> set[int]:
    """Numbers of the bars that are played: two of every four; half of what is left.

    >>> sorted(call_bars(10)), sorted(call_bars(3))
    ([1, 2, 5, 6, 9], [1, 2])
    """
    played = {n for n in range(1, bars + 1) if (n - 1) % (2 * CALL_BARS) < CALL_BARS}
    left = bars % (2 * CALL_BARS)
    return played - ({bars} if left == CALL_BARS else set())


def off_root(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A chord tone that is not the root, where the player has one."""
    palette = palette_at(slots[0])
    open_end = palette.tones & (np.arange(128) % 12 != palette.root_class)
    return (open_end if open_end.any() else palette.tones)[midis[0]]


def asks(slots: Sequence[Slot]) -> bool:
    """True for the last note of a question."""
    return slots[0].motif == ASKS
