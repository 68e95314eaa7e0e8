"""How does evidence change what is believed? One step for each: expect, compare, share out.

The step is assumed density filtering with a full Gaussian for the sum and one Gaussian for each
part (Minka 2001; for such sums as in Herbrich, Minka & Graepel 2007, from memory): each part
moves by its share of the variance. What is known of one skill so reaches its neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import log2
from typing import NamedTuple

from halfstep.practice.belief_layout import SKILL_PART, BeliefLayout
from halfstep.practice.evidence import Evidence
from halfstep.practice.memory import Memory, reviewed
from halfstep.practice.tempo_rung import TempoRung
from halfstep.practice.verdict_odds import learnt

TEMPO_SLOPE = 3.0
"""Log odds that twice the tempo costs."""

FADING = 1.5
"""Log odds that go with a memory when it has quite gone."""

LEARNT_BY_PLAYING = 0.05
"""Log odds that a skill gains each time it is played, whatever is heard."""

WARMED = 3.0
"""Log odds by which a skill goes better once it was played that day: gone by tomorrow."""

AGAIN = 0.3
"""How much of its certainty later evidence of a day keeps: performance then is not learning."""

DRIFT = 0.05
"""Variance that playing adds to a skill: what was true may be so no more."""


class SkillTrack(NamedTuple):
    """What happened to one skill.

    Attributes
    ----------
    memory : Memory
    rung : TempoRung
    last : Evidence
    times : int
        How often it was played.
    """

    memory: Memory
    rung: TempoRung
    last: Evidence
    times: int


@dataclass(slots=True)
class BeliefFilter:
    """Beliefs while they are made.

    Attributes
    ----------
    layout : BeliefLayout
    means, variances : list of float
        Of each part of the layout.
    tracks : dict of int to SkillTrack
        Of the skills that were played, by their place in the syllabus.
    """

    layout: BeliefLayout
    means: list[float]
    variances: list[float]
    tracks: dict[int, SkillTrack]

    def log_odds(self, place: int, tempo_bpm: float, day: date) -> tuple[float, float]:
        """Mean and variance of the log odds that a skill is clean at a tempo on a day."""
        layout, track = self.layout, self.tracks.get(place)
        mean = layout.offsets[place]
        mean -= TEMPO_SLOPE * log2(tempo_bpm / layout.syllabus.rows[place].goal_bpm)
        mean -= FADING * (1 - track.memory.share_left(day)) if track else 0.0
        variance = 0.0
        for part, share in zip(layout.parts[place], layout.shares, strict=True):
            mean += share * self.means[part]
            variance += share * share * self.variances[part]
        return mean, variance

    def learn(self, evidence: Evidence) -> None:
        """Take one piece of evidence in."""
        place, day = self.layout.syllabus.places[evidence.skill], evidence.at.date()
        track = self.tracks.get(place)
        mean, variance = self.log_odds(place, evidence.tempo_bpm, day)
        weight = evidence.weight
        if track and track.memory.last == day:
            mean, weight = mean + WARMED, weight * AGAIN
        new_mean, new_variance = learnt(mean, variance, evidence.verdict, weight)
        self._share_out(
            place, (new_mean - mean) / variance, (variance - new_variance) / variance**2
        )
        self._grow(place)
        self.tracks[place] = _tracked(track, evidence, day)

    def _share_out(self, place: int, rise: float, certainty: float) -> None:
        """Move each part by its share of the variance of the sum."""
        for part, share in zip(self.layout.parts[place], self.layout.shares, strict=True):
            pull = share * self.variances[part]
            self.means[part] += pull * rise
            self.variances[part] -= pull * pull * certainty

    def _grow(self, place: int) -> None:
        """Let playing itself teach."""
        parts = self.layout.parts[place]
        self.means[parts[SKILL_PART]] += LEARNT_BY_PLAYING
        self.variances[parts[SKILL_PART]] += DRIFT


def _tracked(track: SkillTrack | None, evidence: Evidence, day: date) -> SkillTrack:
    memory: Memory | None = track.memory if track else None
    rung = track.rung if track else TempoRung(evidence.tempo_bpm)
    return SkillTrack(
        reviewed(memory, day, evidence.verdict),
        rung.climbed(evidence.tempo_bpm, evidence.verdict),
        evidence,
        track.times + 1 if track else 1,
    )
