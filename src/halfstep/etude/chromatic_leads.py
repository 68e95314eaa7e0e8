"""Which notes have to lead into a chord tone from outside the scale? Of the advanced a third.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

import numpy as np

from halfstep.etude.palette import Flags, Midis
from halfstep.etude.rules import LocalRule, palette_at
from halfstep.etude.slots import Slot
from halfstep.random_stream import RandomStream

CHROMATIC_SHARE = Fraction(2, 5)
"""Of the places where notes lead on, how many are to be chromatic, where the player has such notes:
a little more than the third that is asked of the advanced."""


def from_outside(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A half step into a chord tone, from outside the scale."""
    old, new = midis
    outside = ~palette_at(slots[0]).scale[old]
    return np.asarray(outside & palette_at(slots[1]).tones[new] & (np.abs(new - old) == 1))


def is_chromatic(slots: Sequence[Slot]) -> bool:
    """True where the first note is to come from outside the scale."""
    return slots[0].strict


FROM_OUTSIDE = LocalRule(
    "a leading note that is to be chromatic comes from outside the scale",
    2,
    from_outside,
    is_chromatic,
)


def with_chromatic_leads(
    slots: Sequence[Slot],
    leading: Sequence[int],
    rng: RandomStream,
    share: Fraction = CHROMATIC_SHARE,
) -> list[Slot]:
    """The slots, those marked that have to lead from outside the scale.

    Parameters
    ----------
    slots : sequence of Slot
    leading : sequence of int
        The places whose notes lead to the next.
    rng : RandomStream
        Chooses among those where the player has such a note.
    share : Fraction
        How many of them are to be chromatic.
    """
    able = [place for place in leading if _has_chromatic(slots[place], slots[place + 1])]
    count = min(len(able), ceil(share * len(leading)))
    marked = list(slots)
    for number in rng.permutation(len(able))[:count]:
        marked[able[number]] = marked[able[number]]._replace(strict=True)
    return marked


def _has_chromatic(slot: Slot, following: Slot) -> bool:
    """True where the player has a note outside the scale, a half step from a chord tone."""
    outside = palette_at(slot).open & ~palette_at(slot).scale
    tones = palette_at(following).tones
    return bool((outside[1:] & tones[:-1]).any() or (outside[:-1] & tones[1:]).any())
