"""What is a skill worth practising on a day, and may it be chosen? Numbers for all at once.

Practice is worth most where it may still go either way, where much else hangs on it, and where
what was learnt is fading. A unit opens when those it needs are believed to be known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2
from typing import TYPE_CHECKING

import numpy as np

from halfstep.meter import SLOWEST_BPM
from halfstep.practice.belief_layout import (
    ELSEWHERE,
    FORGOTTEN,
    NEW_KEY,
    NEW_PIECE,
    OTHER_KEYS,
    PACE,
    PRACTICE,
    eased_by,
)

if TYPE_CHECKING:
    from halfstep.practice.outlook import Outlook
    from halfstep.practice.skill_grid import Flags, Numbers, Places
    from halfstep.practice.syllabus import Syllabus

EASY = 0.76
"""A tempo is raised until clean is no likelier than this, or to the goal."""

EASY_NEW = 0.92
"""The same of what was played in no key: it begins where the unit begins, if that is no easier."""

HARD = 0.6
"""A tempo is lowered until clean is no less likely than this,"""

SURE = 1.3
"""and at least as likely as not even if it is worse than believed by so many standard deviations:
what little is known of is played slower."""

HALF, WHOLE = 0.5, 0.75
"""Half of the bars go round alone where the whole is less likely clean at its starting tempo: two,
four or six bars in a loop, before they are joined (common practice, no source)."""

PARTS, LIKELY = (HALF, 0.25), 0.5
"""Fewer bars, down to a quarter, of what is less likely clean on the day than not."""

JOINED = 0.85
"""What bars alone teach of the whole, beside their share: they are to be joined still."""

FRESH_DAYS = 3
"""So many days long what was clean at the first pass is played no slower."""

SETBACK = 1.17
"""What was not clean in the end is played so much slower: by two rungs;"""

EASIEST = 0.95
"""but no slower than where it is so likely clean."""

FLOOR = 0.4
"""No tempo is below this share of the starting tempo."""

MASTERED = 0.5
"""A unit opens when a chorus of each that it needs was played and is so likely clean, be it
slowly: it goes on getting faster beside the next."""

BEGUN = 0.5
"""A step opens when the one before it is so likely clean at its tempo."""

MOVING = 0.55
"""A step moves on to the next key when it was clean in one, and is so likely so again."""

STRIDE_DAYS = 2.5
"""What practice is worth is seen over so many days of it: where much is to be learnt, one alone
would show next to nothing. Fewer where keys teach one another more: much is begun there."""

STRIDE = 0.8
"""What a day of practice teaches, in e-folds of the times that something was played."""

RETURN = 0.5
"""How much of what has faded comes back with a day's practice."""

SHORTEST_STRIDE = 0.1
"""Log odds that practice is worth at least."""

LAG, ANY_KEY = 1.9, 4
"""What carries over is what is known best: a key that lies log odds behind the best one of its step
teaches the others so much less, as a power of e. Where keys are seen to teach one another more than
was expected, less so, by the fourth power of how much more: any key teaches them then."""

LEAST_CARRIED = 0.1
"""Log odds that are held to carry over at least, where it is asked how much more they are."""

DUE, FINISHED, NOT_DUE = 0.9, 0.8, 0.1
"""What is so likely clean at its goal tempo is no longer being learnt: as long as more than that
share of its memory is left, it is worth little."""

OVERDUE_DAYS, LONGEST_WAIT = 22.0, 60.0
"""From so many on the worth of waiting grows fast, by its sixth power, so that none is forgotten
for ever; before, it hardly counts. No more days count than the last."""

SAFE = 0.9
"""What is so likely clean at its goal tempo may be let lie."""

MOST_PASSES = 4.0
"""No more passes are reckoned with until two are clean."""

PASS_BEATS, BETWEEN_MINUTES = 48.0, 0.4
"""A pass, and what lies between two: twelve bars, and a breath (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class SkillWorth:
    """All skills on one day, as arrays of shape (skills,).

    Attributes
    ----------
    tempo_bpm : array of float
        At which each would be played, pulses a minute.
    parts : array of float
        Which share of its bars, 1 for all.
    chances, goal_chances : array of float
        How likely each is clean at it, and at its goal tempo, 0 to 1.
    worths : array of float
        What practice is worth, in no unit.
    within_reach : array of bool
        It was played, or its unit and its step are open, and so is its key.
    moves : array of bool
        The same step over the same unit is known in another key.
    """

    tempo_bpm: Numbers
    parts: Numbers
    chances: Numbers
    goal_chances: Numbers
    worths: Numbers
    within_reach: Flags
    moves: Flags


def skill_worth(outlook: Outlook, syllabus: Syllabus) -> SkillWorth:
    """What each skill is worth on a day."""
    goal_chances = outlook.chances_at(0.0)
    tempi, parts, chances = _played_today(outlook)
    whole_chances = np.where(parts == 1, chances, 0.0)
    within_reach = units_open(outlook, syllabus, whole_chances)[outlook.grid.units]
    within_reach &= _steps_open(outlook, chances) & _keys_open(outlook)
    within_reach |= outlook.times > 0
    known = (outlook.times > 0) & ~outlook.failed & (chances >= MOVING)
    moves = (np.bincount(outlook.grid.pieces, known) > 0)[outlook.grid.pieces]
    gains = _gains(outlook, goal_chances) * _urgency(outlook, goal_chances)
    worths = gains * tempi / outlook.grid.goal_bpm / _minutes(tempi, chances)
    return SkillWorth(tempi, parts, chances, goal_chances, worths, within_reach, moves)


def _played_today(outlook: Outlook) -> tuple[Numbers, Numbers, Numbers]:
    """At which tempo each is played, which share of its bars, and how likely it is clean so.

    Half of its bars, where they teach more in the same time than all of them; half or a quarter,
    where more of them are less likely clean than not. A chorus that can be is played in one go.
    """
    tempi = tempi_today(outlook)
    parts, chances = np.ones_like(tempi), outlook.chances(tempi)
    paces = tempi / _minutes(tempi, chances)
    grid = outlook.grid
    hard = ~grid.choruses & (outlook.chances(grid.start_bpm) < WHOLE)
    for part in PARTS:
        eased = outlook.eased(eased_by(part))
        part_tempi = tempi_today(eased)
        part_chances = eased.chances(part_tempi)
        is_faster = JOINED * part_tempi / _minutes(part_tempi, part_chances) > paces
        fewer = (chances < LIKELY) | (hard & is_faster & (part == HALF))
        tempi = np.where(fewer, part_tempi, tempi)
        parts = np.where(fewer, part, parts)
        chances = np.where(fewer, part_chances, chances)
    return tempi, parts, chances


def tempi_today(outlook: Outlook) -> Numbers:
    """The tempo of each ladder, moved to where it is neither boring nor frustrating."""
    rungs = np.log2(outlook.rung_bpm / outlook.grid.goal_bpm)
    new, for_chance = outlook.piece_times == 0, outlook.octaves_for
    low = np.where(new, for_chance(EASY_NEW), for_chance(EASY))
    high = np.minimum(for_chance(HARD), outlook.sure_octaves(SURE))
    fresh = outlook.kept & ~outlook.failed & (outlook.days_ago <= FRESH_DAYS)
    high = np.where(fresh, np.maximum(high, rungs), high)
    setback = np.minimum(high, np.maximum(rungs - log2(SETBACK), for_chance(EASIEST)))
    high = np.where(outlook.failed, setback, high)
    return playable(outlook, np.minimum(np.maximum(rungs, low), high))


def playable(outlook: Outlook, octaves: Numbers) -> Numbers:
    """Tempi as whole numbers, none faster than the goal or slower than a band plays.

    They are told by how often the goal tempo is doubled: 0 at it, below 0 where slower.
    """
    goal_bpm = outlook.grid.goal_bpm
    floor = np.maximum(FLOOR * outlook.grid.start_bpm, SLOWEST_BPM)
    return np.rint(np.minimum(np.maximum(goal_bpm * np.exp2(octaves), floor), goal_bpm))


def units_open(outlook: Outlook, syllabus: Syllabus, chances: Numbers) -> Flags:
    """Which units are open, in the order of the course, by chances at the tempo of the day."""
    grid = outlook.grid
    passing = grid.choruses & (outlook.times > 0) & (chances >= MASTERED)
    passed = np.bincount(grid.units[passing], minlength=len(syllabus.needs)) > 0
    return np.array([all(passed[need] for need in needs) for needs in syllabus.needs], np.bool_)


def _steps_open(outlook: Outlook, chances: Numbers) -> Flags:
    """Whether each skill's step is its unit's first, or the one before it has begun in some key."""
    grid = outlook.grid
    begun = np.bincount(grid.pieces, (outlook.times > 0) & (chances >= BEGUN)) > 0
    is_open: Flags = (grid.steps == 0) | begun[grid.pieces - 1]
    return is_open


def _keys_open(outlook: Outlook) -> Flags:
    """Whether the key of each skill is one that was met in its piece, or the next one."""
    grid, played = outlook.grid, outlook.times > 0
    nexts: Places = np.zeros(grid.pieces.max(initial=0) + 1, np.int64)
    np.maximum.at(nexts, grid.pieces[played], grid.key_orders[played] + 1)
    is_open: Flags = grid.key_orders <= nexts[grid.pieces]
    return is_open


def _gains(outlook: Outlook, chances: Numbers) -> Numbers:
    """What some days of practice are worth, in skills that are clean at their goal tempo."""
    return outlook.raised(_strides(outlook)) - chances + _carried(outlook, chances)


def _strides(outlook: Outlook) -> Numbers:
    """Log odds that each skill gains by them: what is taught, new no more, and comes back."""
    pace = outlook.pace
    first = np.where(outlook.piece_times > 0, pace[NEW_KEY], pace[NEW_PIECE])
    days = STRIDE_DAYS / _likeness(pace)
    strides = np.full_like(first, days * STRIDE * pace[PRACTICE])
    strides -= (outlook.times == 0) * np.minimum(first, 0.0)
    strides -= RETURN * pace[FORGOTTEN] * (1 - outlook.left)
    return np.maximum(strides, SHORTEST_STRIDE)


def _carried(outlook: Outlook, chances: Numbers) -> Numbers:
    """What the like of each skill gain: the same step in other keys, and over other units."""
    grid, pace, times = outlook.grid, outlook.pace, outlook.piece_times
    likeness = _likeness(pace)
    days = STRIDE_DAYS / likeness
    log_odds = max(pace[OTHER_KEYS], 0.0) * np.log1p(2 * days / (1 + times))
    log_odds += (times == 0) * max(pace[NEW_KEY] - pace[NEW_PIECE], 0.0)
    gains, slopes = outlook.raised(log_odds) - chances, outlook.slopes()
    keys = np.bincount(grid.pieces, gains)[grid.pieces] - gains
    units = np.bincount(grid.step_names, slopes)[grid.step_names]
    units -= np.bincount(grid.pieces, slopes)[grid.pieces]
    carried: Numbers = keys * np.exp(-LAG / likeness**ANY_KEY * _lags(outlook))
    carried += units * max(pace[ELSEWHERE], 0.0)
    return carried


def _likeness(pace: Sequence[float]) -> float:
    """How much more keys are believed to teach one another than they were before anything."""
    return max(pace[OTHER_KEYS], LEAST_CARRIED) / PACE[OTHER_KEYS].mean


def _lags(outlook: Outlook) -> Numbers:
    """How far each skill lies behind the best key of its step over its unit, in log odds."""
    grid, held = outlook.grid, outlook.held
    best = np.full(grid.pieces.max(initial=0) + 1, -np.inf)
    played = outlook.times > 0
    np.maximum.at(best, grid.pieces[played], held[played])
    return np.maximum(best[grid.pieces] - held, 0.0)


def _urgency(outlook: Outlook, chances: Numbers) -> Numbers:
    """More for what was let lie, the longer the more; little for what is finished and fresh."""
    waits = np.where(outlook.times > 0, np.minimum(outlook.days_ago, LONGEST_WAIT), 0.0)
    due = outlook.failed | (outlook.left < DUE) | (chances < FINISHED)
    overdue = np.where(chances < SAFE, (waits / OVERDUE_DAYS) ** 6, 0.0)
    urgency: Numbers = np.where(due, 1.0, NOT_DUE) + overdue
    return urgency


def _minutes(tempi: Numbers, chances: Numbers) -> Numbers:
    """How long each takes at such tempi, until two passes in a row are clean."""
    passes = np.minimum((1 + chances) / chances**2, MOST_PASSES)
    minutes: Numbers = passes * (PASS_BEATS / tempi + BETWEEN_MINUTES)
    return minutes
