"""Does a backing lie where it should, all through a take?

Where its place is known, each part of the take is laid over the same part of the backing. Two
parts in a row that are found elsewhere show that the recording jumps there, be it that it comes
back later on; so does a single one near its place, where chance hardly finds one.

Conventions: those of `halfstep.listen.thin_sound`; seconds of the take.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from halfstep.listen.backing_delay import moved_by
from halfstep.listen.thin_sound import THIN_RATE, ThinSound

PART_S = 2.0
"""So long a part is; a jump that comes back within two of them is not seen."""
_ASTRAY_S = 0.15
"""How far from its place a backing is looked for."""
_MOVED_S, _NEAR_S = 0.002, 0.01
"""From here on it lies elsewhere, and up to there near its place."""


class Stray(NamedTuple):
    """A part of a take in which its backing lies elsewhere: from when on, and how much later."""

    at_s: float
    late_s: float

    @property
    def is_away(self) -> bool:
        """True where that is no error of finding it."""
        return abs(self.late_s) >= _MOVED_S

    @property
    def is_near(self) -> bool:
        """True where chance seldom finds it."""
        return abs(self.late_s) <= _NEAR_S


def backing_strays(take: ThinSound, backing: ThinSound, lag_s: float) -> tuple[Stray, ...]:
    """The parts in which a backing lies elsewhere than it should.

    Parameters
    ----------
    take, backing : ThinSound
    lag_s : float
        Where in the take the backing's first sample should lie.
    """
    parts = [*_parts(take, backing, lag_s), Stray(take.length_s, 0.0)]
    return tuple(
        part
        for part, following in pairwise(parts)
        if part.is_away and (following.is_away or part.is_near)
    )


def _parts(take: ThinSound, backing: ThinSound, lag_s: float) -> Iterator[Stray]:
    """Each part in which it is clear how late the backing is."""
    part, lag = round(PART_S * THIN_RATE), round(lag_s * THIN_RATE)
    first, last = max(0, lag), min(len(take), lag + len(backing))
    for start in range(first, last - part + 1, part):
        moved = moved_by(
            take, backing, start, lag, samples=part, astray=round(_ASTRAY_S * THIN_RATE)
        )
        if moved is not None:
            yield Stray(start / THIN_RATE, (moved + lag) / THIN_RATE - lag_s)
