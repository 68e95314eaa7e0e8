"""What is heard before beat 0? Clicks on the felt pulses, by groups.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from halfstep.backing.bar_layout import group_lengths, places
from halfstep.backing.drum_kit import HIGH_BLOCK, SIDE_STICK, Stroke
from halfstep.meter import Meter
from halfstep.played import PlayedNote, PlayedPart


def count_in(meter: Meter) -> PlayedPart:
    """One bar of clicks before beat 0, on the felt pulses; belongs to the drums."""
    notes = tuple(
        PlayedNote(onset, meter.pulse_beats / 4, key, velocity)
        for onset, key, velocity in _clicks(meter)
    )
    return PlayedPart("drums", 0, True, notes)


def _clicks(meter: Meter) -> Iterator[Stroke]:
    """Every pulse, groups heavier, the downbeat double."""
    start = -meter.bar_beats
    heavy = {start + sum(group_lengths(meter)[:n]) for n in range(len(group_lengths(meter)))}
    yield Stroke(start, HIGH_BLOCK, 80)
    for pulse in places(start, Fraction(0), meter.pulse_beats):
        yield Stroke(pulse, SIDE_STICK, 116 if pulse == start else 104 if pulse in heavy else 92)
