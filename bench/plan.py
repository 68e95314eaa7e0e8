"""Does the planner teach more in the same minutes than simple ways to choose?

Run ``python bench/plan.py [--small] [--students N] [--seed S]``.
"""

from __future__ import annotations

import argparse
import sys
import time as clock
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import product
from typing import Any

import numpy as np
from learners import (
    SLOPE,
    Course,
    Habits,
    Learner,
    StageLearner,
    TraceLearner,
    TwoSpeedLearner,
    twin,
)
from plan_rivals import ITEM_MINUTES, RIVALS, Chooser, Turn

from halfstep.level import Level
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.practice.outlook import Outlook
from halfstep.practice.plan_choice import one_more, practice_plan
from halfstep.practice.syllabus import Syllabus, SyllabusRow
from halfstep.practice.tempo_rung import PASSES
from halfstep.practice.verdict_odds import NEARLY_WIDTH

LEARNERS: dict[str, Any] = {
    "traces": TraceLearner,
    "two speeds": TwoSpeedLearner,
    "stages": StageLearner,
}
MONDAY = date(2026, 1, 5)
SESSIONS = 60
MINUTES, RESTS = 30.0, 5.0
BEATS, BETWEEN_MINUTES = 48, 0.4  # twelve bars, and what lies between two passes
MISSED, FALSE_ALARM = 0.10, 0.07  # of faulty passes heard as clean, of clean ones not
GOOD = 0.8


def sigmoid(log_odds: Any) -> Any:
    return 1 / (1 + np.exp(-np.clip(log_odds, -60, 60)))


def session_days(random: np.random.Generator) -> list[date]:
    """Sixty days of about five a week, with three weeks away in the middle."""
    days, day = [], MONDAY
    while len(days) < SESSIONS:
        if random.random() < 0.72:
            days.append(day)
        day += timedelta(days=22 if len(days) == SESSIONS // 2 and days[-1] == day else 1)
    return days


class Student:
    """One student in front of one chooser, and what came of it."""

    def __init__(self, course: Course, learner: Learner, seed: int) -> None:
        self.course, self.learner = course, learner
        self.random = np.random.default_rng([seed, 7])
        self.chances: list[float] = []  # true, at the first pass of each item
        self.played = np.full(course.size, -1)  # the day of the last time
        self.first_passes: list[tuple[float, float]] = []  # predicted, heard clean or not

    def pass_once(self, place: int, tempo_bpm: float) -> tuple[Verdict, float, float]:
        """Play once: what is heard, how surely, and the true chance."""
        share = tempo_bpm / self.course.goals[place]
        log_odds = self.learner.log_odds_of(place) - SLOPE * np.log2(share)
        luck = self.random.random()
        clean = luck < sigmoid(log_odds)
        near = luck < sigmoid(log_odds + NEARLY_WIDTH)
        minute = BEATS / tempo_bpm + BETWEEN_MINUTES
        self.learner.play(place, min(share, 1.0), clean, minute)
        verdict, certainty = self._hear(clean, near)
        return verdict, certainty, float(sigmoid(log_odds))

    def _hear(self, clean: bool, near: bool) -> tuple[Verdict, float]:
        truth = Verdict.CLEAN if clean else Verdict.NEARLY if near else Verdict.NOT_YET
        wrong = self.random.random() < (FALSE_ALARM if clean else MISSED)
        certainty = self.random.uniform(0.4, 0.9) if wrong else self.random.uniform(0.7, 1.0)
        if wrong:
            truth = Verdict.NEARLY if clean else Verdict.CLEAN
        return truth, certainty

    def practise(self, turn: Turn, day: date) -> tuple[list[tuple[float, Verdict, float]], float]:
        """One item: until two clean passes in a row are heard, or its minutes are over."""
        passes: list[tuple[float, Verdict, float]] = []
        tempo_bpm, spent, clean = turn.tempo_bpm, 0.0, 0
        while not passes or spent + BEATS / tempo_bpm + BETWEEN_MINUTES <= turn.minutes + 0.5:
            verdict, certainty, chance = self.pass_once(turn.place, tempo_bpm)
            if not passes:
                self.chances.append(chance)
            passes.append((tempo_bpm, verdict, certainty))
            spent += BEATS / tempo_bpm + BETWEEN_MINUTES
            clean = clean + 1 if verdict is Verdict.CLEAN else 0
            if clean >= PASSES:
                break
        self.played[turn.place] = day.toordinal()
        return passes, spent


class Planner:
    """The planner as a chooser: its items in order, and again while minutes are left."""

    def __init__(self, beliefs: Beliefs) -> None:
        self.beliefs = beliefs
        self.queue: list[Turn] = []
        self.day = MONDAY
        self.count = 0
        self.guesses: list[tuple[float, bool]] = []
        self.probes: list[tuple[float, bool]] = []

    def begin(self, day: date) -> None:
        self.day, self.queue = day, []

    def probe(self, student: Student, day: date) -> None:
        """Ask of a few skills that were begun: clean at the goal tempo today?"""
        places = list(self.beliefs.tracks)
        for place in student.random.permutation(len(places))[:3]:
            row = self.beliefs.syllabus.rows[places[place]]
            chance = self.beliefs.chance(row.skill, row.goal_bpm, day)
            clean = student.random.random() < sigmoid(student.learner.log_odds_of(places[place]))
            self.probes.append((chance, bool(clean)))

    def choose(self, minutes: float) -> Turn:
        if not self.queue:
            self.queue = self._planned(minutes)
        if not self.queue:
            return None
        turn = self.queue.pop(0)
        turn.minutes = min(turn.minutes, minutes)
        return turn

    def _planned(self, minutes: float) -> list[Turn]:
        places = self.beliefs.syllabus.places
        if minutes > 0.9 * (MINUTES - RESTS):
            items = practice_plan(self.beliefs, self.day, minutes + RESTS + 1).items
        else:
            item = one_more(self.beliefs, self.day, ITEM_MINUTES)
            items = () if item is None else (item,)
        return [Turn(places[item.skill], item.tempo_bpm, item.minutes) for item in items]

    def hear(self, place: int, passes: list[tuple[float, Verdict, float]], day: date) -> None:
        skill = self.beliefs.syllabus.rows[place].skill
        told = [passes[0], passes[-1]] if len(passes) > 1 else passes
        chance = self.beliefs.chance(skill, passes[0][0], day)
        if place in self.beliefs.tracks and self.beliefs.tracks[place].last.at.date() < day:
            self.guesses.append((chance, passes[0][1] is Verdict.CLEAN))
        evidence = []
        for tempo_bpm, verdict, certainty in told:
            self.count += 1
            at = datetime.combine(day, time(12), UTC) + timedelta(seconds=self.count)
            evidence.append(Evidence(f"{self.count:06}", at, skill, tempo_bpm, verdict, certainty))
        self.beliefs = self.beliefs.after(evidence, day)


class Oracle:
    """One who knows the truth, and looks one item and one night ahead."""

    CANDIDATES = 12

    def __init__(self, course: Course, learner: Learner, random: np.random.Generator) -> None:
        self.course, self.learner, self.random = course, learner, random
        self.today: list[int] = []

    def begin(self, day: date) -> None:
        self.today = []

    def choose(self, minutes: float) -> Turn:
        log_odds = self.learner.log_odds()
        share = np.clip(2 ** ((log_odds - 1.2) / SLOPE), 0.3, 1.0)
        likely = sigmoid(log_odds - SLOPE * np.log2(share)) >= 0.5
        chance = sigmoid(log_odds)
        interest = chance * (1 - chance) * likely + 1e-9 * self.random.random(len(chance))
        interest[self.today] = 0
        places = np.argsort(-interest)[: self.CANDIDATES]
        best = max(places, key=lambda place: self._gain(int(place), float(share[place]), minutes))
        self.today.append(int(best))
        tempo_bpm = float(share[best] * self.course.goals[best])
        return Turn(int(best), tempo_bpm, min(minutes, ITEM_MINUTES))

    def _gain(self, place: int, share: float, minutes: float) -> float:
        copy = twin(self.learner)
        for _ in range(3):
            copy.play(place, share, True, 1.0)
        copy.sleep(1.0)
        return float(sigmoid(copy.log_odds()).sum())

    def hear(self, place: int, passes: list[tuple[float, Verdict, float]], day: date) -> None:
        """It knows."""


@dataclass(frozen=True)
class Result:
    """What came of one student with one chooser."""

    mean_skill: float
    end_skill: float
    mastered: float
    units: float
    first_chorus: float
    frustrating: float
    boring: float
    starved: float
    items: float
    begun: float
    guesses: tuple[tuple[float, bool], ...]
    probes: tuple[tuple[float, bool], ...]


def lived(
    course: Course, model: str, way: str, seed: int, habits: Habits, start: Beliefs
) -> Result:
    """One student's sixty sessions."""
    random = np.random.default_rng([seed, 3])
    learner = LEARNERS[model](course, random, habits)
    days = session_days(random)
    student = Student(course, learner, seed)
    chooser: Any
    if way == "planner":
        chooser = Planner(start)
    elif way == "oracle":
        chooser = Oracle(course, learner, np.random.default_rng([seed, 5]))
    else:
        chooser = RIVALS[way](course.syllabus, np.random.default_rng([seed, 5]))
    skills, first_chorus = [], float("nan")
    chorus = next(n for n, row in enumerate(course.syllabus.rows) if row.is_chorus)
    session = 0
    for day in (days[0] + timedelta(days=n) for n in range((days[-1] - days[0]).days + 1)):
        if session < len(days) and day == days[session]:
            session += 1
            left = MINUTES - RESTS
            chooser.begin(day)
            if isinstance(chooser, Planner):
                chooser.probe(student, day)
            while left > 1.5:
                turn = chooser.choose(left)
                if turn is None:
                    break
                passes, spent = student.practise(turn, day)
                left -= spent
                chooser.hear(turn.place, passes, day)
        learner.sleep(1.0)
        chances = sigmoid(learner.log_odds())
        skills.append(chances.mean())
        if np.isnan(first_chorus) and chances[chorus] >= GOOD:
            first_chorus = session
    begun = student.played >= 0
    old = begun & (student.played < days[-1].toordinal() - 30) & (chances < 0.5)
    rows = course.syllabus.rows
    first_keys = np.array([row.is_chorus and row.key_order == 0 for row in rows])
    true = np.array(student.chances)
    return Result(
        float(np.mean(skills)),
        skills[-1],
        float((chances >= GOOD).mean()),
        float((chances[first_keys] >= GOOD).sum()),
        first_chorus if not np.isnan(first_chorus) else SESSIONS + 1.0,
        float((true < 0.5).mean()),
        float((true > 0.97).mean()),
        float(old.sum() / max(1, begun.sum())),
        len(true) / SESSIONS,
        float(begun.sum()),
        tuple(getattr(chooser, "guesses", ())),
        tuple(getattr(chooser, "probes", ())),
    )
