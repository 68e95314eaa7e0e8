"""What is known of a student's playing, from evidence: how likely is each skill clean, and when?

Beliefs are made from evidence in the order of time, whatever the order it is fed in; evidence
of one source and skill counts once. `beliefs_of` makes them, `Beliefs.after` adds to them; what
is dated before the last does not begin at the first, but at a milestone: beliefs on the way, of
which a few are held. The model and its parameters: docs/practice-model.md.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from halfstep.practice.belief_filter import BeliefFilter
from halfstep.practice.belief_layout import (
    PACE,
    PIECE_PART,
    STEP_PART,
    BeliefLayout,
    belief_layout,
)
from halfstep.practice.evidence import Evidence, Skill
from halfstep.practice.skill_track import SkillTrack, unplayed
from halfstep.practice.syllabus import Syllabus
from halfstep.practice.verdict_odds import chance_of

if TYPE_CHECKING:
    from halfstep.practice.skill_grid import Numbers

MILESTONE = 64
"""Pieces of evidence between milestones not long ago; the longer ago, the wider they stand."""

_Moment = tuple[float, str, Skill, str, float, float, float]


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What evidence makes likely.

    Attributes
    ----------
    layout : BeliefLayout
    pace : tuple of float
        Of the student, by the numbers of its parts.
    covariances : tuple of tuple of float
        How the parts of the pace vary, and go together.
    means, variances : tuple of float
        Of each part of the layout.
    tracks : dict of int to SkillTrack
        Of the skills that were played, by their place in the syllabus.
    table : array of float
        The same tracks as numbers, as `skill_track` has them; not to be changed.
    evidence : tuple of Evidence
        What was counted, in the order of time.
    notices : tuple of str
        What was not counted, and why.
    milestones : tuple of Milestone
        In order, the closer the later they stand.
    """

    layout: BeliefLayout
    pace: tuple[float, ...]
    covariances: tuple[tuple[float, ...], ...]
    means: tuple[float, ...]
    variances: tuple[float, ...]
    tracks: dict[int, SkillTrack]
    table: Numbers = field(repr=False, compare=False)
    evidence: tuple[Evidence, ...] = ()
    notices: tuple[str, ...] = ()
    milestones: tuple[Milestone, ...] = ()

    @property
    def syllabus(self) -> Syllabus:
        """The course they are about."""
        return self.layout.syllabus

    def chance(self, skill: Skill, tempo_bpm: float, day: date) -> float:
        """How likely a skill is clean at a tempo on a day, 0 to 1."""
        return chance_of(*self.open().log_odds(self.syllabus.places[skill], tempo_bpm, day))

    def open(self) -> BeliefFilter:
        """The same, to go on with."""
        plays: dict[int, float] = defaultdict(float)
        parts = self.layout.parts
        for place, track in self.tracks.items():
            own, times = parts[place], track.times
            plays[own[PIECE_PART]] += times
            plays[own[STEP_PART]] += times
        return BeliefFilter(
            self.layout,
            list(self.pace),
            [list(row) for row in self.covariances],
            list(self.means),
            list(self.variances),
            dict(self.tracks),
            self.table.copy(),
            plays,
        )

    def after(self, evidence: Iterable[Evidence], day: date) -> Beliefs:
        """Beliefs with more evidence, none of it later than that day."""
        given = tuple(evidence)
        sources = {item.source for item in given}
        counted = {(item.source, item.skill) for item in self.evidence if item.source in sources}
        fresh = (item for item in given if (item.source, item.skill) not in counted)
        timely, notices = timely_evidence(self.syllabus, fresh, day)
        notices = (*self.notices, *notices)
        if not timely:
            return replace(self, notices=notices)
        start = self._before(timely[0])
        later = self.evidence[len(start.evidence) :]
        timely = sorted((*later, *timely), key=_in_time) if later else timely
        return replace(_fed(start, timely), notices=notices)

    def way(self) -> Iterator[Milestone]:
        """The milestones, and these beliefs as the last where they rest on anything."""
        yield from self.milestones
        if self.evidence:
            numbers = self.pace, self.covariances, self.means, self.variances
            state = self.layout, *numbers, self.tracks, self.table, self.evidence
            yield Milestone(len(self.evidence), partial(Beliefs, *state))

    def _before(self, piece: Evidence) -> Beliefs:
        """What was believed before a piece of evidence: these beliefs, or the last milestone."""
        place = bisect_left(self.evidence, _in_time(piece), key=_in_time)
        if place == len(self.evidence):
            return self
        earlier = [milestone for milestone in self.milestones if milestone.count <= place]
        return beliefs_at(earlier) or no_beliefs(self.layout)


@dataclass(frozen=True, slots=True)
class Milestone:
    """Beliefs on the way.

    Attributes
    ----------
    count : int
        Of the pieces of evidence they rest on.
    beliefs : callable
        Gives them.
    """

    count: int
    beliefs: Callable[[], Beliefs]


def no_beliefs(layout: BeliefLayout) -> Beliefs:
    """What is held before anything was played."""
    pace = tuple(PACE[part].mean for part in sorted(PACE))
    spread = np.diag([PACE[part].variance for part in sorted(PACE)]).tolist()
    covariances, table = tuple(map(tuple, spread)), unplayed(layout.grid)
    return Beliefs(layout, pace, covariances, layout.means, layout.variances, {}, table)


def beliefs_of(syllabus: Syllabus, evidence: Iterable[Evidence], day: date) -> Beliefs:
    """What evidence makes likely, as known on that day."""
    return no_beliefs(belief_layout(syllabus)).after(evidence, day)


def timely_evidence(
    syllabus: Syllabus, evidence: Iterable[Evidence], day: date
) -> tuple[list[Evidence], tuple[str, ...]]:
    """What counts by a day, in the order of time, and what is to be said of the rest."""
    single = _single(evidence)
    known = [item for item in single if item.skill in syllabus.places]
    timely = [item for item in known if item.at.date() <= day]
    return timely, _notices(len(single) - len(known), len(known) - len(timely), day)


# Milestones


def beliefs_at(milestones: Sequence[Milestone]) -> Beliefs | None:
    """What was believed at the last of some milestones; None where there is none."""
    if not milestones:
        return None
    return replace(milestones[-1].beliefs(), milestones=tuple(milestones[:-1]))


def _fed(start: Beliefs, evidence: Sequence[Evidence]) -> Beliefs:
    """Beliefs with evidence that follows what is in them."""
    milestones = list(start.way())
    work, known = start.open(), start.evidence
    for begin in range(0, len(evidence), MILESTONE):
        pieces = evidence[begin : begin + MILESTONE]
        for item in pieces:
            work.learn(item)
        known = (*known, *pieces)
        beliefs = _stand(work, known)
        milestones += beliefs.way()
    return replace(beliefs, milestones=_thinned(milestones[:-1], len(known)))


def _stand(work: BeliefFilter, evidence: tuple[Evidence, ...]) -> Beliefs:
    """Beliefs as they stand in the midst of their making."""
    return Beliefs(
        work.layout,
        tuple(work.pace),
        tuple(map(tuple, work.covariances)),
        tuple(work.means),
        tuple(work.variances),
        dict(work.tracks),
        work.table.copy(),
        evidence,
    )


def _thinned(milestones: Sequence[Milestone], count: int) -> tuple[Milestone, ...]:
    """So many that late evidence goes little more than twice as far back as it must.

    Each is the farthest back that is no more than twice as far as the one after it, and
    `MILESTONE` more; as that holds on when all lie farther back, none is ever missed.
    """
    counts = [0, *(milestone.count for milestone in milestones)]
    kept, reach = [], MILESTONE
    for milestone, before in reversed([*zip(milestones, counts[:-1], strict=True)]):
        if count - before > reach:
            kept.append(milestone)
            reach = MILESTONE + 2 * (count - milestone.count)
    return tuple(reversed(kept))


# Order


def _single(evidence: Iterable[Evidence]) -> list[Evidence]:
    """Evidence in the order of time, the first of each source and skill."""
    single: dict[tuple[str, Skill], Evidence] = {}
    for item in sorted(evidence, key=_in_time):
        single.setdefault((item.source, item.skill), item)
    return list(single.values())


def _in_time(evidence: Evidence) -> _Moment:
    """The order of evidence, whatever the order it is fed in."""
    at, tempo, weight = evidence.at.timestamp(), evidence.tempo_bpm, evidence.weight
    return at, evidence.source, evidence.skill, evidence.verdict, tempo, weight, evidence.part


def _notices(strangers: int, early: int, day: date) -> tuple[str, ...]:
    lines = (
        (strangers, f"{strangers} of what was played belongs to no skill of this course"),
        (early, f"{early} of what was played is dated after {day} and waits until then"),
    )
    return tuple(line for number, line in lines if number)
