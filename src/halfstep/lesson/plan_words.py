"""A day's practice in words a student reads: what to play, why it is here, and when to stop.

Words fit for a twelve-year-old. Nothing is said of a student but what was heard, and when.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from math import ceil

from halfstep.course.unit import CourseUnit
from halfstep.etude.step import Step
from halfstep.meter import SLOWEST_BPM
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan, Rest

ROLES = {
    ItemRole.WARM_UP: "warm-up",
    ItemRole.MEND: "mend",
    ItemRole.NEW: "new",
    ItemRole.NEXT_KEY: "next key",
    ItemRole.REVIEW: "again",
    ItemRole.CHORUS: "whole chorus",
}
"""What an item is called by its role."""

VERDICTS = {
    Verdict.CLEAN: "clean",
    Verdict.NEARLY: "nearly",
    Verdict.NOT_YET: "not yet",
}
"""A player's own words."""

MANNERS = {
    Manner.BLOCKED: "One thing after the other: finish one before you begin the next.",
    Manner.MIXED: "Between the first and the last, go round twice: half of the minutes of each "
    "item, then the other half of each.",
}

DAYS_BY_NAME = 6
"""So long a day is called by its name."""
LONG_AGO = 14
"""So many days are long."""

WEEK_MANNER = (
    "Tick a box when you have played that thing, well or not. The tempo is where to come to: begin "
    "slower, and write down on the line how fast it went when it went well."
)
WEEK_LINES = (
    "For my teacher: what I like, what is hard",
    "From home, if somebody listened: a parent or guardian",
)
WEEK_NOTE = (
    "Only the first day stands: what goes well or not changes the days after it. Plan each day "
    "anew. A day without practice is no harm; the next one is met where you are."
)


def day_words(day: date) -> str:
    """A day as it is printed: ``Monday, 2 March 2026``."""
    return f"{day:%A}, {day.day} {day:%B %Y}"


def item_title(unit: CourseUnit, step: Step) -> str:
    """What an item is called."""
    return f"{unit.title}: {step.title.lower()}"


def why_words(item: PlanItem, day: date) -> str:
    """Why an item is here."""
    words = " ".join(_why(item, day))
    return words[0].upper() + words[1:]


def _why(item: PlanItem, day: date) -> Iterator[str]:
    last = item.last
    if last is None:
        yield _FIRST_TIME[item.role]
    elif last.verdict is Verdict.CLEAN:
        yield f"{when(last, day)} it was clean:"
        yield _CLEAN[item.role]
    elif last.trouble:
        yield f"{last.trouble.rstrip('.')} ({when(last, day)})."
    else:
        yield f"{when(last, day)} it was {_NOT_CLEAN[last.verdict]}."
    if item.is_easier:
        how = "slower" if last is None or item.part >= last.part else "with fewer bars"
        yield f"Start {how} than the last time, so that all of it comes back."


_FIRST_TIME = {
    ItemRole.WARM_UP: "something easy to begin with.",
    ItemRole.MEND: "it has not been played yet.",
    ItemRole.NEW: "this is new today: take your time with it.",
    ItemRole.NEXT_KEY: "you can play it in another key; now in this one.",
    ItemRole.REVIEW: "it has not been played yet.",
    ItemRole.CHORUS: "all of it in one go, with what you can play. When it goes wrong, play on.",
}
_CLEAN = {
    ItemRole.WARM_UP: "play it to warm up.",
    ItemRole.MEND: "once more, so that it stays.",
    ItemRole.NEW: "now it goes on from there.",
    ItemRole.NEXT_KEY: "now it goes on from there.",
    ItemRole.REVIEW: "it is time to see whether it stayed.",
    ItemRole.CHORUS: "play it all in one go.",
}
_NOT_CLEAN = {Verdict.NEARLY: "nearly clean", Verdict.NOT_YET: "not clean yet"}


def when(evidence: Evidence, day: date) -> str:
    """When something was played, as it is said on a day."""
    played = evidence.at.date()
    ago = (day - played).days
    if ago <= 0:
        return "today"
    if ago == 1:
        return "yesterday"
    if ago <= DAYS_BY_NAME:
        return f"on {played:%A}"
    return f"{ago} days ago" if ago < LONG_AGO else f"{ago // 7} weeks ago"


def stop_words(item: PlanItem) -> str:
    """When to stop, and what to do where it does not work."""
    passes = "one clean pass" if item.passes == 1 else f"{item.passes} clean passes in a row"
    tempo_bpm = slower(item.tempo_bpm)
    fails = "leave it for tomorrow" if tempo_bpm is None else f"go on slower, at {tempo_bpm:g}"
    return f"after {passes}, or after {minutes_words(item.minutes)}. If two fail, {fails}."


def slower(tempo_bpm: float) -> float | None:
    """The tempo after two failures; None where nothing slower is played to."""
    lower = round(tempo_bpm * 0.9 / 2) * 2.0
    return lower if SLOWEST_BPM <= lower < tempo_bpm else None


def loop_words(item: PlanItem, bars: int) -> str:
    """Which bars go round."""
    if few := few_bars(item, bars):
        link = "and" if few[1] == few[0] + 1 else "to"
        return f"bars {few[0]} {link} {few[1]} alone, round and round; all {bars} another day"
    if not (spot := spot_bars(item, bars)):
        return f"all {bars} bars, round and round" if bars > 1 else "the one bar, round and round"
    first, last = spot
    return f"bars {first} to {last} first, then all {bars}"


def spot_bars(item: PlanItem, bars: int) -> tuple[int, ...]:
    """The first and the last bar that go round first, or alone; empty for all of them."""
    spot = item.last.trouble_bar if item.last else None
    around = () if spot is None or bars <= LOOP_BARS else loop_bars(spot, bars)
    return few_bars(item, bars) or around


FEWEST_BARS = 2
"""Bars that go round alone, at the fewest: a change stands between two,"""
ANSWERED, ANSWERED_BARS = frozenset({"echo", "question", "call-and-response"}), 4
"""and what is asked in two bars is answered in two."""


def few_bars(item: PlanItem, bars: int) -> tuple[int, ...]:
    """The first and the last bar where few of them go round alone; empty for all of them.

    They are the first ones, or those around what went wrong.
    """
    fewest = ANSWERED_BARS if item.skill.step in ANSWERED else FEWEST_BARS
    count = max(fewest, ceil(item.part * bars))
    spot = item.last.trouble_bar if item.last else None
    return loop_bars(spot or 1, bars, count) if count < bars else ()


LOOP_BARS = 4
"""Bars of a loop around a spot."""


def loop_bars(spot: int, bars: int, count: int = LOOP_BARS) -> tuple[int, int]:
    """So many bars from one before the spot on, inside the form."""
    first = max(1, min(spot - 1, bars - count + 1))
    return first, min(bars, first + count - 1)


def minutes_words(minutes: float) -> str:
    """Minutes to the half: ``4½ minutes``."""
    halves = max(1, round(2 * minutes))
    whole, half = divmod(halves, 2)
    number = f"{whole or ''}{'½' * half}"
    return f"{number} minute{'' if halves <= 2 else 's'}"


def length_words(plan: PracticePlan) -> str:
    """How long a day is, and how much it holds."""
    things = "1 thing" if len(plan.items) == 1 else f"{len(plan.items)} things"
    rests = " with the rests" if plan.rests else ""
    length = sum(item.minutes for item in plan.items) + sum(rest.minutes for rest in plan.rests)
    is_shorter = length < plan.minutes - 1
    rest = f"; the rest of your {plan.minutes:g} minutes is your own" if is_shorter else ""
    return f"{minutes_words(min(length, plan.minutes))}{rests}, {things} to practise{rest}"


def rest_words(rest: Rest) -> str:
    """What a rest is for."""
    if rest.minutes < 2:
        return "A short rest: put the instrument down, breathe, shake your hands."
    return "Rest. Leave the room or sit quietly: what is new settles in the meantime."


def manner_words(plan: PracticePlan) -> str:
    """How the items follow one another."""
    mixed = plan.manner is Manner.MIXED and len(plan.items) > 3
    manner = MANNERS[Manner.MIXED if mixed else Manner.BLOCKED]
    listen = "Listen to each sheet's sound before you play it."
    return f"{listen} {manner}"
