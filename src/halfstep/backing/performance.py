"""When does it sound? Parts as written -> parts as the players of a style play them.

`band_performance` and `line_performance` give every player the clock of the style. A band
for beginners is left exact: all on the clock of the lesson.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from halfstep.backing.band_time import in_time
from halfstep.backing.line_time import line_in_time
from halfstep.backing.styles import Style
from halfstep.meter import Clock, Meter
from halfstep.played import PlayedPart


def band_performance(
    parts: Sequence[PlayedPart], *, style: Style, clock: Clock, meter: Meter, seed: int
) -> tuple[PlayedPart, ...]:
    """Drums, bass and chords, each in the time of its player.

    Parameters
    ----------
    parts : sequence of PlayedPart
        As `halfstep.backing.make_backing` gives them.
    style : Style
    clock : Clock
        The lesson's.
    meter : Meter
        The chart's; where it has no pairs nothing swings.
    seed : int
    """
    return tuple(
        in_time(
            part,
            time=style.time.of(part.name),
            clock=clock,
            swings=meter.swings,
            random=Random(f"{part.name} time {seed}"),
        )
        for part in parts
    )


def line_performance(
    line: PlayedPart, *, style: Style, clock: Clock, meter: Meter, seed: int
) -> PlayedPart:
    """A line in the time of a soloist; see `band_performance`."""
    random = Random(f"line time {seed}")
    return line_in_time(line, time=style.line, clock=clock, swings=meter.swings, random=random)
