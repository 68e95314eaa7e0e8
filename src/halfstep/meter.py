"""Where in the music are we, and when does it sound?

Written time is exact: *beats* are quarter notes, held as `fractions.Fraction`, in
every metre. The *pulse* is the felt beat (a dotted quarter in 6/8). Beats become
seconds here, and where the tempo changes in `halfstep.tempo_map`; nowhere else.

Conventions
-----------
- Beat 0 is the first beat of bar 1; a pickup lies before it, at negative beats.
- ``tempo_bpm`` counts quarter notes a minute in simple metres and dotted quarters in
  compound ones (6/8, 9/8, 12/8), as players do.
- Swing delays the off-beat eighth: ratio 2 makes a beat two thirds and one third.

Source of the swing ratios: Friberg & Sundström 2002 (abstract), the drummers' ride
from about 3.5:1 at slow tempi to 1:1 at fast; the soloist swings less (Corcoran &
Frieler 2021, abstract, 1.3:1).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from halfstep.errors import ReadError

EIGHTH = Fraction(1, 2)
DEFAULT_BPM = 120.0
"""Quarter notes a minute where a MIDI file states no tempo (Standard MIDI Files 1.0)."""
SLOWEST_BPM, FASTEST_BPM = 40, 300
"""The tempi a lesson is made for, in pulses a minute."""
_METER = r"(\d{1,2})/(1|2|4|8|16|32)(?:\s+(\d(?:\+\d){1,10}))?"


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature, ``count`` over ``unit``.

    ``grouping`` is how the player counts the units, where the metre alone does not say:
    7/4 as ``(2, 2, 3)``; empty leaves it to `groups`.
    """

    count: int = 4
    unit: int = 4
    grouping: tuple[int, ...] = ()

    @property
    def bar_beats(self) -> Fraction:
        """Length of a bar in quarter notes."""
        return Fraction(4 * self.count, self.unit)

    @property
    def compound(self) -> bool:
        """True where three units make a pulse (6/8, 9/8, 12/8)."""
        return self.unit >= 8 and self.count % 3 == 0 and self.count > 3

    @property
    def swings(self) -> bool:
        """True where eighths come in pairs on a quarter, so that they can swing."""
        return self.unit <= 4

    @property
    def pulse_beats(self) -> Fraction:
        """Length of the felt beat in quarter notes."""
        return Fraction(3 * 4 if self.compound else 4, self.unit)

    @property
    def tempo_beats(self) -> Fraction:
        """Length in quarters of what a tempo counts: the pulse where compound, else one."""
        return self.pulse_beats if self.compound else Fraction(1)

    @property
    def groups(self) -> tuple[int, ...]:
        """Units in each group of the bar: twos and threes, threes first.

        >>> Meter(4, 4).groups, Meter(5, 4).groups, Meter(6, 8).groups
        ((2, 2), (3, 2), (3, 3))
        """
        if self.grouping:
            return self.grouping
        if self.compound:
            return (3,) * (self.count // 3)
        if self.unit <= 2:
            return (1,) * self.count
        if self.count <= 3:
            return (self.count,)
        threes = self.count % 2
        return (3,) * threes + (2,) * ((self.count - 3 * threes) // 2)

    @property
    def strong_beats(self) -> tuple[Fraction, ...]:
        """Places in the bar that carry weight: the start of each group."""
        return _strong_beats(self)

    @property
    def counted_beats(self) -> tuple[Fraction, ...]:
        """Places in the bar that are counted: quarters or halves, else the start of each group.

        >>> [str(place) for place in Meter(3, 4).counted_beats]
        ['0', '1', '2']
        >>> [str(place) for place in Meter(6, 8).counted_beats]
        ['0', '3/2']
        """
        if self.unit > 4:
            return self.strong_beats
        return tuple(Fraction(4, self.unit) * number for number in range(self.count))

    def __str__(self) -> str:
        return f"{self.count}/{self.unit}"


@lru_cache(maxsize=64)
def _strong_beats(meter: Meter) -> tuple[Fraction, ...]:
    """The start of each group of a metre, kept since every note asks for it."""
    unit = Fraction(4, meter.unit)
    return tuple(unit * sum(meter.groups[:n]) for n in range(len(meter.groups)))


def parse_meter(text: str) -> Meter:
    """Read a time signature such as ``3/4``, or ``7/4 2+2+3`` with its grouping.

    Raises
    ------
    ReadError
    """
    match = re.fullmatch(_METER, text.strip())
    if not match or not 1 <= int(match[1]) <= 32:
        raise ReadError(f"{text!r} is no meter; write it like 4/4, 3/4 or 6/8")
    grouping = tuple(map(int, match[3].split("+"))) if match[3] else ()
    if grouping and (sum(grouping) != int(match[1]) or 0 in grouping):
        raise ReadError(f"{text!r}: the groups must add up to {match[1]}, such as 7/4 2+2+3")
    return Meter(int(match[1]), int(match[2]), grouping)


class Feel(StrEnum):
    """How eighths are played."""

    SWING = "swing"
    STRAIGHT = "straight"


@dataclass(frozen=True, slots=True)
class Clock:
    """Turns beats into seconds at a steady tempo.

    Attributes
    ----------
    beats_per_minute : float
        Quarter notes a minute.
    swing : float
        Long eighth over short eighth; 1 is straight.
    """

    beats_per_minute: float
    swing: float = 1.0

    @property
    def beat_s(self) -> float:
        """Seconds in a quarter note."""
        return 60.0 / self.beats_per_minute

    def seconds(self, beat: Fraction | float) -> float:
        """When ``beat`` sounds, in seconds after beat 0; swing moves what lies between.

        The first half of each quarter is stretched and the second shortened, so that
        the off-beat eighth falls at ``swing / (swing + 1)`` of it.
        """
        whole = beat // 1
        part = float(beat - whole)
        middle = self.swing / (self.swing + 1.0)
        warped = 2 * part * middle if part < 0.5 else middle + (2 * part - 1) * (1 - middle)
        return (float(whole) + warped) * self.beat_s


def clock_for(meter: Meter, tempo_bpm: float, *, swing: float = 1.0) -> Clock:
    """The clock for a tempo given in pulses a minute."""
    return Clock(tempo_bpm * float(meter.tempo_beats), swing if meter.swings else 1.0)


def swing_ratio(tempo_bpm: float) -> float:
    """The ride cymbal's long-short ratio at a tempo.

    The short note stays near 100 ms (Friberg & Sundström 2002), the ratio between 1
    and 3.5; held to 2 at most here, so that a student's slow eighths stay eighths.

    >>> round(swing_ratio(100), 2), round(swing_ratio(300), 2)
    (2.0, 1.0)
    """
    beat_s = 60.0 / tempo_bpm
    return min(2.0, max(1.0, (beat_s - 0.1) / 0.1))


def count_in_words(beat: Fraction) -> str:
    """A place in a bar as a player counts it, from 1.

    >>> count_in_words(Fraction(2)), count_in_words(Fraction(5, 2))
    ('beat 2', 'the “and” of 2')
    >>> count_in_words(Fraction(8, 3))
    'after beat 2'
    """
    if beat.denominator == 1:
        return f"beat {beat}"
    return f"the “and” of {beat // 1}" if beat.denominator == 2 else f"after beat {beat // 1}"
