"""How do chords share a bar? In whole pulses, evenly where they divide.

Where the pulses do not divide, the first chords get the longer shares.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache

from halfstep.meter import Meter


@lru_cache(maxsize=256)
def steps_of_bar(meter: Meter, beats: Fraction) -> tuple[Fraction, ...]:
    """What one sign may last where every sign is a step, in beats: the pulse first."""
    unit = Fraction(4, meter.unit)
    steps = tuple(step for step in (meter.pulse_beats, unit) if beats % step == 0)
    finer = (unit / 2, unit / 4, unit / 8)
    return steps or (next((step for step in finer if beats % step == 0), beats),)


def places_of(shares: Sequence[Fraction]) -> tuple[Fraction, ...]:
    """Where each share begins, in beats."""
    return tuple(sum(shares[:turn], Fraction(0)) for turn in range(len(shares)))


@lru_cache(maxsize=256)
def shares_of_bar(
    meter: Meter, count: int, *, beats: Fraction | None = None
) -> tuple[tuple[Fraction, ...], bool]:
    """How ``count`` chords share a bar, in beats, and whether its pulses divide evenly.

    ``beats`` is the length of a bar that is not whole.

    >>> [str(share) for share in shares_of_bar(Meter(4, 4), 3)[0]]
    ['2', '1', '1']
    """
    length = beats or meter.bar_beats
    step = steps_of_bar(meter, length)[0]
    steps = int(length / step)
    even = steps % count == 0
    while steps < count:
        finer = 3 if meter.compound and step == meter.pulse_beats else 2
        step, steps = step / finer, steps * finer
    if count == len(meter.groups) and sum(meter.groups) == steps and length == meter.bar_beats:
        return tuple(group * step for group in meter.groups), even
    least, left = divmod(steps, count)
    return tuple((least + (turn < left)) * step for turn in range(count)), even
