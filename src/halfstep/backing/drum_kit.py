"""Which key of the kit is which drum, and what is one stroke on it?

Source: General MIDI 1 for the keys; the swirl and the slap of a brush kit as in Roland's
table of kits (program 40), from memory. In that kit the snare's key is a tap of the brush.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

KICK, SIDE_STICK, SNARE, SLAP, SWIRL = 36, 37, 38, 39, 40
CLOSED_HAT, PEDAL_HAT, OPEN_HAT = 42, 44, 46
FLOOR_TOM, LOW_TOM, HIGH_TOM = 43, 45, 48
CRASH, RIDE = 49, 51
HIGH_BLOCK = 76

STANDARD_KIT, BRUSH_KIT = 0, 40
"""Programs of kits."""


class Stroke(NamedTuple):
    """One stroke in a bar.

    Attributes
    ----------
    at : Fraction
        Beats from the start of its bar.
    key : int
        General MIDI.
    velocity : int
        1 to 127.
    """

    at: Fraction
    key: int
    velocity: int


def place_in_bar(stroke: Stroke) -> tuple[float, int]:
    """What strokes are sorted by: place, then key."""
    return float(stroke.at), stroke.key
