"""Who can play the same line? A class that does can play it together, in octaves.

Instruments form a section when their sounding ranges, moved by whole octaves, share
enough notes for every step. The rest get lines of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from halfstep.etude.etude_brief import Brief
from halfstep.instruments import Instrument
from halfstep.level import Level

SHARED_SEMITONES = 17
"""The least range, top minus bottom, that a shared line is written in."""


@dataclass(frozen=True, slots=True)
class Section:
    """Instruments that read the same lines.

    Attributes
    ----------
    leader : Instrument
        The line is written for it.
    limits : tuple of (int, int)
        Concert MIDI numbers at the leader's octave that suit all.
    octaves : dict
        How many octaves each sounds above the leader.
    """

    leader: Instrument
    limits: tuple[int, int]
    octaves: dict[Instrument, int]


def sections(instruments: Sequence[Instrument], level: Level) -> tuple[Section, ...]:
    """Every instrument in one section; the leader breathes if anyone in it does."""
    together: list[Section] = []
    for instrument in sorted(instruments, key=lambda player: not player.breath):
        low, high = _range(instrument, level)
        for place, section in enumerate(together):
            limits, octaves = _overlap(section.limits, low, high)
            if limits[1] - limits[0] >= SHARED_SEMITONES:
                joined = {**section.octaves, instrument: octaves}
                together[place] = Section(section.leader, limits, joined)
                break
        else:
            together.append(Section(instrument, (low, high), {instrument: 0}))
    return tuple(together)


def _range(instrument: Instrument, level: Level) -> tuple[int, int]:
    brief = Brief(instrument, level, 120.0)
    return brief.concert_low, brief.concert_high


def _overlap(limits: tuple[int, int], low: int, high: int) -> tuple[tuple[int, int], int]:
    """The widest shared range, and how many octaves above it the other range lies."""
    overlaps = [
        ((max(limits[0], low - 12 * up), min(limits[1], high - 12 * up)), up) for up in range(-6, 7)
    ]
    return max(overlaps, key=lambda overlap: (overlap[0][1] - overlap[0][0], -abs(overlap[1])))
