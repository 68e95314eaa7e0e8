"""What may a week look like? A plan for each day, as if each went as it is expected to.

What is not clean in truth changes the days after it, so only the first of them stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

from halfstep.practice.beliefs import Beliefs
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.plan_choice import practice_plan
from halfstep.practice.practice_plan import PracticePlan

DAYS = 7
LIKELY_CLEAN = 0.5
"""What is likelier clean than that is taken as clean."""


def week_from(beliefs: Beliefs, first: PracticePlan) -> tuple[PracticePlan, ...]:
    """A week that begins with the plan of a day."""
    plans = [first]
    while len(plans) < DAYS:
        last = plans[-1]
        day = last.day + timedelta(days=1)
        beliefs = beliefs.after(_expected(last, beliefs.evidence), day)
        plans.append(practice_plan(beliefs, day, last.minutes))
    return tuple(plans)


def _expected(plan: PracticePlan, evidence: tuple[Evidence, ...]) -> Iterator[Evidence]:
    """How a day is expected to go, for what was not played on it yet."""
    played = {piece.skill for piece in evidence if piece.at.date() == plan.day}
    for item in plan.items:
        if item.skill not in played:
            yield Evidence(
                source=f"expected {plan.day.isoformat()} {item.role}",
                at=_evening(plan.day),
                skill=item.skill,
                tempo_bpm=item.tempo_bpm,
                verdict=Verdict.CLEAN if item.chance >= LIKELY_CLEAN else Verdict.NEARLY,
                weight=0.5,
                minutes=item.minutes,
                part=item.part,
            )


def _evening(day: date) -> datetime:
    return datetime.combine(day, time(20), UTC)
