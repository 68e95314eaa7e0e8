"""A day's practice as data, written and read."""

from __future__ import annotations

from datetime import date
from typing import Any

from halfstep.data.documents import JsonForm, read_document
from halfstep.data.evidence_json import evidence_data, read_evidence, read_skill
from halfstep.errors import ReadError
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan, Rest

PLAN_FORM = JsonForm("halfstep-plan", "a plan of a day's practice")
WEEK_FORM = JsonForm("halfstep-week", "the plans of a week")


def plan_data(plan: PracticePlan) -> dict[str, Any]:
    """A plan as data."""
    return {
        **PLAN_FORM.head,
        "day": plan.day.isoformat(),
        "minutes": plan.minutes,
        "items": [_item_data(item) for item in plan.items],
        "rests": [{"after": rest.after, "minutes": rest.minutes} for rest in plan.rests],
        "manner": str(plan.manner),
    }


def read_plan(text: str) -> PracticePlan:
    """The plan that was stored as data.

    Raises
    ------
    ReadError
        When it is none, or of another version.
    """
    return plan_from(read_document(text, PLAN_FORM))


def plan_from(data: dict[str, Any]) -> PracticePlan:
    """The plan that data are.

    Raises
    ------
    ReadError
    """
    try:
        return PracticePlan(
            date.fromisoformat(data["day"]),
            data["minutes"],
            tuple(map(_item, data["items"])),
            tuple(Rest(rest["after"], rest["minutes"]) for rest in data["rests"]),
            Manner(data["manner"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ReadError(f"this plan is damaged: {error!r}") from None


def _item_data(item: PlanItem) -> dict[str, Any]:
    return {
        "role": str(item.role),
        **item.skill._asdict(),
        "tempo_bpm": item.tempo_bpm,
        "minutes": item.minutes,
        "chance": round(item.chance, 4),
        "passes": item.passes,
        "share_left": round(item.share_left, 4),
        "is_easier": item.is_easier,
        "part": item.part,
        "progression": item.progression,
        "seed": item.seed,
        "last": None if item.last is None else evidence_data(item.last),
    }


def _item(data: dict[str, Any]) -> PlanItem:
    return PlanItem(
        role=ItemRole(data["role"]),
        skill=read_skill(data),
        tempo_bpm=data["tempo_bpm"],
        minutes=data["minutes"],
        chance=data["chance"],
        last=None if data["last"] is None else read_evidence(data["last"]),
        passes=data["passes"],
        progression=data["progression"],
        seed=data["seed"],
        share_left=data["share_left"],
        is_easier=data["is_easier"],
        part=data.get("part", 1.0),  # of a plan before bars were practised by themselves
    )
