"""Calls: bars that are played, and bars that are left for the player to answer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.etude.palette import Flags, Midis, Palette
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
    """A chord tone that is not the root, where the player has one.

    One that fits where it is played back; else another note of the scale that does.
    """
    palette = palette_at(slots[0])
    off = np.arange(128) % 12 != palette.root_class
    back = plays_back(slots[0])
    restful = palette.scale & ~rubbing(palette)
    offers = (palette.tones & off & back, restful & off & back, palette.tones & off)
    return next((notes for notes in offers if notes.any()), palette.tones)[midis[0]]


def plays_back(slot: Slot) -> Flags:
    """Which MIDI numbers fit where a slot is played back; all where it is not."""
    return fitting_back(slot.echo)


def fitting_back(echo: frozenset[int] | None) -> Flags:
    """Which MIDI numbers belong to those pitch classes; all for None."""
    classes = range(12) if echo is None else echo
    return np.isin(np.arange(128) % 12, list(classes))


def rubbing(palette: Palette) -> Flags:
    """Which MIDI numbers lie a half step above a tone of the arpeggio, and are no chord tone."""
    above = (np.flatnonzero(palette.core) + 1) % 12
    return np.isin(np.arange(128) % 12, above) & ~palette.tones


def asks(slots: Sequence[Slot]) -> bool:
    """True for the last note of a question."""
    return slots[0].motif == ASKS
