"""What comes of one student who practises by one way to choose, over sixty sessions.

A session has 25 minutes of playing. A thing is played until two passes in a row are heard clean,
or until its minutes are over; then comes the next. Passes are heard as feedback hears: one fault
in ten is missed, .07 choruses are said to have one that have none; both were measured. A way to
choose is told of the first and the last pass of each thing. Sessions fall on about five days a
week, with three weeks away in the middle.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from math import exp, log2
from typing import Any

import numpy as np
from learners import (
    Course,
    Habits,
    Learner,
    StageLearner,
    TraceLearner,
    TwoSpeedLearner,
    bursts_of,
    chance_of_part,
    slope_of,
    twin,
)
from plan_rivals import ITEM_MINUTES, Turn, rival_of

from halfstep.practice.belief_layout import SLOWER
from halfstep.practice.beliefs import Beliefs
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.outlook import Outlook, outlook_of
from halfstep.practice.plan_choice import one_more, one_more_of, plan_of, practice_plan
from halfstep.practice.practice_plan import PlanItem
from halfstep.practice.skill_worth import MOST_PASSES, SkillWorth, skill_worth
from halfstep.practice.tempo_rung import PASSES
from halfstep.practice.verdict_odds import NEARLY_WIDTH

LEARNERS: dict[str, Any] = {
    "traces": TraceLearner,
    "two speeds": TwoSpeedLearner,
    "stages": StageLearner,
}
Passes = list[tuple[float, Verdict, float]]
MONDAY = date(2026, 1, 5)
SESSIONS = 60
MINUTES, RESTS = 30.0, 5.0
BEATS, BETWEEN_MINUTES = 48, 0.4  # twelve bars, and what lies between two passes
MISSED, FALSE_ALARM = 0.10, 0.07  # of faulty passes heard as clean, of clean ones not
GOOD = 0.8


def sigmoid(log_odds: Any) -> Any:
    return 1 / (1 + np.exp(-np.clip(log_odds, -60, 60)))


def chance_at(log_odds: float) -> float:
    """The same of one number."""
    return 1 / (1 + exp(-min(max(log_odds, -60.0), 60.0)))


def pass_minutes(tempo_bpm: float, part: float, *, is_first: bool = False) -> float:
    """How long a pass of a part of the bars takes, with what lies before it.

    Between two passes of few bars lies less than between two of all; before the first as much.
    """
    return part * BEATS / tempo_bpm + (1.0 if is_first else part) * BETWEEN_MINUTES


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
        self.slope, self.bursts = slope_of(seed), bursts_of(seed)
        self.chances: list[float] = []  # true, at the first pass of each item
        self.played = np.full(course.size, -1)  # the day of the last time

    def pass_once(self, place: int, tempo_bpm: float, part: float) -> tuple[Verdict, float, float]:
        """Play once: what is heard, how surely, and the true chance."""
        share = tempo_bpm / self.course.goals[place]
        log_odds = self.learner.log_odds_of(place) - self.slope * log2(share)
        luck = self.random.random()
        chance = chance_of_part(chance_at(log_odds), part, self.bursts)
        clean = luck < chance
        near = luck < chance_of_part(chance_at(log_odds + NEARLY_WIDTH), part, self.bursts)
        minute = pass_minutes(tempo_bpm, part)
        self.learner.play(place, min(share, 1.0), clean, minute, part)
        verdict, certainty = self._hear(clean, near)
        return verdict, certainty, chance

    def _hear(self, clean: bool, near: bool) -> tuple[Verdict, float]:
        truth = Verdict.CLEAN if clean else Verdict.NEARLY if near else Verdict.NOT_YET
        wrong = self.random.random() < (FALSE_ALARM if clean else MISSED)
        certainty = self.random.uniform(0.4, 0.9) if wrong else self.random.uniform(0.7, 1.0)
        if wrong:
            truth = Verdict.NEARLY if clean else Verdict.CLEAN
        return truth, certainty

    def practise(self, turn: Turn, day: date) -> tuple[Passes, float]:
        """One item: until two clean passes in a row are heard, or its minutes are over."""
        passes: Passes = []
        tempo_bpm, spent, clean = turn.tempo_bpm, 0.0, 0
        while not passes or spent + pass_minutes(tempo_bpm, turn.part) <= turn.minutes + 0.5:
            verdict, certainty, chance = self.pass_once(turn.place, tempo_bpm, turn.part)
            spent += pass_minutes(tempo_bpm, turn.part, is_first=not passes)
            if not passes:
                self.chances.append(chance)
            passes.append((tempo_bpm, verdict, certainty))
            clean = clean + 1 if verdict is Verdict.CLEAN else 0
            if clean >= PASSES:
                break
        self.played[turn.place] = day.toordinal()
        return passes, spent


def is_whole_session(minutes: float) -> bool:
    """Whether next to nothing of a session is over, when so many minutes are left."""
    return minutes > 0.9 * (MINUTES - RESTS)


class Planner:
    """The planner as a chooser: its items in order, and again while minutes are left."""

    def __init__(self, beliefs: Beliefs) -> None:
        self.beliefs = beliefs
        self.queue: list[Turn] = []
        self.day = MONDAY
        self.count = 0
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

    def choose(self, minutes: float) -> Turn | None:
        if not self.queue:
            self.queue = self._planned(minutes)
        if not self.queue:
            return None
        turn = self.queue.pop(0)
        turn.minutes = min(turn.minutes, minutes)
        return turn

    def _planned(self, minutes: float) -> list[Turn]:
        places = self.beliefs.syllabus.places
        return [
            Turn(places[item.skill], item.tempo_bpm, item.minutes, item.part)
            for item in self.items(minutes)
        ]

    def items(self, minutes: float) -> Iterable[PlanItem]:
        """A plan as a session begins, then one more thing at a time."""
        if is_whole_session(minutes):
            return practice_plan(self.beliefs, self.day, minutes + RESTS + 1).items
        item = one_more(self.beliefs, self.day, ITEM_MINUTES)
        return () if item is None else (item,)

    def hear(self, turn: Turn, passes: Passes, day: date) -> None:
        skill = self.beliefs.syllabus.rows[turn.place].skill
        told = [passes[0], passes[-1]] if len(passes) > 1 else passes
        evidence = []
        for tempo_bpm, verdict, certainty in told:
            self.count += 1
            at = datetime.combine(day, time(12), UTC) + timedelta(seconds=self.count)
            played = skill, tempo_bpm, verdict, certainty
            evidence.append(Evidence(f"{self.count:06}", at, *played, part=turn.part))
        self.beliefs = self.beliefs.after(evidence, day)


class Informed(Planner):
    """One who keeps all rules of the planner, and knows how likely each is clean and what it gives.

    What a thing gives is tried once a session, on a twin who plays it until it should be clean
    twice and then lets some days pass: how much more skill is left than to one who did not.
    """

    DAYS_AFTER = 7.0
    TRIES = 6  # where it is a matter of luck what practice gives
    POSSIBLE = 0.2  # what is less likely clean gives nothing worth trying

    def __init__(self, beliefs: Beliefs, learner: Learner, seed: int) -> None:
        super().__init__(beliefs)
        self.learner, self.slope = learner, slope_of(seed)
        self.gains: Any = None

    def begin(self, day: date) -> None:
        super().begin(day)
        outlook = self._outlook()
        self.gains = self._gains_a_minute(skill_worth(outlook, self.beliefs.syllabus))

    def items(self, minutes: float) -> Iterable[PlanItem]:
        outlook = self._outlook()
        worth = replace(skill_worth(outlook, self.beliefs.syllabus), worths=self.gains)
        if is_whole_session(minutes):
            return plan_of(self.beliefs, outlook, worth, self.day, minutes + RESTS + 1).items
        item = one_more_of(self.beliefs, outlook, worth, ITEM_MINUTES)
        return () if item is None else (item,)

    def _outlook(self) -> Outlook:
        """As things truly are."""
        outlook = outlook_of(self.beliefs, self.day)
        pace, nothing = list(outlook.pace), np.zeros_like(outlook.means)
        pace[SLOWER] = self.slope
        means = self.learner.log_odds()
        return replace(outlook, means=means, variances=nothing, blur=nothing + 1, pace=tuple(pace))

    def _gains_a_minute(self, worth: SkillWorth) -> Any:
        tries = self.TRIES if isinstance(self.learner, StageLearner) else 1
        before = sum(self._skill_left(twin(self.learner)) for _ in range(4 * tries)) / (4 * tries)
        gains = np.full_like(worth.worths, -1.0)
        for place in np.flatnonzero(worth.within_reach & (worth.chances >= self.POSSIBLE)):
            tempo_bpm, part = float(worth.tempo_bpm[place]), float(worth.parts[place])
            chance = float(worth.chances[place])
            passes = min((1 + chance) / chance**2, MOST_PASSES)
            minutes = (1 - part) * BETWEEN_MINUTES + passes * pass_minutes(tempo_bpm, part)
            left = [
                self._skill_left(self._played(int(place), tempo_bpm, part, round(passes)))
                for _ in range(tries)
            ]
            gains[place] = (sum(left) / tries - before) / minutes
        return gains

    def _played(self, place: int, tempo_bpm: float, part: float, passes: int) -> Learner:
        """A twin who has played something so often."""
        other: Learner = twin(self.learner)
        share = tempo_bpm / float(self.beliefs.layout.grid.goal_bpm[place])
        for _ in range(passes):
            other.play(place, share, True, pass_minutes(tempo_bpm, part), part)
        return other

    def _skill_left(self, learner: Learner) -> float:
        learner.sleep(self.DAYS_AFTER)
        return float(sigmoid(learner.log_odds()).sum())


INFORMED = "planner, informed"


class Oracle:
    """One who knows the truth, and looks one item and one night ahead."""

    CANDIDATES = 12

    def __init__(self, course: Course, learner: Learner, seed: int) -> None:
        self.course, self.learner, self.slope = course, learner, slope_of(seed)
        self.random = np.random.default_rng([seed, 5])
        self.today: list[int] = []

    def begin(self, day: date) -> None:
        self.today = []

    def choose(self, minutes: float) -> Turn:
        log_odds = self.learner.log_odds()
        share = np.clip(2 ** ((log_odds - 1.2) / self.slope), 0.3, 1.0)
        likely = sigmoid(log_odds - self.slope * np.log2(share)) >= 0.5
        chance = sigmoid(log_odds)
        interest = chance * (1 - chance) * likely + 1e-9 * self.random.random(len(chance))
        interest[self.today] = 0
        places = np.argsort(-interest)[: self.CANDIDATES]
        best = max(places, key=lambda place: self._gain(int(place), float(share[place])))
        self.today.append(int(best))
        tempo_bpm = float(share[best] * self.course.goals[best])
        return Turn(int(best), tempo_bpm, min(minutes, ITEM_MINUTES))

    def _gain(self, place: int, share: float) -> float:
        other = twin(self.learner)
        for _ in range(3):
            other.play(place, share, True, 1.0)
        other.sleep(1.0)
        return float(sigmoid(other.log_odds()).sum())

    def hear(self, turn: Turn, passes: Passes, day: date) -> None:
        """It knows."""


@dataclass(frozen=True)
class Outcome:
    """What came of one student with one way to choose; skill is the chance at the goal tempo.

    Attributes
    ----------
    mean_skill, end_skill : float
        Of all skills of the course, over all days and at the end.
    gained : float
        What the first is above the skill before the first session.
    gained_an_hour : float
        Skills' worth gained in each hour of playing.
    mastered : float
        Share of skills that are clean four times in five at the end.
    units : float
        Units of which the chorus is, in the first key.
    first_chorus : float
        Sessions until that of the first unit is; one more than there are for never.
    frustrating, boring : float
        Share of things whose true chance was below .5, above .97, as they began.
    starved : float
        Share of skills that were begun, are not yet known, and were let lie for 30 days.
    probes : list of (float, bool)
        Chances foretold for skills that were begun, and whether they were clean that day.
    """

    mean_skill: float
    end_skill: float
    gained: float
    gained_an_hour: float
    mastered: float
    units: float
    first_chorus: float
    frustrating: float
    boring: float
    starved: float
    probes: list[tuple[float, bool]]


def chooser_of(way: str, course: Course, learner: Learner, start: Beliefs, seed: int) -> Any:
    """A way to choose, by its name."""
    if way == "planner":
        return Planner(start)
    if way == INFORMED:
        return Informed(start, learner, seed)
    if way == "oracle":
        return Oracle(course, learner, seed)
    return rival_of(way, course.syllabus, np.random.default_rng([seed, 5]))


def hold_session(student: Student, chooser: Any, day: date) -> None:
    """One session."""
    chooser.begin(day)
    if isinstance(chooser, Planner):
        chooser.probe(student, day)
    left = MINUTES - RESTS
    while left > 1.5 and (turn := chooser.choose(left)) is not None:
        passes, spent = student.practise(turn, day)
        left -= spent
        chooser.hear(turn, passes, day)


def outcome_of(
    course: Course, model: str, way: str, seed: int, habits: Habits, start: Beliefs
) -> Outcome:
    """One student's sixty sessions."""
    random = np.random.default_rng([seed, 3])
    learner = LEARNERS[model](course, random, habits)
    days, student = session_days(random), Student(course, learner, seed)
    chooser = chooser_of(way, course, learner, start, seed)
    skills, sessions = [sigmoid(learner.log_odds())], [0]
    for day in (days[0] + timedelta(days=n) for n in range((days[-1] - days[0]).days + 1)):
        if day in days:
            hold_session(student, chooser, day)
        learner.sleep(1.0)
        skills.append(sigmoid(learner.log_odds()))
        sessions.append(sessions[-1] + (day in days))
    return summed_up(course, student, np.array(skills), sessions, getattr(chooser, "probes", []))


def summed_up(
    course: Course, student: Student, skills: Any, sessions: list[int], probes: Any
) -> Outcome:
    """The figures of a student; skills are of shape (days, skills)."""
    rows, end = course.syllabus.rows, skills[-1]
    choruses = [place for place, row in enumerate(rows) if row.is_chorus and not row.key_order]
    whole = np.flatnonzero(skills[:, choruses[0]] >= GOOD)
    begun, true = student.played >= 0, np.array(student.chances)
    idle = begun & (student.played < student.played.max() - 30) & (end < 0.5)
    gained = float(end.sum() - skills[0].sum())
    return Outcome(
        mean_skill=float(skills.mean()),
        end_skill=float(end.mean()),
        gained=float(skills.mean() - skills[0].mean()),
        gained_an_hour=gained / (SESSIONS * (MINUTES - RESTS) / 60),
        mastered=float((end >= GOOD).mean()),
        units=float((end[choruses] >= GOOD).sum()),
        first_chorus=float(sessions[whole[0]] if len(whole) else SESSIONS + 1),
        frustrating=float((true < 0.5).mean()),
        boring=float((true > 0.97).mean()),
        starved=float(idle.sum() / max(1, begun.sum())),
        probes=probes,
    )
