"""What is known of a student's playing, from evidence: how likely is each skill clean, and when?

Beliefs are made from evidence in the order of time, whatever the order it is fed in; evidence
of one source and skill counts once. `beliefs_of` makes them, `Beliefs.after` adds to them.
The model and its parameters: docs/practice-model.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from halfstep.practice.belief_filter import BeliefFilter, SkillTrack
from halfstep.practice.belief_layout import PIECE_PART, BeliefLayout, belief_layout
from halfstep.practice.evidence import Evidence, Skill
from halfstep.practice.syllabus import Syllabus
from halfstep.practice.verdict_odds import chance_of


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What evidence makes likely.

    Attributes
    ----------
    layout : BeliefLayout
    means, variances : tuple of float
        Of each part of the layout.
    tracks : dict of int to SkillTrack
        Of the skills that were played, by their place in the syllabus.
    evidence : tuple of Evidence
        What was counted, in the order of time.
    notices : tuple of str
        What was not counted, and why.
    """

    layout: BeliefLayout
    means: tuple[float, ...]
    variances: tuple[float, ...]
    tracks: dict[int, SkillTrack]
    evidence: tuple[Evidence, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def syllabus(self) -> Syllabus:
        """The course they are about."""
        return self.layout.syllabus

    def chance(self, skill: Skill, tempo_bpm: float, day: date) -> float:
        """How likely a skill is clean at a tempo on a day, 0 to 1."""
        return chance_of(*self.open().log_odds(self.syllabus.places[skill], tempo_bpm, day))

    def open(self) -> BeliefFilter:
        """The same, to go on with."""
        pieces = {self.layout.parts[place][PIECE_PART] for place in self.tracks}
        means, variances, tracks = list(self.means), list(self.variances), dict(self.tracks)
        return BeliefFilter(self.layout, means, variances, tracks, pieces)

    def after(self, evidence: Iterable[Evidence], day: date) -> Beliefs:
        """Beliefs with more evidence, none of it later than that day."""
        counted = {(item.source, item.skill) for item in self.evidence}
        fresh = [item for item in evidence if (item.source, item.skill) not in counted]
        if self.evidence and any(_in_time(item) < _in_time(self.evidence[-1]) for item in fresh):
            return beliefs_of(self.syllabus, (*self.evidence, *fresh), day)
        return _fed(self, fresh, day)


def beliefs_of(syllabus: Syllabus, evidence: Iterable[Evidence], day: date) -> Beliefs:
    """What evidence makes likely, as known on that day."""
    layout = belief_layout(syllabus)
    return _fed(Beliefs(layout, layout.means, layout.variances, {}), evidence, day)


def _fed(beliefs: Beliefs, evidence: Iterable[Evidence], day: date) -> Beliefs:
    """Beliefs with evidence that is not in them yet and follows what is."""
    single = _single(evidence)
    known = [item for item in single if item.skill in beliefs.syllabus.places]
    timely = [item for item in known if item.at.date() <= day]
    work = beliefs.open()
    for item in timely:
        work.learn(item)
    return Beliefs(
        beliefs.layout,
        tuple(work.means),
        tuple(work.variances),
        work.tracks,
        (*beliefs.evidence, *timely),
        (*beliefs.notices, *_notices(len(single) - len(known), len(known) - len(timely), day)),
    )


def _single(evidence: Iterable[Evidence]) -> list[Evidence]:
    """Evidence in the order of time, the first of each source and skill."""
    latest_first = sorted(evidence, key=_in_time, reverse=True)
    single = {(item.source, item.skill): item for item in latest_first}
    return sorted(single.values(), key=_in_time)


def _in_time(evidence: Evidence) -> tuple[float, str, Skill, str, float, float]:
    """The order of evidence, whatever the order it is fed in."""
    at, tempo, weight = evidence.at.timestamp(), evidence.tempo_bpm, evidence.weight
    return at, evidence.source, evidence.skill, evidence.verdict, tempo, weight


def _notices(strangers: int, early: int, day: date) -> tuple[str, ...]:
    lines = (
        (strangers, f"{strangers} of what was played belongs to no skill of this course"),
        (early, f"{early} of what was played is dated after {day} and waits until then"),
    )
    return tuple(line for number, line in lines if number)
