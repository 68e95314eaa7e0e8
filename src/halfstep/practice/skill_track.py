"""What happened to a skill; and to all of a course as numbers, for what is worked out at once.

A table is an array of shape (6, skills), in the order of the syllabus; its rows are named below.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.memory import Memory
from halfstep.practice.tempo_rung import TempoRung

if TYPE_CHECKING:
    from halfstep.practice.skill_grid import Numbers, SkillGrid

TIMES, LAST_DAY, STABLE_DAYS, RUNG_BPM, FAILED, KEPT = range(6)
"""The rows: how often it was played; the number of the day of its last review, endlessly long ago
where there was none; how stable its memory is; where it stands on its ladder, at its starting tempo
where it was not played; 1 where it was not clean the last time; 1 where it was clean the first time
on the day it was last played."""


class SkillTrack(NamedTuple):
    """What happened to one skill.

    Attributes
    ----------
    memory : Memory
    rung : TempoRung
    last : Evidence
    times : float
        How often it was played; a part of its bars counts for its share.
    first : Verdict
        The first time on the last of its days: what comes after it is practice.
    times_that_day : int
        How often it was played on the last of its days.
    """

    memory: Memory
    rung: TempoRung
    last: Evidence
    times: float
    first: Verdict
    times_that_day: int


def unplayed(grid: SkillGrid) -> Numbers:
    """The table of who has played nothing."""
    table = np.zeros((6, len(grid.goal_bpm)))
    table[LAST_DAY], table[STABLE_DAYS], table[RUNG_BPM] = -np.inf, 1.0, grid.start_bpm
    return table


def table_of(grid: SkillGrid, tracks: Mapping[int, SkillTrack]) -> Numbers:
    """The table of tracks, by their places in the syllabus."""
    table = unplayed(grid)
    for place, track in tracks.items():
        table[:, place] = figures_of(track)
    return table


def figures_of(track: SkillTrack) -> tuple[float, ...]:
    """One column of the table."""
    return (
        track.times,
        track.memory.last.toordinal(),
        track.memory.stability_days,
        track.rung.tempo_bpm,
        track.last.verdict is not Verdict.CLEAN,
        track.first is Verdict.CLEAN,
    )
