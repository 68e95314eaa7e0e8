"""What does a student practise today? Two to five items, chosen by what is believed.

A pure function of beliefs: no store, no sheets, no sound. The order is warm-up, what went
wrong, what is new, what is due, and a chorus last; nothing that looks like the new thing
follows it. Sources: rests, hear it first, tomorrow rather than later today, no look-alike
line right after a new one: docs/practice-model.md names them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from halfstep.level import Level
from halfstep.practice.evidence import Verdict
from halfstep.practice.outlook import Outlook, outlook_of
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan, Rest
from halfstep.practice.skill_worth import SkillWorth, skill_worth
from halfstep.practice.tempo_rung import PASSES

if TYPE_CHECKING:
    from halfstep.practice.belief_filter import SkillTrack
    from halfstep.practice.beliefs import Beliefs
    from halfstep.practice.skill_grid import Flags

LIKELY, UNLIKELY = 0.97, 0.5
"""What is likelier than that is boring, and what is less likely is frustrating."""

WARM = 0.75
"""So likely is clean in what warms up."""

MEND_DAYS = 14
"""So long what went wrong is mended before anything else."""

SHAKY = 4
"""Nothing new while so many skills are shaky."""

ITEMS = ((8, 2), (15, 3), (22, 4))
"""Up to so many minutes, so many items; five beyond."""

SHARES = {
    ItemRole.WARM_UP: 2.0,
    ItemRole.MEND: 3.0,
    ItemRole.NEW: 3.0,
    ItemRole.REVIEW: 2.5,
    ItemRole.CHORUS: 2.5,
}
"""How minutes are shared out."""

MANNERS = {
    Level.BEGINNER: Manner.BLOCKED,
    Level.INTERMEDIATE: Manner.MIXED,
    Level.ADVANCED: Manner.MIXED,
}


SLOTS = (
    (ItemRole.NEW,),
    (ItemRole.WARM_UP, ItemRole.NEW),
    (ItemRole.WARM_UP, ItemRole.NEW, ItemRole.MEND),
    (ItemRole.WARM_UP, ItemRole.NEW, ItemRole.MEND, ItemRole.REVIEW),
)
"""Which roles are filled before the chorus, where there is room for one, two, three, four."""


@dataclass(slots=True)
class _Shelf:
    """What may be chosen still.

    Attributes
    ----------
    outlook : Outlook
    worth : SkillWorth
    free : array of bool, (skills,)
    """

    outlook: Outlook
    worth: SkillWorth
    free: Flags

    def best(self, suited: Flags) -> int | None:
        """The place of the skill that is worth most among those suited and free."""
        suited = suited & self.free
        if not suited.any():
            return None
        return int(np.where(suited, self.worth.worths, -np.inf).argmax())

    def take(self, suited: Flags) -> int | None:
        """The same, which is then no longer free."""
        place = self.best(suited)
        if place is not None:
            self.free[place] = False
        return place


def practice_plan(
    beliefs: Beliefs, day: date, minutes: float = 30.0, manner: Manner | None = None
) -> PracticePlan:
    """A day's practice of so many minutes, rests among them."""
    return plan_of(beliefs, outlook_of(beliefs, day), day, minutes, manner)


def plan_of(
    beliefs: Beliefs,
    outlook: Outlook,
    day: date,
    minutes: float = 30.0,
    manner: Manner | None = None,
) -> PracticePlan:
    """The same from an outlook that stands already."""
    worth = skill_worth(outlook, beliefs.syllabus)
    shelf = _Shelf(outlook, worth, np.ones(len(worth.worths), np.bool_))
    picks = _picks(shelf, _item_count(minutes))
    rests = _rests(len(picks), minutes)
    playing = minutes - sum(rest.minutes for rest in rests)
    total = sum(SHARES[role] for role, _ in picks)
    items = (
        _item(beliefs, shelf, role, place, playing * SHARES[role] / total) for role, place in picks
    )
    manner = manner or MANNERS[beliefs.syllabus.level]
    return PracticePlan(day, minutes, tuple(items), rests, manner)


def _item_count(minutes: float) -> int:
    return next((count for most, count in ITEMS if minutes <= most), 5)


def _rests(items: int, minutes: float) -> tuple[Rest, ...]:
    """A short one early, and five minutes in each half hour (advice of music schools)."""
    if minutes < 20 or items < 2:
        return ()
    long = Rest((items + 1) // 2, 5.0 * max(1, round(minutes / 30)))
    return (long,) if items < 4 else (Rest(1, 1.0), long)


def _picks(shelf: _Shelf, count: int) -> list[tuple[ItemRole, int]]:
    """Roles and places of the items, in the order they are played."""
    suited = _suited(shelf)
    chorus = shelf.take(_choruses(shelf, suited))
    if chorus is None:
        return []
    if shelf.outlook.times[chorus] == 0 and shelf.outlook.times.any():
        suited[ItemRole.NEW] = np.zeros_like(suited[ItemRole.NEW])  # one new thing at most
    picks = [(role, place) for role, place in _filled(shelf, suited, count - 1)]
    order = list(ItemRole)
    return [*sorted(picks, key=lambda pick: order.index(pick[0])), (ItemRole.CHORUS, chorus)]


def _filled(
    shelf: _Shelf, suited: dict[ItemRole, Flags], count: int
) -> Iterator[tuple[ItemRole, int]]:
    """Roles and places for so many items, the new thing first; what room is left is for reviews."""
    room = count
    for role in (*sorted(SLOTS[count - 1], key=FIRST.index), *FILLERS * count):
        if room and (place := shelf.take(suited[role])) is not None:
            room -= 1
            yield role, place
            if role is ItemRole.NEW:
                shelf.free &= ~_look_alikes(shelf, place)


FIRST = (ItemRole.NEW, ItemRole.MEND, ItemRole.REVIEW, ItemRole.WARM_UP)
"""The order in which roles choose."""

FILLERS = (ItemRole.MEND, ItemRole.REVIEW)


def _suited(shelf: _Shelf) -> dict[ItemRole, Flags]:
    """Which skills suit each role."""
    outlook, worth = shelf.outlook, shelf.worth
    played, fit = outlook.times > 0, worth.within_reach & (worth.chances >= UNLIKELY)
    recent = outlook.failed & (outlook.days_ago <= MEND_DAYS)
    shaky = played & (outlook.failed | (worth.chances < WARM))
    fresh = fit & ~played & (np.count_nonzero(shaky) < SHAKY)
    lively = fit & played & (worth.chances <= LIKELY)
    return {
        ItemRole.WARM_UP: played & ~outlook.failed & (worth.chances >= WARM),
        ItemRole.MEND: lively & recent,
        ItemRole.NEW: fresh & ~outlook.grid.choruses,
        ItemRole.REVIEW: lively,
        ItemRole.CHORUS: outlook.grid.choruses & (lively | fresh),
    }


def _choruses(shelf: _Shelf, suited: dict[ItemRole, Flags]) -> Flags:
    """Which choruses may end the day: a new one where nothing else new is worth more."""
    played = shelf.outlook.times > 0
    choruses, new = suited[ItemRole.CHORUS], shelf.best(suited[ItemRole.NEW])
    least = 0.0 if new is None else shelf.worth.worths[new]
    worthy = choruses & (played | (shelf.worth.worths >= least))
    for fallback in (worthy, choruses, shelf.outlook.grid.choruses & played):
        if fallback.any():
            return fallback
    first = np.flatnonzero(shelf.outlook.grid.choruses)[:1]
    return np.isin(np.arange(len(played)), first)


def _look_alikes(shelf: _Shelf, place: int) -> Flags:
    """What looks like a skill: the same step, in another key or over other chords."""
    names = shelf.outlook.grid.step_names
    alike: Flags = names == names[place]
    return alike


def _item(beliefs: Beliefs, shelf: _Shelf, role: ItemRole, place: int, minutes: float) -> PlanItem:
    row, track = beliefs.syllabus.rows[place], beliefs.tracks.get(place)
    times = track.times if track else 0
    tempo_bpm = float(shelf.worth.tempo_bpm[place])
    return PlanItem(
        role,
        row.skill,
        tempo_bpm,
        round(minutes, 1),
        float(shelf.worth.chances[place]),
        track.last if track else None,
        PASSES,
        _progression(beliefs, row.unit, track),
        times * len(beliefs.syllabus.rows) + place + 1,
        float(shelf.outlook.left[place]),
        track is not None and tempo_bpm < track.last.tempo_bpm - 1,
    )


def _progression(beliefs: Beliefs, unit: int, track: SkillTrack | None) -> int:
    """Which progression is next: the same again where it was not clean, else the next one."""
    count = beliefs.syllabus.progressions[unit]
    if track is None:
        return 0
    last = track.last
    if last.verdict is not Verdict.CLEAN and last.progression in range(count):
        return last.progression or 0
    return track.times % count
