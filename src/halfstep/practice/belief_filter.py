"""How does evidence change what is believed? One step for each: expect, compare, share out.

The step is assumed density filtering with a full Gaussian for the sum and one Gaussian for each
part (Minka 2001; for such sums as in Herbrich, Minka & Graepel 2007, from memory): each part
moves by its share of the variance. What is known of one skill so reaches its neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import log1p, log2
from typing import NamedTuple

from halfstep.practice.belief_layout import (
    ELSEWHERE,
    FORGOTTEN,
    NEW_KEY,
    NEW_PIECE,
    OTHER_KEYS,
    PIECE_PART,
    PRACTICE,
    SKILL_PART,
    SLOWER,
    STEP_PART,
    BeliefLayout,
)
from halfstep.practice.evidence import Evidence
from halfstep.practice.memory import Memory, reviewed
from halfstep.practice.tempo_rung import TempoRung
from halfstep.practice.verdict_odds import learnt

DOUBT = 2.0
"""The variance that comes instead of a memory when it has quite gone."""

WARMED = 3.0
"""Log odds by which a skill goes better once it was played that day: gone by tomorrow."""

AGAIN = 0.1
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
    plays : dict of int to int
        How often each step, and each step over a unit, was played: by their parts.
    """

    layout: BeliefLayout
    means: list[float]
    variances: list[float]
    tracks: dict[int, SkillTrack]
    plays: dict[int, int]

    def parts(self, place: int, tempo_bpm: float, day: date) -> list[tuple[int, float]]:
        """The parts that a skill is the sum of, and what each counts for."""
        layout, track = self.layout, self.tracks.get(place)
        own = layout.parts[place]
        times, lost = (track.times, 1 - track.memory.share_left(day)) if track else (0, 0.0)
        piece, step = self.plays.get(own[PIECE_PART], 0), self.plays.get(own[STEP_PART], 0)
        goal_bpm = layout.syllabus.rows[place].goal_bpm
        parts = list(zip(own, layout.shares, strict=True))
        if track is None:
            parts.append((NEW_KEY if piece else NEW_PIECE, 1.0))
        parts += [
            (PRACTICE, log1p(times)),
            (OTHER_KEYS, log1p(piece - times)),
            (ELSEWHERE, log1p(step - piece)),
            (FORGOTTEN, lost),
            (SLOWER, -log2(max(tempo_bpm, 1.0) / goal_bpm)),
        ]
        return parts

    def log_odds(self, place: int, tempo_bpm: float, day: date) -> tuple[float, float]:
        """Mean and variance of the log odds that a skill is clean at a tempo on a day."""
        return self._summed(place, self.parts(place, tempo_bpm, day))

    def _summed(self, place: int, parts: list[tuple[int, float]]) -> tuple[float, float]:
        mean, variance = self.layout.offsets[place], 0.0
        for part, share in parts:
            mean += share * self.means[part]
            variance += share * share * self.variances[part]
            if part == FORGOTTEN:
                variance += DOUBT * share
        return mean, variance

    def learn(self, evidence: Evidence) -> None:
        """Take one piece of evidence in."""
        place, day = self.layout.syllabus.places[evidence.skill], evidence.at.date()
        track = self.tracks.get(place)
        is_warm = track is not None and track.memory.last == day
        self._compare(place, evidence, day, is_warm=is_warm)
        self._count(place)
        self.tracks[place] = _tracked(track, evidence, day)

    def _compare(self, place: int, evidence: Evidence, day: date, *, is_warm: bool) -> None:
        """Hold what is expected against what was heard."""
        parts = self.parts(place, evidence.tempo_bpm, day)
        mean, variance = self._summed(place, parts)
        mean += WARMED if is_warm else 0.0
        weight = evidence.weight * (AGAIN if is_warm else 1.0)
        new_mean, new_variance = learnt(mean, variance, evidence.verdict, weight)
        rise, certainty = (new_mean - mean) / variance, (variance - new_variance) / variance**2
        self._share_out(parts, rise, certainty)

    def _share_out(self, parts: list[tuple[int, float]], rise: float, certainty: float) -> None:
        """Move each part by its share of the variance of the sum."""
        for part, share in parts:
            pull = share * self.variances[part]
            self.means[part] += pull * rise
            self.variances[part] -= pull * pull * certainty

    def _count(self, place: int) -> None:
        """Let it have been played once more."""
        own = self.layout.parts[place]
        self.variances[own[SKILL_PART]] += DRIFT
        for part in (own[PIECE_PART], own[STEP_PART]):
            self.plays[part] = self.plays.get(part, 0) + 1


def _tracked(track: SkillTrack | None, evidence: Evidence, day: date) -> SkillTrack:
    memory: Memory | None = track.memory if track else None
    rung = track.rung if track else TempoRung(evidence.tempo_bpm)
    return SkillTrack(
        reviewed(memory, day, evidence.verdict),
        rung.climbed(evidence.tempo_bpm, evidence.verdict),
        evidence,
        track.times + 1 if track else 1,
    )
