"""How are beliefs kept, so that years of evidence need not be gone through anew for each plan?

A kept milestone is a copy to save time, never a second truth: its digest covers the evidence it
rests on, the course, and the model as its modules stand. Where any of them differs the digest does,
and the milestone is passed over.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache, partial
from hashlib import sha256
from typing import Any
from zlib import crc32

from halfstep.practice.belief_layout import BeliefLayout, belief_layout
from halfstep.practice.beliefs import Beliefs, Milestone, beliefs_at, no_beliefs, timely_evidence
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.memory import Memory
from halfstep.practice.skill_track import SkillTrack, table_of
from halfstep.practice.syllabus import Syllabus
from halfstep.practice.tempo_rung import TempoRung

MODEL = (
    "beliefs.py", "belief_filter.py", "belief_layout.py", "belief_milestones.py", "memory.py",
    "skill_track.py", "tempo_rung.py", "verdict_odds.py",
)  # fmt: skip
"""The modules whose words and figures make beliefs what they are."""


@dataclass(frozen=True, slots=True)
class KeptMilestone:
    """Beliefs on the way, as they are kept.

    Attributes
    ----------
    count : int
        Of the pieces of evidence they rest on.
    digest : str
        Of that evidence, of course and model.
    state : str
        A checksum and JSON.
    """

    count: int
    digest: str
    state: str

    @property
    def is_whole(self) -> bool:
        """Whether no letter of it was lost."""
        return self.state[:_SUM] == _checksum(self.state[_SUM:])


_NUMBERS = ("pace", "covariances", "means", "variances")
"""The numbers that beliefs are."""

_SUM = 8
"""Letters of a checksum."""


def _checksum(text: str) -> str:
    return f"{crc32(text.encode()):0{_SUM}x}"


def beliefs_from(
    kept: Iterable[KeptMilestone], syllabus: Syllabus, evidence: Iterable[Evidence], day: date
) -> Beliefs:
    """What evidence makes likely, beginning at the last milestone that leads there."""
    evidence, layout = tuple(evidence), belief_layout(syllabus)
    timely, _ = timely_evidence(syllabus, evidence, day)
    milestones = list(_leading(kept, layout, tuple(timely)))
    return (beliefs_at(milestones) or no_beliefs(layout)).after(evidence, day)


def _leading(
    kept: Iterable[KeptMilestone], layout: BeliefLayout, evidence: tuple[Evidence, ...]
) -> Iterator[Milestone]:
    """Those of the milestones that rest on the first of this evidence, in order."""
    in_order = sorted(kept, key=lambda milestone: milestone.count)
    digests = _digests(layout.syllabus, evidence, [milestone.count for milestone in in_order])
    for milestone in in_order:
        count = milestone.count
        if digests.get(count) == milestone.digest and milestone.is_whole:
            yield Milestone(count, partial(_unpacked, milestone.state, layout, evidence[:count]))


def digested(beliefs: Beliefs) -> dict[str, Milestone]:
    """Beliefs and the milestones on their way, by their digests."""
    way = list(beliefs.way())
    digests = _digests(beliefs.syllabus, beliefs.evidence, [milestone.count for milestone in way])
    return {digests[milestone.count]: milestone for milestone in way}


def _digests(
    syllabus: Syllabus, evidence: Sequence[Evidence], counts: Iterable[int]
) -> dict[int, str]:
    """The digest of the first pieces of evidence, by how many they are; of each of the counts."""
    digest, digests, start = sha256(_model_mark()), {}, 0
    digest.update(repr((syllabus.level, syllabus.rows)).encode())
    for count in counts:
        if count <= len(evidence):
            digest.update("".join(map(_facts, evidence[start:count])).encode())
            digests[count], start = digest.hexdigest(), count
    return digests


def _facts(piece: Evidence) -> str:
    """What the model learns from, as text."""
    at, (unit, step, key) = piece.at, piece.skill
    skill = f"{unit!r} {step!r} {key}"
    played = f"{piece.tempo_bpm} {piece.verdict} {piece.weight} {piece.part}"
    return f"{piece.source!r} {at.timestamp()} {at.toordinal()} {skill} {played}\n"


@cache
def _model_mark() -> bytes:
    """Another one for another model."""
    from importlib.metadata import version
    from importlib.resources import files

    folder = files("halfstep.practice")
    return b"\n".join((version("fsrs").encode(), *((folder / name).read_bytes() for name in MODEL)))


def kept_milestone(digest: str, milestone: Milestone) -> KeptMilestone:
    """A milestone as it is kept."""
    beliefs = milestone.beliefs()
    tracks = [(place, *_packed_track(track)) for place, track in beliefs.tracks.items()]
    state = {name: getattr(beliefs, name) for name in _NUMBERS} | {"tracks": tracks}
    text = json.dumps(state, separators=(",", ":"))
    return KeptMilestone(milestone.count, digest, _checksum(text) + text)


def _packed_track(track: SkillTrack) -> tuple[float | str, ...]:
    stable_days, difficulty, day = track.memory
    return stable_days, difficulty, day.toordinal(), *track.rung, *track[3:]


def _unpacked(state: str, layout: BeliefLayout, evidence: tuple[Evidence, ...]) -> Beliefs:
    data: dict[str, Any] = json.loads(state[_SUM:])
    lasts = {layout.syllabus.places[piece.skill]: piece for piece in evidence}
    tracks = {place: _track(lasts[place], *fields) for place, *fields in data["tracks"]}
    pace, covariances, means, variances = (data[name] for name in _NUMBERS)
    spread = tuple(map(tuple, covariances))
    table = table_of(layout.grid, tracks)
    parts = tuple(means), tuple(variances)
    return Beliefs(layout, tuple(pace), spread, *parts, tracks, table, evidence)


def _track(
    last: Evidence,
    stable_days: float,
    difficulty: float,
    day: int,
    tempo_bpm: float,
    streak: int,
    times: float,
    first: str,
    times_that_day: int,
) -> SkillTrack:
    memory = Memory(stable_days, difficulty, date.fromordinal(day))
    return SkillTrack(
        memory, TempoRung(tempo_bpm, streak), last, times, Verdict(first), times_that_day
    )
