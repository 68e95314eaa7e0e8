"""An invented course as numbers, and students who play it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from random import Random

from halfstep.level import Level
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.practice.plan_choice import practice_plan
from halfstep.practice.practice_plan import PracticePlan
from halfstep.practice.syllabus import Syllabus, SyllabusRow

MONDAY = date(2026, 1, 5)
KEYS = (0, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5, 6)


def made_syllabus(
    units: int = 6, steps: int = 4, keys: int = 5, level: Level = Level.BEGINNER
) -> Syllabus:
    """Units in a row, each with a few of nine steps and a chorus."""
    rows = (
        SyllabusRow(
            Skill(f"unit-{unit}", _step(unit, step, steps), KEYS[key]),
            unit,
            step,
            key,
            start_bpm=60.0,
            goal_bpm=120.0,
            is_chorus=step == steps - 1,
        )
        for unit in range(units)
        for key in range(keys)
        for step in range(steps)
    )
    needs = tuple((unit - 1,) if unit else () for unit in range(units))
    return Syllabus(tuple(rows), needs, (3,) * units, level)


def _step(unit: int, step: int, steps: int) -> str:
    return "chorus" if step == steps - 1 else f"step-{(unit + step) % 9}"


SYLLABUS = made_syllabus()
FIRST = SYLLABUS.rows[0].skill


def at_noon(day: date, minute: int = 0) -> datetime:
    """A moment of that day."""
    return datetime.combine(day, time(12), UTC) + timedelta(minutes=minute)


def played(
    skill: Skill = FIRST,
    verdict: Verdict = Verdict.CLEAN,
    day: date = MONDAY,
    tempo_bpm: float = 80.0,
    source: str = "take",
    weight: float = 1.0,
) -> Evidence:
    """One time that a skill was played."""
    return Evidence(source, at_noon(day), skill, tempo_bpm, verdict, weight)


def clean_days(skill: Skill, days: list[int], tempo_bpm: float = 80.0) -> list[Evidence]:
    """Played clean on such days from Monday on."""
    return [
        played(skill, day=MONDAY + timedelta(days=day), tempo_bpm=tempo_bpm, source=f"day-{day}")
        for day in days
    ]


def lived_days(
    syllabus: Syllabus = SYLLABUS, seed: int = 1, minutes: float = 30.0, days: int = 40
) -> Iterator[tuple[PracticePlan, Beliefs]]:
    """A student's days, with plan and beliefs before it: what was planned goes as is believed."""
    random, numbers = Random(seed), count()
    beliefs = beliefs_of(syllabus, (), MONDAY)
    for day in (MONDAY + timedelta(days=away) for away in range(days)):
        plan = practice_plan(beliefs, day, minutes)
        yield plan, beliefs
        verdicts = [_verdict(random.random() - item.chance) for item in plan.items]
        evidence = [
            replace(
                played(item.skill, word, day, item.tempo_bpm, f"take-{next(numbers)}"),
                at=at_noon(day, place),
                part=item.part,
            )
            for place, (item, word) in enumerate(zip(plan.items, verdicts, strict=True))
        ]
        beliefs = beliefs.after(evidence, day)


def _verdict(short: float) -> Verdict:
    """By how much luck fell short of the chance."""
    return Verdict.CLEAN if short < 0 else Verdict.NEARLY if short < 0.1 else Verdict.NOT_YET
