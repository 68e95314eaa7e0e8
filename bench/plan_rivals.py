"""Simple ways to choose what to practise next, for `plan.py` to hold the planner against.

All take new material in the order of the course, move the tempo by the same rungs, and are told
what is heard, as the planner is.
"""

from __future__ import annotations

from datetime import date
from typing import Protocol

import numpy as np

from halfstep.practice.evidence import Verdict
from halfstep.practice.memory import Memory, days_until, reviewed
from halfstep.practice.syllabus import Syllabus
from halfstep.practice.tempo_rung import TempoRung


class Turn:
    """What is played next: a skill, from which tempo, for how long at most, which share of it."""

    __slots__ = ("minutes", "part", "place", "tempo_bpm")

    def __init__(self, place: int, tempo_bpm: float, minutes: float, part: float = 1.0) -> None:
        self.place, self.tempo_bpm, self.minutes, self.part = place, tempo_bpm, minutes, part


class Chooser(Protocol):
    """A way to choose."""

    def begin(self, day: date) -> None:
        """A session begins."""

    def choose(self, minutes: float) -> Turn:
        """The next thing, with so many minutes left."""

    def hear(self, turn: Turn, passes: list[tuple[float, Verdict, float]], day: date) -> None:
        """Be told of the passes of one thing: tempo, verdict, certainty."""


ITEM_MINUTES = 5.0


CHORUS_AFTER = 4
"""In the planner's frame a chorus follows after so many things."""


class Rival:
    """What the simple ways share.

    A skill is begun in the order of the course, when nothing that was begun wants to be played.
    A free one may begin as many as it likes. One in the planner's frame may meet one step or unit
    a day that it never met (two on the first), and plays a chorus after four things.
    """

    def __init__(self, syllabus: Syllabus, random: np.random.Generator) -> None:
        self.syllabus, self.random = syllabus, random
        self.framed, self.halving, self.met_today = False, False, 0
        self.joined: set[int] = set()
        self.met: set[int | str] = set()
        self.begun = 0
        self.rungs: dict[int, TempoRung] = {}
        self.today: set[int] = set()
        self.last: dict[int, int] = {}
        self.day = date.min

    def begin(self, day: date) -> None:
        """A session begins: nothing was played in it."""
        self.day, self.met_today = day, -1 if not self.begun else 0
        self.today.clear()

    def choose(self, minutes: float) -> Turn:
        """What wants to be played most, or what is new."""
        place = self.chorus() if self.framed and len(self.today) == CHORUS_AFTER else None
        if place is None:
            place = self.wanted()
        if place is None:
            place = self.idlest() if self.framed and self.is_full() else self.fresh()
        self.today.add(place)
        part = 0.5 if self.halving and place not in self.joined else 1.0
        return Turn(place, self.rung(place).tempo_bpm, min(minutes, ITEM_MINUTES), part)

    def fresh(self) -> int:
        """The next skill of the course; at its end any."""
        if self.begun == len(self.syllabus.rows):
            return int(self.random.integers(self.begun))
        self.begun += 1
        names = self.names(self.begun - 1)
        self.met_today += not names <= self.met
        self.met |= names
        return self.begun - 1

    def names(self, place: int) -> set[int | str]:
        """What a skill is made of: a step and a unit."""
        row = self.syllabus.rows[place]
        return {row.unit, row.skill.step}

    def is_full(self) -> bool:
        """The next skill would be one new thing too many today."""
        if self.begun == len(self.syllabus.rows):
            return False
        return self.met_today >= 1 and not self.names(self.begun) <= self.met

    def idlest(self) -> int:
        """Of what was begun, what was let lie longest."""
        others = [place for place in range(self.begun) if place not in self.today]
        return min(others or range(self.begun), key=lambda place: self.last.get(place, 0))

    def chorus(self) -> int | None:
        """The last chorus that was begun, if it was not played today."""
        rows = self.syllabus.rows
        begun = [place for place in range(self.begun) if rows[place].is_chorus]
        return begun[-1] if begun and begun[-1] not in self.today else None

    def rung(self, place: int) -> TempoRung:
        """Where a skill stands on its ladder, within its bounds."""
        row = self.syllabus.rows[place]
        rung = self.rungs.get(place, TempoRung(row.start_bpm))
        return rung._replace(tempo_bpm=min(max(rung.tempo_bpm, 0.6 * row.start_bpm), row.goal_bpm))

    def hear(self, turn: Turn, passes: list[tuple[float, Verdict, float]], day: date) -> None:
        """Move the rung by every pass, and judge by the first and the last."""
        place = turn.place
        for tempo_bpm, verdict, _ in passes:
            self.rungs[place] = self.rung(place).climbed(tempo_bpm, verdict)
        if passes[-1][1] is Verdict.CLEAN:
            self.joined.add(place)
        self.last[place] = day.toordinal()
        self.judge(place, passes[0][1], passes[-1][1])

    def wanted(self) -> int | None:
        """The skill that wants to be played most, none where it is time for something new."""
        raise NotImplementedError

    def judge(self, place: int, first: Verdict, last: Verdict) -> None:
        """Keep what is needed to choose."""


class RandomOrder(Rival):
    """Any of what was begun, or the next new thing."""

    def wanted(self) -> int | None:
        """One in so many is new."""
        pick = int(self.random.integers(self.begun + 1))
        return None if pick == self.begun else pick


class FixedOrder(Rival):
    """One after another: the next when the last is clean at its goal tempo, and none again."""

    def __init__(self, syllabus: Syllabus, random: np.random.Generator) -> None:
        super().__init__(syllabus, random)
        self.done: set[int] = set()

    def wanted(self) -> int | None:
        """The first that is not done; not twice a session, so long as there are others."""
        first = next((place for place in range(self.begun) if place not in self.done), None)
        return None if first in self.today else first

    def judge(self, place: int, first: Verdict, last: Verdict) -> None:
        """Done when clean at the goal."""
        rung, goal = self.rung(place), self.syllabus.rows[place].goal_bpm
        if last is Verdict.CLEAN and rung.tempo_bpm >= 0.97 * goal:
            self.done.add(place)


class FixedLadder(Rival):
    """Again after 1, 6, 12, then 48 days; from the start where it fails."""

    gaps: tuple[int, ...] = (1, 6, 12, 48)

    def __init__(self, syllabus: Syllabus, random: np.random.Generator) -> None:
        super().__init__(syllabus, random)
        self.due: dict[int, tuple[int, int]] = {}  # the day it is due, as a number, and its step

    def wanted(self) -> int | None:
        """What has been due for longest."""
        today = self.day.toordinal()
        due = [(on, place) for place, (on, _) in self.due.items() if on <= today]
        due = [(on, place) for on, place in due if place not in self.today]
        return min(due)[1] if due else None

    def judge(self, place: int, first: Verdict, last: Verdict) -> None:
        """One step up where it was clean at the first or the last pass; else from the start."""
        step = self.due.get(place, (0, -1))[1] + 1 if last is Verdict.CLEAN else 0
        step = min(step, len(self.gaps) - 1)
        self.due[place] = (self.day.toordinal() + self.gaps[step], step)


class Weekly(FixedLadder):
    """Again after a week."""

    gaps = (7,)


class Weakest(Rival):
    """Always the weakest of what was begun; something new when all goes well."""

    def __init__(self, syllabus: Syllabus, random: np.random.Generator) -> None:
        super().__init__(syllabus, random)
        self.marks: dict[int, float] = {}

    def wanted(self) -> int | None:
        """The one with the lowest mark below four fifths of clean at the goal."""
        weak = [(mark, place) for place, mark in self.marks.items() if place not in self.today]
        return min(weak)[1] if weak and min(weak)[0] < 0.8 else None

    def judge(self, place: int, first: Verdict, last: Verdict) -> None:
        """A running mark: how clean, and how fast."""
        row = self.syllabus.rows[place]
        share = self.rung(place).tempo_bpm / row.goal_bpm
        marks = {Verdict.CLEAN: 1.0, Verdict.NEARLY: 0.5, Verdict.NOT_YET: 0.0}
        mark = share * (marks[first] + marks[last]) / 2
        self.marks[place] = (self.marks.get(place, mark) + mark) / 2


class NineTenths(Rival):
    """Pure spaced repetition: again when nine tenths of a memory are left."""

    def __init__(self, syllabus: Syllabus, random: np.random.Generator) -> None:
        super().__init__(syllabus, random)
        self.memories: dict[int, Memory] = {}
        self.due: dict[int, float] = {}

    def wanted(self) -> int | None:
        """What has been due for longest."""
        due = [(on, place) for place, on in self.due.items() if place not in self.today]
        return min(due)[1] if due and min(due)[0] <= self.day.toordinal() else None

    def judge(self, place: int, first: Verdict, last: Verdict) -> None:
        """Review it by how its first pass went."""
        memory = reviewed(self.memories.get(place), self.day, first)
        self.memories[place] = memory
        days = max(1, round(days_until(0.9, memory.stability_days)))
        self.due[place] = self.day.toordinal() + days


FRAMED = ", framed"
"""At the end of the name of a way that keeps to the planner's frame."""
HALVING = ", by halves"
"""At the end of the name of a way that begins each thing with half of its bars."""

RIVALS = {
    "random order": RandomOrder,
    "fixed order": FixedOrder,
    "ladder 1-6-12-48": FixedLadder,
    "weekly": Weekly,
    "weakest first": Weakest,
    "spaced, 90 %": NineTenths,
}


def rival_of(way: str, syllabus: Syllabus, random: np.random.Generator) -> Rival:
    """A simple way by its name."""
    name = way.removesuffix(FRAMED).removesuffix(HALVING)
    rival: Rival = RIVALS[name](syllabus, random)
    rival.framed, rival.halving = way.endswith(FRAMED), HALVING in way
    return rival
