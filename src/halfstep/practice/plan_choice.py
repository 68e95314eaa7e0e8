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
from halfstep.practice.belief_layout import eased_by
from halfstep.practice.evidence import Verdict
from halfstep.practice.outlook import Outlook, outlook_of
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan, Rest
from halfstep.practice.skill_worth import (
    FINISHED,
    OVERDUE_DAYS,
    SAFE,
    SkillWorth,
    playable,
    skill_worth,
    tempi_today,
)
from halfstep.practice.tempo_rung import PASSES

if TYPE_CHECKING:
    from halfstep.practice.beliefs import Beliefs
    from halfstep.practice.skill_grid import Flags, Numbers, SkillGrid
    from halfstep.practice.skill_track import SkillTrack

LIKELY, UNLIKELY = 0.97, 0.5
"""What is likelier than that is boring, and what is less likely is frustrating."""

KNOWN, WARM = 0.7, 0.88
"""What is so likely clean may warm up, at a tempo at which it is even likelier."""

MEND_DAYS = 14
"""So long what went wrong is mended before anything else."""

UNFINISHED = 32
"""Nothing new while so many skills more are being learnt than are finished: who learns quickly
meets new things quickly."""

LEFT = 4
"""Where fewer things than that are left to learn, one comes that is less likely than not."""

ITEMS = ((8, 2), (15, 3), (22, 4))
"""Up to so many minutes, so many items; five beyond."""

LONG_MINUTES = 20.0
"""From so many on there are rests."""

SHARES = {
    ItemRole.WARM_UP: 2.0,
    ItemRole.MEND: 3.0,
    ItemRole.NEW: 3.0,
    ItemRole.NEXT_KEY: 3.0,
    ItemRole.REVIEW: 2.5,
    ItemRole.CHORUS: 2.5,
}
"""How minutes are shared out."""

LONGEST_ITEM = 20.0
"""Minutes after which more of the same teaches little (common practice, no source); what is left of
a long day is the player's own."""

MANNERS = {
    Level.BEGINNER: Manner.BLOCKED,
    Level.INTERMEDIATE: Manner.MIXED,
    Level.ADVANCED: Manner.MIXED,
}


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

    @classmethod
    def of(cls, outlook: Outlook, worth: SkillWorth) -> _Shelf:
        """All skills."""
        return cls(outlook, worth, np.ones(len(outlook.times), np.bool_))

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
    outlook = outlook_of(beliefs, day)
    return plan_of(beliefs, outlook, skill_worth(outlook, beliefs.syllabus), day, minutes, manner)


def plan_of(
    beliefs: Beliefs,
    outlook: Outlook,
    worth: SkillWorth,
    day: date,
    minutes: float = 30.0,
    manner: Manner | None = None,
) -> PracticePlan:
    """The same from an outlook and a worth that stand already."""
    shelf = _Shelf.of(outlook, worth)
    picks = _picks(shelf, _item_count(minutes))
    rests = _rests(len(picks), minutes)
    playing = minutes - sum(rest.minutes for rest in rests)
    total = sum(SHARES[role] for role, _ in picks)
    items = (
        _item(beliefs, shelf, role, place, playing * SHARES[role] / total) for role, place in picks
    )
    manner = manner or MANNERS[beliefs.syllabus.level]
    return PracticePlan(day, minutes, tuple(items), rests, manner)


def one_more(beliefs: Beliefs, day: date, minutes: float) -> PlanItem | None:
    """What is worth most beside what was played today; None where nothing is left."""
    outlook = outlook_of(beliefs, day)
    return one_more_of(beliefs, outlook, skill_worth(outlook, beliefs.syllabus), minutes)


def one_more_of(
    beliefs: Beliefs, outlook: Outlook, worth: SkillWorth, minutes: float
) -> PlanItem | None:
    """The same from an outlook and a worth that stand already."""
    shelf = _Shelf.of(outlook, worth)
    suited = _suited(shelf)
    place = shelf.take(_any_of(suited, MORE))
    if place is None:
        return None
    return _item(beliefs, shelf, _role_of(suited, MORE, place), place, minutes)


def _item_count(minutes: float) -> int:
    """How many items so many minutes have room for."""
    return next((count for most, count in ITEMS if minutes <= most), 5)


def _rests(items: int, minutes: float) -> tuple[Rest, ...]:
    """A short one early, and five minutes in each half hour (advice of music schools)."""
    if minutes < LONG_MINUTES or items < 2:
        return ()
    longs = min(items - 1, max(1, round(minutes / 30)))
    rests = [Rest(-(-items * place // (longs + 1)), 5.0) for place in range(1, longs + 1)]
    return (Rest(1, 1.0), *rests) if rests[0].after > 1 else tuple(rests)


def _picks(shelf: _Shelf, count: int) -> list[tuple[ItemRole, int]]:
    """Roles and places of the items, in the order they are played."""
    suited = _suited(shelf)
    chorus = shelf.take(_choruses(shelf, suited))
    if chorus is not None and shelf.outlook.times.any() and not shelf.outlook.times[chorus]:
        _close(suited, ItemRole.NEW, ItemRole.NEXT_KEY)
    picks = list(_filled(shelf, suited, count - 1)) or list(_again(shelf))
    order = list(ItemRole)
    picks.sort(key=lambda pick: order.index(pick[0]))
    return picks if chorus is None else [*picks, (ItemRole.CHORUS, chorus)]


def _again(shelf: _Shelf) -> Iterator[tuple[ItemRole, int]]:
    """Something that was played today already, where there is nothing else."""
    place = shelf.take(_easiest(shelf, (shelf.outlook.times > 0) & shelf.free))
    if place is not None:
        yield ItemRole.REVIEW, place


def _close(suited: dict[ItemRole, Flags], *roles: ItemRole) -> None:
    """One new thing a day is enough, and one known step in its next key beside it."""
    for role in roles:
        suited[role] = np.zeros_like(suited[role])


def _filled(
    shelf: _Shelf, suited: dict[ItemRole, Flags], count: int
) -> Iterator[tuple[ItemRole, int]]:
    """Roles and places for so many items, the new thing first; the rest by what it is worth."""
    picks = [(role, shelf.take(suited[role])) for role in (ItemRole.NEW, ItemRole.WARM_UP)[:count]]
    yield from (chosen := [(role, place) for role, place in picks if place is not None])
    shelf.free &= ~_look_alikes(shelf, picks[0][1])
    for number in range(count - len(chosen)):
        suits = _any_of(suited, REST)
        if (place := shelf.take(suits if number else _forgotten(shelf, suits))) is not None:
            yield (role := _role_of(suited, REST, place)), place
            if role is ItemRole.NEXT_KEY:
                _close(suited, ItemRole.NEXT_KEY)


def _forgotten(shelf: _Shelf, suited: Flags) -> Flags:
    """What is not known yet and was let lie longest, where that is long; else all that suits."""
    unknown = suited & shelf.free & (shelf.worth.goal_chances < SAFE)
    waits = np.where(unknown & (shelf.outlook.times > 0), shelf.outlook.days_ago, 0.0)
    longest: Flags = (waits >= OVERDUE_DAYS) & (waits == waits.max(initial=0.0))
    return longest if longest.any() else suited


def _any_of(suited: dict[ItemRole, Flags], roles: tuple[ItemRole, ...]) -> Flags:
    """What suits one of the roles."""
    suits: Flags = np.logical_or.reduce([suited[role] for role in roles])
    return suits


def _role_of(suited: dict[ItemRole, Flags], roles: tuple[ItemRole, ...], place: int) -> ItemRole:
    """The first of the roles that a skill suits."""
    return next(role for role in roles if suited[role][place])


REST = (ItemRole.MEND, ItemRole.NEXT_KEY, ItemRole.REVIEW)
"""What room is left for, beside warm-up, new thing and chorus."""

MORE = (*REST, ItemRole.NEW)
"""What one more item may be."""


def _suited(shelf: _Shelf) -> dict[ItemRole, Flags]:
    """Which skills suit each role: those at least as likely as not.

    Where these leave little to learn, the likeliest of the rest as well: who keeps to what is known
    learns nothing more.
    """
    worth = shelf.worth
    likely = worth.within_reach & (worth.chances >= UNLIKELY)
    suited, unknown = _suited_of(shelf, likely), worth.goal_chances < FINISHED
    if np.count_nonzero(unknown & _any_of(suited, MORE)) >= LEFT:
        return suited
    rest = unknown & ~likely & _any_of(_suited_of(shelf, worth.within_reach), MORE)
    return _suited_of(shelf, likely | _likeliest(rest, worth.chances))


def _suited_of(shelf: _Shelf, fit: Flags) -> dict[ItemRole, Flags]:
    """Which of the fit skills suit each role."""
    outlook, worth = shelf.outlook, shelf.worth
    played, begun = outlook.times > 0, outlook.piece_times > 0
    recent = outlook.failed & (outlook.days_ago <= MEND_DAYS)
    finished = np.count_nonzero(played & (worth.goal_chances >= FINISHED))
    room = np.count_nonzero(played) - 2 * finished < UNFINISHED
    fresh = fit & ~played & room & ~_one_too_many(outlook)
    lively = fit & played & (worth.chances <= LIKELY)
    rested = outlook.days_ago > 0  # tomorrow rather than later today
    return {
        ItemRole.WARM_UP: played & rested & ~outlook.failed & (worth.chances >= KNOWN),
        ItemRole.MEND: lively & rested & recent,
        ItemRole.NEW: fresh & ~begun & ~(outlook.grid.choruses & (worth.parts == 1)),
        ItemRole.NEXT_KEY: fresh & begun & worth.moves,
        ItemRole.REVIEW: lively & rested,
        ItemRole.CHORUS: outlook.grid.choruses & (lively & rested | fresh) & (worth.parts == 1),
    }


def _one_too_many(outlook: Outlook) -> Flags:
    """Steps and units never met, where one was met today: known steps and units may be joined."""
    grid, before = outlook.grid, outlook.times_before
    if not before.any():
        return np.zeros_like(grid.choruses)
    met, unmet = (_unmet(grid, times) for times in (before, outlook.times))
    begun_today = np.any(met & (outlook.times > 0))
    return unmet & begun_today


def _unmet(grid: SkillGrid, times: Numbers) -> Flags:
    """Whether the step of each skill, or its unit, was never played."""
    steps, units = (np.bincount(kind, times)[kind] for kind in (grid.step_names, grid.units))
    return np.asarray((steps == 0) | (units == 0))


def _choruses(shelf: _Shelf, suited: dict[ItemRole, Flags]) -> Flags:
    """Which choruses may end the day: those that pass a unit, and no new one for little."""
    played = shelf.outlook.times > 0
    choruses, new = suited[ItemRole.CHORUS], shelf.best(suited[ItemRole.NEW])
    least = 0.0 if new is None else shelf.worth.worths[new]
    worthy = choruses & (played | (shelf.worth.worths >= least))
    passing = worthy & (shelf.outlook.grid.key_orders == 0) & (shelf.worth.goal_chances < FINISHED)
    nearest = _likeliest(passing, shelf.worth.goal_chances)
    flags = (passing & ~played, nearest, worthy, choruses, _easiest(shelf, _begun_choruses(shelf)))
    return next((one for one in flags if one.any()), flags[-1])


def _begun_choruses(shelf: _Shelf) -> Flags:
    """Choruses of units of which something was played; of the first where nothing was."""
    grid, played = shelf.outlook.grid, shelf.outlook.times > 0
    units = np.union1d(grid.units[played], grid.units[:1])
    begun: Flags = grid.choruses & np.isin(grid.units, units) & (played | (grid.key_orders == 0))
    return begun


def _easiest(shelf: _Shelf, suited: Flags) -> Flags:
    """The one that is likeliest clean, where none is as likely as it should be."""
    return _likeliest(suited, shelf.worth.chances)


def _likeliest(suited: Flags, chances: Numbers) -> Flags:
    """Those of the suited that no other is likelier than."""
    held = np.where(suited, chances, -1.0)
    likeliest: Flags = suited & (held == held.max(initial=-1.0))
    return likeliest


def _look_alikes(shelf: _Shelf, place: int | None) -> Flags:
    """What looks like a skill: the same step, in another key or over other chords."""
    names = shelf.outlook.grid.step_names
    alike: Flags = np.zeros_like(shelf.free) if place is None else names == names[place]
    return alike


def _item(beliefs: Beliefs, shelf: _Shelf, role: ItemRole, place: int, minutes: float) -> PlanItem:
    row, track = beliefs.syllabus.rows[place], beliefs.tracks.get(place)
    times = int(track.times) if track else 0
    tempo_bpm, part, chance = _as_played(shelf, role, place)
    return PlanItem(
        role,
        row.skill,
        tempo_bpm,
        round(min(minutes, LONGEST_ITEM), 1),
        chance,
        track.last if track else None,
        PASSES,
        _progression(beliefs, row.unit, track),
        times * len(beliefs.syllabus.rows) + place + 1,
        float(shelf.outlook.left[place]),
        track is not None and (tempo_bpm < track.last.tempo_bpm - 1 or part < track.last.part),
        part,
    )


def _as_played(shelf: _Shelf, role: ItemRole, place: int) -> tuple[float, float, float]:
    """At which tempo a skill is played, which share of its bars, and how likely it is clean so.

    It is slower to warm up. Of who has played nothing yet nothing is known: the tempo is the one
    that the unit begins with.
    """
    outlook, tempi, part = shelf.outlook, shelf.worth.tempo_bpm, float(shelf.worth.parts[place])
    if role is ItemRole.CHORUS:
        tempi, part = tempi_today(outlook), 1.0
    eased = outlook.eased(eased_by(part))
    if not outlook.times.any():
        tempi = outlook.grid.start_bpm
    elif role is ItemRole.WARM_UP:
        octaves = np.log2(tempi / outlook.grid.goal_bpm)
        tempi = playable(eased, np.minimum(octaves, eased.octaves_for(WARM)))
    return float(tempi[place]), part, float(eased.chances(tempi)[place])


def _progression(beliefs: Beliefs, unit: int, track: SkillTrack | None) -> int:
    """Which progression is next: the same where not all of it was clean, else the next one."""
    count = beliefs.syllabus.progressions[unit]
    if track is None:
        return 0
    last = track.last
    unfinished = last.verdict is not Verdict.CLEAN or last.part < 1
    if unfinished and last.progression in range(count):
        return last.progression or 0
    return int(track.times) % count
