"""How does every skill of a course stand on a day? All of them at once, as arrays.

Arrays have one place for each skill, in the order of the syllabus.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from halfstep.practice.belief_filter import DOUBT, FADING, TEMPO_SLOPE
from halfstep.practice.evidence import Verdict
from halfstep.practice.memory import DECAY, SPREAD

if TYPE_CHECKING:
    from halfstep.practice.beliefs import Beliefs
    from halfstep.practice.skill_grid import Flags, Numbers, SkillGrid


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """All skills on one day, as arrays of shape (skills,).

    Attributes
    ----------
    grid : SkillGrid
    means, variances : array of float
        Of the log odds that a skill is clean at its goal tempo.
    left : array of float
        How much of its memory is left, 0 to 1; 1 where there is none yet.
    times : array of float
        How often it was played.
    rung_bpm : array of float
        Where it stands on its ladder; its starting tempo where it was not played.
    days_ago : array of float
        Since it was last played; infinite where it was not.
    failed : array of bool
        It was not clean the last time.
    piece_times : array of float
        How often its step over its unit was played in any key.
    """

    grid: SkillGrid
    means: Numbers
    variances: Numbers
    left: Numbers
    times: Numbers
    rung_bpm: Numbers
    days_ago: Numbers
    failed: Flags
    piece_times: Numbers

    def chances(self, tempo_bpm: Numbers) -> Numbers:
        """How likely each is clean at such tempi, 0 to 1."""
        means = self.means - TEMPO_SLOPE * np.log2(tempo_bpm / self.grid.goal_bpm)
        return sigmoid(means / self._blur())

    def tempi_for(self, chance: float) -> Numbers:
        """At which tempo each has that chance, pulses a minute."""
        log_odds = np.log(chance / (1 - chance)) * self._blur()
        tempi: Numbers = self.grid.goal_bpm * np.exp2((self.means - log_odds) / TEMPO_SLOPE)
        return tempi

    def _blur(self) -> Numbers:
        """What uncertainty divides log odds by: MacKay's average (1992)."""
        blur: Numbers = np.sqrt(1 + np.pi * self.variances / 8)
        return blur


def sigmoid(log_odds: Numbers) -> Numbers:
    """Chances of log odds."""
    chances: Numbers = 1 / (1 + np.exp(-np.clip(log_odds, -60.0, 60.0)))
    return chances


def outlook_of(beliefs: Beliefs, day: date) -> Outlook:
    """How all skills stand on a day."""
    grid = beliefs.layout.grid
    played, columns = _tracked(beliefs, day)
    times, days_ago, left, failed = np.zeros((4, len(grid.goal_bpm)))
    rung_bpm, left = grid.start_bpm.copy(), left + 1
    days_ago += np.inf
    if played:
        times[played], days_ago[played], stable_days, rung_bpm[played], failed[played] = columns
        left[played] = (1 + SPREAD * days_ago[played] / stable_days) ** -DECAY
    piece_times = np.bincount(grid.pieces, times)[grid.pieces].astype(np.float64)
    means, variances = _moments(beliefs, left, piece_times == 0, times == 0)
    return Outlook(grid, means, variances, left, times, rung_bpm, days_ago, failed > 0, piece_times)


def _moments(
    beliefs: Beliefs, left: Numbers, new_piece: Flags, new: Flags
) -> tuple[Numbers, Numbers]:
    """Mean and variance of the log odds of each skill at its goal tempo."""
    layout, shares = beliefs.layout, beliefs.layout.share_grid
    part_means, part_variances = np.array(beliefs.means), np.array(beliefs.variances)
    means = part_means[layout.part_grid] @ shares + layout.offset_grid - FADING * (1 - left)
    variances = part_variances[layout.part_grid] @ shares**2 + DOUBT * (1 - left)
    for part, flags in zip(layout.novelty, (new_piece, new & ~new_piece), strict=True):
        means += part_means[part] * flags
        variances += part_variances[part] * flags
    return means, variances


def _tracked(beliefs: Beliefs, day: date) -> tuple[list[int], Numbers]:
    """The places that were played, and a column for each: as `outlook_of` reads them."""
    today = day.toordinal()
    columns = [
        (
            track.times,
            max(0, today - track.memory.last.toordinal()),
            track.memory.stability_days,
            track.rung.tempo_bpm,
            track.last.verdict is not Verdict.CLEAN,
        )
        for track in beliefs.tracks.values()
    ]
    return list(beliefs.tracks), np.array(columns, np.float64).T
