"""Which skills does a student know today, and how many were known when?

A skill is known that was played and is likely clean at its goal tempo while its memory is fresh;
it is due again when a tenth of that memory is gone.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import log
from typing import TYPE_CHECKING

from halfstep.course.skill import Skill
from halfstep.course.skill_map import Standing
from halfstep.practice.belief_layout import FORGOTTEN
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.evidence import Evidence
from halfstep.practice.skill_track import SkillTrack
from halfstep.practice.syllabus import Syllabus

if TYPE_CHECKING:
    from halfstep.practice.skill_grid import Flags

DUE_BELOW = 0.9
"""The share of a memory that asks for a review: the library's own wish."""
POINTS = 24
"""Days that are told of a long time."""
WEEKS = 10
"""Weeks whose minutes are told."""


def standings_of(beliefs: Beliefs, day: date) -> dict[Skill, Standing]:
    """The standing of each skill that was played."""
    known, due = _known(beliefs, day)
    rows = beliefs.syllabus.rows
    return {
        rows[place].skill: (
            Standing.BEGUN if not known[place] else Standing.DUE if due[place] else Standing.KNOWN
        )
        for place in sorted(beliefs.tracks)
    }


def _known(beliefs: Beliefs, day: date) -> tuple[Flags, Flags]:
    """Which skills are known, and which are due, as arrays of shape (skills,)."""
    from halfstep.practice.outlook import outlook_of
    from halfstep.practice.skill_worth import MASTERED

    outlook = outlook_of(beliefs, day)
    fresh = outlook.means - outlook.pace[FORGOTTEN] * (1 - outlook.left)
    at_goal = fresh >= _log_odds(MASTERED)
    known: Flags = (outlook.times > 0) & at_goal
    return known, outlook.left < DUE_BELOW


def _log_odds(chance: float) -> float:
    return log(chance / (1 - chance))


@dataclass(frozen=True, slots=True)
class KnownCount:
    """How many skills a student had met, and known, by the end of a day."""

    day: date
    met: int
    known: int


@dataclass(frozen=True, slots=True)
class WeekMinutes:
    """Minutes that were practised in a week, as far as they are known.

    Attributes
    ----------
    monday : date
    minutes : float
    """

    monday: date
    minutes: float


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a student has come.

    Attributes
    ----------
    day : date
    standings : dict of Skill to Standing
        Of what was played.
    counts : tuple of KnownCount
        From the first day to this one.
    weeks : tuple of WeekMinutes
        The latest ten, this one last.
    tracks : dict of Skill to SkillTrack
        Of what was played.
    """

    day: date
    standings: dict[Skill, Standing]
    counts: tuple[KnownCount, ...]
    weeks: tuple[WeekMinutes, ...]
    tracks: dict[Skill, SkillTrack]


def progress_of(syllabus: Syllabus, evidence: Sequence[Evidence], day: date) -> Progress:
    """How far a student has come by the end of a day."""
    timely = sorted(
        (piece for piece in evidence if piece.at.date() <= day), key=lambda piece: piece.at
    )
    beliefs = beliefs_of(syllabus, (), day)
    counts, start = [], 0
    for end in _days(timely, day):
        until = bisect_right(timely, end, key=lambda piece: piece.at.date())
        beliefs = beliefs.after(timely[start:until], end)
        start = until
        known, _ = _known(beliefs, end)
        counts.append(KnownCount(end, len(beliefs.tracks), int(known.sum())))
    rows = syllabus.rows
    return Progress(
        day,
        standings_of(beliefs, day),
        tuple(counts),
        tuple(_weeks(timely, day)),
        {rows[place].skill: track for place, track in beliefs.tracks.items()},
    )


def _days(evidence: Sequence[Evidence], day: date) -> list[date]:
    """Days from the first to this one, evenly, no more than can be shown."""
    first = min((piece.at.date() for piece in evidence), default=day)
    span = (day - first).days
    points = min(POINTS, span + 1)
    return sorted(
        {day - timedelta(days=round(span * n / max(1, points - 1))) for n in range(points)}
    )


def _weeks(evidence: Sequence[Evidence], day: date) -> list[WeekMinutes]:
    minutes: defaultdict[date, float] = defaultdict(float)
    for piece in evidence:
        minutes[_monday(piece.at.date())] += piece.minutes
    mondays = (_monday(day) - timedelta(weeks=back) for back in reversed(range(WEEKS)))
    return [WeekMinutes(monday, minutes[monday]) for monday in mondays]


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
