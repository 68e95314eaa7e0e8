"""How long is the first of two swung eighths, by player and tempo? What was measured.

Conventions
-----------
- A ratio is long note over short note; 1 is even. Tempi are quarter notes a minute.
- A table has four rows: below 140, from 140, from 180, and from 220 on.

Source: ratios counted on 34 trios annotated by hand (Cheston et al., a published trio
database, MIT licence), in agreement with Friberg & Sundström 2002 for the ride. Quartiles
were published for the ride alone; bass and chords take its spread.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from math import log

_ROWS_FROM_BPM = (140.0, 180.0, 220.0)
_QUARTILES_APART = 1.349  # standard deviations of a normal distribution between its quartiles

FourRows = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class SwingTable:
    """The ratios of one player.

    Attributes
    ----------
    medians : tuple of float
        One a row.
    spreads : tuple of float
        One a row: the standard deviation of the ratio's natural logarithm.
    """

    medians: FourRows
    spreads: FourRows

    def at(self, beats_per_minute: float) -> tuple[float, float]:
        """Median and spread at a tempo.

        >>> RIDE.at(100)[0], RIDE.at(140)[0], RIDE.at(219)[0], RIDE.at(280)[0]
        (2.37, 2.55, 1.95, 1.45)
        """
        row = bisect_right(_ROWS_FROM_BPM, beats_per_minute)
        return self.medians[row], self.spreads[row]


def _spread(lower: float, upper: float) -> float:
    """The spread of a row by its quartiles."""
    return log(upper / lower) / _QUARTILES_APART


_RIDE_SPREADS: FourRows = (
    _spread(2.05, 2.84),
    _spread(2.24, 2.87),
    _spread(1.67, 2.22),
    _spread(1.19, 1.85),
)

RIDE = SwingTable((2.37, 2.55, 1.95, 1.45), _RIDE_SPREADS)
BASS = SwingTable((2.46, 2.12, 1.80, 1.51), _RIDE_SPREADS)
PIANO = SwingTable((1.71, 1.56, 1.41, 1.17), _RIDE_SPREADS)


def steady_ratio(median: float, spread: float) -> SwingTable:
    """A ratio that does not go with the tempo."""
    return SwingTable((median,) * 4, (spread,) * 4)


TRIPLETS = steady_ratio(2.0, 0.06)
"""A shuffle: the outer two of three. Common practice, no source."""
SIXTEENTHS = steady_ratio(1.4, 0.06)
"""Sixteenths between even and triplets. Common practice, no source."""
