"""How does every skill of a course stand on a day? All of them at once, as arrays.

Arrays have one place for each skill, in the order of the syllabus.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from itertools import takewhile
from math import log
from typing import TYPE_CHECKING

import numpy as np

from halfstep.practice.belief_filter import DOUBT, counted_part
from halfstep.practice.belief_layout import FORGOTTEN, SLOWER
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
    blur : array of float
        What uncertainty divides log odds by: MacKay's average (1992); derived from the variances.
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
    kept : array of bool
        It was clean the first time on the day it was last played.
    piece_times : array of float
        How often its step over its unit was played in any key.
    times_before : array of float
        How often it was played before that day.
    pace : tuple of float
        What is believed of the student, by the numbers of its parts.
    """

    grid: SkillGrid
    means: Numbers
    variances: Numbers
    blur: Numbers
    left: Numbers
    times: Numbers
    rung_bpm: Numbers
    days_ago: Numbers
    failed: Flags
    kept: Flags
    piece_times: Numbers
    times_before: Numbers
    pace: tuple[float, ...]

    def eased(self, log_odds: float) -> Outlook:
        """The same where each were so much easier."""
        return replace(self, means=self.means + log_odds)

    def chances(self, tempo_bpm: Numbers) -> Numbers:
        """How likely each is clean at such tempi, 0 to 1."""
        return self.chances_at(np.log2(tempo_bpm / self.grid.goal_bpm))

    def chances_at(self, octaves: Numbers | float) -> Numbers:
        """The same by how often the goal tempo is doubled: 0 at it, below 0 where slower."""
        return sigmoid((self.means - self.pace[SLOWER] * octaves) / self.blur)

    def octaves_for(self, chance: float) -> Numbers:
        """How often the goal tempo is doubled where each has that chance."""
        octaves: Numbers = (self.means - log(chance / (1 - chance)) * self.blur) / self.pace[SLOWER]
        return octaves

    def sure_octaves(self, spreads: float) -> Numbers:
        """The same where each is as likely as not, if worse by so many standard deviations."""
        octaves: Numbers = (self.means - spreads * np.sqrt(self.variances)) / self.pace[SLOWER]
        return octaves

    def slopes(self) -> Numbers:
        """What a log odd at the goal tempo is worth."""
        chances = self.chances_at(0.0)
        slopes: Numbers = chances * (1 - chances) / self.blur
        return slopes

    def raised(self, log_odds: Numbers) -> Numbers:
        """How likely each were clean at its goal tempo if so many log odds were gained."""
        return sigmoid((self.means + log_odds) / self.blur)

    @property
    def held(self) -> Numbers:
        """Log odds at the goal tempo, less certain ones nearer to even."""
        held: Numbers = self.means / self.blur
        return held


def sigmoid(log_odds: Numbers) -> Numbers:
    """Chances of log odds."""
    chances: Numbers = 1 / (1 + np.exp(np.minimum(-log_odds, 60.0)))
    return chances


def outlook_of(beliefs: Beliefs, day: date) -> Outlook:
    """How all skills stand on a day."""
    grid = beliefs.layout.grid
    times, last_days, stable_days, rung_bpm, failed, kept = beliefs.table
    days_ago = np.maximum(day.toordinal() - last_days, 0.0)
    left, played = np.ones_like(times), times > 0
    left[played] = (1 + SPREAD * days_ago[played] / stable_days[played]) ** -DECAY
    piece_times = np.bincount(grid.pieces, times)[grid.pieces].astype(np.float64)
    step_times = np.bincount(grid.step_names, times)[grid.step_names]
    shares = np.stack(
        (
            piece_times == 0,
            (times == 0) & (piece_times > 0),
            np.log1p(times),
            np.log1p(piece_times - times),
            np.log1p(step_times - piece_times),
            1 - left,
            np.zeros_like(times),
            np.ones_like(times),
        )
    )
    means, variances = _moments(beliefs, shares)
    return Outlook(
        grid,
        means,
        variances,
        np.sqrt(1 + np.pi * variances / 8),
        left,
        times,
        rung_bpm,
        days_ago,
        failed > 0,
        kept > 0,
        piece_times,
        times - _times_on(beliefs, day),
        beliefs.pace,
    )


def _times_on(beliefs: Beliefs, day: date) -> Numbers:
    """How often each was played on that day."""
    places = beliefs.syllabus.places
    latest = takewhile(lambda piece: piece.at.date() >= day, reversed(beliefs.evidence))
    today = [(places[piece.skill], counted_part(piece)) for piece in latest]
    skills, times = np.array(today, np.float64).reshape(-1, 2).T
    return np.bincount(skills.astype(np.int64), times, len(places)).astype(np.float64)


def _moments(beliefs: Beliefs, shares: Numbers) -> tuple[Numbers, Numbers]:
    """Mean and variance of the log odds of each skill at its goal tempo, by shares of the pace."""
    layout, fixed = beliefs.layout, beliefs.layout.share_grid
    part_means, part_variances = np.array(beliefs.means), np.array(beliefs.variances)
    means = part_means[layout.part_grid] @ fixed + layout.offset_grid
    variances = part_variances[layout.part_grid] @ fixed**2 + DOUBT * shares[FORGOTTEN]
    means += np.array(beliefs.pace) @ shares
    variances += np.einsum("is,is->s", np.array(beliefs.covariances) @ shares, shares)
    return means, variances
