"""What is a skill worth practising on a day, and may it be chosen? Numbers for all at once.

Practice is worth most where it may still go either way, where much else hangs on it, and where
what was learnt is fading. A unit opens when those it needs are believed to be known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from halfstep.meter import SLOWEST_BPM
from halfstep.practice.belief_layout import FORGOTTEN
from halfstep.practice.outlook import sigmoid

if TYPE_CHECKING:
    from halfstep.practice.outlook import Outlook
    from halfstep.practice.skill_grid import Flags, Numbers, Places
    from halfstep.practice.syllabus import Syllabus

EASY = 0.76
"""A tempo is raised until clean is no likelier than this, or to the goal."""

EASY_NEW = 0.92
"""The same of what was played in no key: it begins where the unit begins, if that is no easier."""

HARD = 0.65
"""A tempo is lowered until clean is no less likely than this."""

FLOOR = 0.6
"""No tempo is below this share of the starting tempo."""

MASTERED = 0.5
"""What is so likely clean at its goal tempo is known; a unit opens when a played chorus of each
that it needs is so likely clean where that begins: it goes on getting faster beside the next."""

BEGUN = 0.6
"""A step opens when the one before it is so likely clean at its tempo."""

MOVING = 0.7
"""A step moves on to the next key when it was clean in one, and is so likely so again."""

LEARNING = 0.3
"""Log odds that a first practice is held to be worth; later ones are worth less."""

TIRING = 0.15
"""How much less each time."""

LEARNT = 1.5
"""Log odds at the goal tempo up to which a skill is worth its whole way, by the log odds gained."""

SHORTEST_WAY = 0.5
"""No way to what is learnt counts as shorter."""

TODAY = 0.06
"""What any practice is worth beside that."""

STRIDE = 3.0
"""Log odds that a skill gains on its way, a share of which its like gain."""

WAITING_DAYS = 10.0
"""After so many days a skill is worth twice as much as what was played just now, so that none
is forgotten for ever; at most `LONGEST_WAIT` count."""

LONGEST_WAIT = 60.0

FRESH_WAIT = 7.0
"""What was never played waits as if it had been played so many days ago."""

CARRIES_PIECE, CARRIES_STEP, CARRIES_UNIT = 0.45, 0.12, 0.05
"""How much of what is learnt carries over to the same step of the unit in other keys, to that
step in other units, to other steps of the unit."""


@dataclass(frozen=True, slots=True, eq=False)
class SkillWorth:
    """All skills on one day, as arrays of shape (skills,).

    Attributes
    ----------
    tempo_bpm : array of float
        At which each would be played, pulses a minute.
    chances, goal_chances : array of float
        How likely each is clean at it, and at its goal tempo, 0 to 1.
    worths : array of float
        What practice is worth, in no unit.
    within_reach : array of bool
        Its unit and its step are open, and so is its key.
    moves : array of bool
        The same step over the same unit is known in another key.
    """

    tempo_bpm: Numbers
    chances: Numbers
    goal_chances: Numbers
    worths: Numbers
    within_reach: Flags
    moves: Flags


def skill_worth(outlook: Outlook, syllabus: Syllabus) -> SkillWorth:
    """What each skill is worth on a day."""
    tempi = tempi_today(outlook)
    chances, goal_chances = outlook.chances(tempi), outlook.chances(outlook.grid.goal_bpm)
    starts = outlook.chances(outlook.grid.start_bpm)
    within_reach = units_open(outlook, syllabus, starts)[outlook.grid.units]
    within_reach &= _steps_open(outlook, chances) & _keys_open(outlook)
    known = (outlook.times > 0) & ~outlook.failed & (chances >= MOVING)
    moves = (np.bincount(outlook.grid.pieces, known) > 0)[outlook.grid.pieces]
    worths = _worths(outlook, goal_chances)
    return SkillWorth(tempi, chances, goal_chances, worths, within_reach, moves)


def tempi_today(outlook: Outlook) -> Numbers:
    """The tempo of each ladder, moved to where it is neither boring nor frustrating."""
    new = outlook.piece_times == 0
    low = np.where(new, outlook.tempi_for(EASY_NEW), outlook.tempi_for(EASY))
    high = outlook.tempi_for(HARD)
    return playable(outlook, np.clip(outlook.rung_bpm, low, high))


def playable(outlook: Outlook, tempi: Numbers) -> Numbers:
    """Tempi as whole numbers, none faster than the goal or slower than a band plays."""
    floor = np.maximum(FLOOR * outlook.grid.start_bpm, SLOWEST_BPM)
    return np.rint(np.minimum(np.maximum(tempi, floor), outlook.grid.goal_bpm))


def units_open(outlook: Outlook, syllabus: Syllabus, starts: Numbers) -> Flags:
    """Which units are open, in the order of the course, by chances at the starting tempo."""
    grid = outlook.grid
    passing = grid.choruses & (outlook.times > 0) & (starts >= MASTERED)
    passed = np.bincount(grid.units[passing], minlength=len(syllabus.needs)) > 0
    return np.array([all(passed[need] for need in needs) for needs in syllabus.needs], np.bool_)


def _steps_open(outlook: Outlook, chances: Numbers) -> Flags:
    """Whether each skill's step is its unit's first, or the one before it has begun in some key."""
    grid = outlook.grid
    begun = np.bincount(grid.pieces, (outlook.times > 0) & (chances >= BEGUN)) > 0
    is_open: Flags = (grid.steps == 0) | (outlook.times > 0) | begun[grid.pieces - 1]
    return is_open


def _keys_open(outlook: Outlook) -> Flags:
    """Whether each skill was played, or its key is the next one to be met in its piece."""
    grid, played = outlook.grid, outlook.times > 0
    nexts: Places = np.zeros(grid.pieces.max(initial=0) + 1, np.int64)
    np.maximum.at(nexts, grid.pieces[played], grid.key_orders[played] + 1)
    return played | (grid.key_orders <= nexts[grid.pieces])


def _worths(outlook: Outlook, chances: Numbers) -> Numbers:
    """What practice is worth: for the skill, for its like, and against fading."""
    learning = LEARNING / (1 + TIRING * outlook.times)
    waits = np.where(outlook.times > 0, np.minimum(outlook.days_ago, LONGEST_WAIT), FRESH_WAIT)
    faded = -outlook.pace[FORGOTTEN] * (1 - outlook.left) * chances * (1 - chances)
    worth = learning * (_way(outlook, chances) + _reach(outlook, chances)) + faded
    return (1 + waits / WAITING_DAYS) * (worth + TODAY * LEARNING)


def _way(outlook: Outlook, chances: Numbers) -> Numbers:
    """What is gained for each log odds on the whole way to what is learnt.

    Not the slope where a skill stands: that is least where most is to be learnt.
    """
    gain = np.maximum(_CHANCE_LEARNT - chances, 0.0)
    way: Numbers = gain / np.maximum(LEARNT - outlook.held, SHORTEST_WAY)
    return way


_CHANCE_LEARNT = float(sigmoid(np.array(LEARNT)))


def _reach(outlook: Outlook, chances: Numbers) -> Numbers:
    """What the like of each skill gain for each log odds on its way."""
    grid, reach = outlook.grid, np.zeros_like(chances)
    kinds = (
        (grid.pieces, CARRIES_PIECE),
        (grid.step_names, CARRIES_STEP),
        (grid.units, CARRIES_UNIT),
    )
    for kind, share in kinds:
        gain = (outlook.raised(share * STRIDE) - chances) / STRIDE
        reach += np.bincount(kind, gain)[kind] - gain
    return reach
