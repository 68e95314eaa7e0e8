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

from halfstep.practice.belief_layout import PIECE_PART, SKILL_PART, BeliefLayout
from halfstep.practice.evidence import Evidence
from halfstep.practice.memory import Memory, reviewed
from halfstep.practice.tempo_rung import TempoRung
from halfstep.practice.verdict_odds import learnt

TEMPO_SLOPE = 3.0
"""Log odds that twice the tempo costs."""

FADING, DOUBT = 2.5, 2.0
"""Log odds that go with a memory when it has quite gone, and the variance that comes instead."""

LEARNT_BY_PLAYING, LEARNT_LESS = 0.5, 0.8
"""Log odds that a skill gains when it is played for the first time, whatever is heard, and how
much less it gains each time after."""

WARMED = 3.0
"""Log odds by which a skill goes better once it was played that day: gone by tomorrow."""

AGAIN = 0.3
"""How much of its certainty later evidence of a day keeps: performance then is not learning."""

DRIFT = 0.1
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
    pieces : set of int
        Of the parts, those of a step over a unit that was played in some key.
    """

    layout: BeliefLayout
    means: list[float]
    variances: list[float]
    tracks: dict[int, SkillTrack]
    pieces: set[int]

    def parts(self, place: int) -> list[tuple[int, float]]:
        """The parts that a skill is the sum of now, and what each counts for."""
        layout = self.layout
        parts = list(zip(layout.parts[place], layout.shares, strict=True))
        if place not in self.tracks:
            begun = layout.parts[place][PIECE_PART] in self.pieces
            parts.append((layout.novelty[begun], 1.0))
        return parts

    def log_odds(self, place: int, tempo_bpm: float, day: date) -> tuple[float, float]:
        """Mean and variance of the log odds that a skill is clean at a tempo on a day."""
        layout, track = self.layout, self.tracks.get(place)
        mean = layout.offsets[place]
        mean -= TEMPO_SLOPE * log2(max(tempo_bpm, 1.0) / layout.syllabus.rows[place].goal_bpm)
        lost = 1 - track.memory.share_left(day) if track else 0.0
        mean, variance = mean - FADING * lost, DOUBT * lost
        for part, share in self.parts(place):
            mean += share * self.means[part]
            variance += share * share * self.variances[part]
        return mean, variance

    def learn(self, evidence: Evidence) -> None:
        """Take one piece of evidence in."""
        place, day = self.layout.syllabus.places[evidence.skill], evidence.at.date()
        track = self.tracks.get(place)
        is_warm = track is not None and track.memory.last == day
        self._compare(place, evidence, day, is_warm=is_warm)
        self._grow(place, track.times if track else 0)
        self.pieces.add(self.layout.parts[place][PIECE_PART])
        self.tracks[place] = _tracked(track, evidence, day)

    def _compare(self, place: int, evidence: Evidence, day: date, *, is_warm: bool) -> None:
        """Hold what is expected against what was heard."""
        mean, variance = self.log_odds(place, evidence.tempo_bpm, day)
        mean += WARMED if is_warm else 0.0
        weight = evidence.weight * (AGAIN if is_warm else 1.0)
        new_mean, new_variance = learnt(mean, variance, evidence.verdict, weight)
        rise, certainty = (new_mean - mean) / variance, (variance - new_variance) / variance**2
        self._share_out(place, rise, certainty)

    def _share_out(self, place: int, rise: float, certainty: float) -> None:
        """Move each part by its share of the variance of the sum."""
        for part, share in self.parts(place):
            pull = share * self.variances[part]
            self.means[part] += pull * rise
            self.variances[part] -= pull * pull * certainty

    def _grow(self, place: int, times: int) -> None:
        """Let playing itself teach."""
        parts = self.layout.parts[place]
        self.means[parts[SKILL_PART]] += LEARNT_BY_PLAYING / (1 + LEARNT_LESS * times)
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
