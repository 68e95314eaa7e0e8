"""How does evidence change what is believed? One step for each: expect, compare, share out.

The step is assumed density filtering (Minka 2001; for such sums as in Herbrich, Minka & Graepel
2007, from memory): one Gaussian for the student's whole pace, one for each part of skills, and
each moves by its share of the variance of the sum. What is known of one skill so reaches its
neighbours; and what pace explains is shared out by how its parts go together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from math import log1p, log2
from operator import mul
from typing import TYPE_CHECKING

from halfstep.practice.belief_layout import (
    FORGOTTEN,
    PIECE_PART,
    SKILL_PART,
    STEP_PART,
    BeliefLayout,
    eased_by,
)
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.memory import Memory, reviewed
from halfstep.practice.skill_track import SkillTrack, figures_of
from halfstep.practice.tempo_rung import TempoRung
from halfstep.practice.verdict_odds import learnt

if TYPE_CHECKING:
    from halfstep.practice.skill_grid import Numbers

DOUBT = 1.5
"""The variance that comes instead of a memory when it has quite gone."""

DRIFT = 0.1
"""Variance that playing adds to a skill: what was true may be so no more."""


@dataclass(slots=True)
class BeliefFilter:
    """Beliefs while they are made.

    Attributes
    ----------
    layout : BeliefLayout
    pace : list of float
        Of the student, by the numbers of its parts.
    covariances : list of list of float
        How the parts of the pace vary, and go together.
    means, variances : list of float
        Of each part of the layout.
    tracks : dict of int to SkillTrack
        Of the skills that were played, by their place in the syllabus.
    table : array of float
        The same tracks as numbers, as `skill_track` has them.
    plays : dict of int to float
        How often each step, and each step over a unit, was played: by their parts.
    """

    layout: BeliefLayout
    pace: list[float]
    covariances: list[list[float]]
    means: list[float]
    variances: list[float]
    tracks: dict[int, SkillTrack]
    table: Numbers
    plays: dict[int, float]

    def pace_shares(self, place: int, tempo_bpm: float, day: date) -> list[float]:
        """What each part of the pace counts for in a skill, at a tempo on a day."""
        track, own = self.tracks.get(place), self.layout.parts[place]
        times, lost = (track.times, 1 - track.memory.share_left(day)) if track else (0, 0.0)
        piece, step = self.plays.get(own[PIECE_PART], 0), self.plays.get(own[STEP_PART], 0)
        goal_bpm = self.layout.syllabus.rows[place].goal_bpm
        return [
            float(track is None and not piece),
            float(track is None and piece > 0),
            log1p(times),
            log1p(piece - times),
            log1p(step - piece),
            lost,
            -log2(max(tempo_bpm, 1.0) / goal_bpm),
            1.0,
        ]

    def log_odds(self, place: int, tempo_bpm: float, day: date) -> tuple[float, float]:
        """Mean and variance of the log odds that a skill is clean at a tempo on a day."""
        shares = self.pace_shares(place, tempo_bpm, day)
        return self._summed(place, shares, self._pulls(shares))

    def _pulls(self, shares: list[float]) -> list[float]:
        """How each part of the pace goes together with the sum."""
        return [sum(map(mul, row, shares)) for row in self.covariances]

    def _summed(self, place: int, shares: list[float], pulls: list[float]) -> tuple[float, float]:
        mean = self.layout.offsets[place] + sum(map(mul, shares, self.pace))
        variance = sum(map(mul, shares, pulls)) + DOUBT * shares[FORGOTTEN]
        for part, share in self._own(place):
            mean += share * self.means[part]
            variance += share * share * self.variances[part]
        return mean, variance

    def _own(self, place: int) -> Iterator[tuple[int, float]]:
        """The parts that a skill is the sum of, beside pace, and what each counts for."""
        return zip(self.layout.parts[place], self.layout.shares, strict=True)

    def learn(self, evidence: Evidence) -> None:
        """Take one piece of evidence in."""
        place, day = self.layout.syllabus.places[evidence.skill], evidence.at.date()
        track = self.tracks.get(place)
        if _says_something(track, evidence.verdict, day):
            self._compare(place, evidence, day)
        self._count(place, counted_part(evidence))
        self.tracks[place] = track = _tracked(track, evidence, day)
        self.table[:, place] = figures_of(track)

    def _compare(self, place: int, evidence: Evidence, day: date) -> None:
        """Hold what is expected against what was heard."""
        shares = self.pace_shares(place, evidence.tempo_bpm, day)
        pulls = self._pulls(shares)
        mean, variance = self._summed(place, shares, pulls)
        mean += eased_by(evidence.part)
        new_mean, new_variance = learnt(mean, variance, evidence.verdict, evidence.weight)
        rise, certainty = (new_mean - mean) / variance, (variance - new_variance) / variance**2
        self._move_pace(pulls, rise, certainty)
        self._move_parts(place, rise, certainty)

    def _move_pace(self, pulls: list[float], rise: float, certainty: float) -> None:
        """Move each part of the pace by how it goes together with the sum."""
        self.pace = [mean + pull * rise for mean, pull in zip(self.pace, pulls, strict=True)]
        self.covariances = [
            [known - pull * certainty * other for known, other in zip(row, pulls, strict=True)]
            for row, pull in zip(self.covariances, pulls, strict=True)
        ]

    def _move_parts(self, place: int, rise: float, certainty: float) -> None:
        """Move each part of a skill by its share of the variance of the sum."""
        for part, share in self._own(place):
            pull = share * self.variances[part]
            self.means[part] += pull * rise
            self.variances[part] -= pull * pull * certainty

    def _count(self, place: int, times: float) -> None:
        """Let it have been played once more, all of it or a part."""
        own = self.layout.parts[place]
        self.variances[own[SKILL_PART]] += DRIFT * times
        for part in (own[PIECE_PART], own[STEP_PART]):
            self.plays[part] = self.plays.get(part, 0.0) + times


def counted_part(evidence: Evidence) -> float:
    """What evidence counts for as practice, in sixteenths: they add up exactly in any order."""
    return max(1, round(16 * evidence.part)) / 16


def _says_something(track: SkillTrack | None, verdict: Verdict, day: date) -> bool:
    """Whether a verdict is more than what practice ends with anyhow.

    Who stops after two clean passes ends clean, so the first time of a day is what counts; and
    the second where even that was not clean.
    """
    if track is None or track.memory.last != day:
        return True
    return verdict is not Verdict.CLEAN and track.times_that_day == 1


def _tracked(track: SkillTrack | None, evidence: Evidence, day: date) -> SkillTrack:
    memory: Memory | None = track.memory if track else None
    rung = track.rung if track else TempoRung(evidence.tempo_bpm)
    if evidence.part == 1:
        rung = rung.climbed(evidence.tempo_bpm, evidence.verdict)
    same_day = track if track and track.memory.last == day else None
    return SkillTrack(
        reviewed(memory, day, evidence.verdict),
        rung,
        evidence,
        (track.times if track else 0.0) + counted_part(evidence),
        same_day.first if same_day else evidence.verdict,
        same_day.times_that_day + 1 if same_day else 1,
    )
