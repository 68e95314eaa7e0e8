"""How might students really learn? Three models of the truth, none of them the planner's.

What all share: how well a skill goes is log odds of a clean pass at its goal tempo, less what a
faster tempo costs; each student finds some keys, steps and units harder than others; what is
learnt carries over, in part, to the same step in other keys and to the same step elsewhere.
How practice becomes strength, and how it is lost, is each model's own:

- `TraceLearner`: the memory model of ACT-R with its account of spacing. Pavlik & Anderson 2005,
  "Practice and forgetting effects on vocabulary memory: an activation-based model of the spacing
  effect", Cognitive Science 29: activation is the logarithm of the sum of all practices, each
  faded by a power of time; how fast one fades depends on the activation when it was laid. Their
  parameters, from memory: decay intercept .177, decay scale .217, threshold -.704, noise .255,
  time between sessions counted at .025. Not of our design; that activation answers for a clean
  pass of an etude is our assumption.
- `TwoSpeedLearner`: motor learning at two speeds. Smith, Ghazizadeh & Shadmehr 2006, "Interacting
  adaptive processes with different timescales underlie short-term motor learning", PLoS Biology
  4: of what is left to learn the fast process takes .21 each trial and keeps .59, the slow one
  takes .02 and keeps .992 (their parameters, from memory). Overnight the fast one is gone, a part
  of it kept by the slow (gains at 24 hours: Simmons 2012); failed passes teach less (Duke et al.
  2009); the slow one is lost by days, the more slowly the more days it was practised (ours).
- `StageLearner`: knowledge comes in steps: unknown, shaky, firm, each a jump of chance; as in
  knowledge tracing (Corbett & Anderson 1995), with jumps back by days (ours).
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from halfstep.practice.syllabus import Syllabus

Array = Any

TRACES = 8192
"""Room for so many passes of one student."""

SLOPES = 2.2, 3.8
"""Log odds that twice the tempo costs: each student's own lies between. The planner begins with
one number for all, and learns."""

SPREAD = {"unit": 0.5, "step": 0.5, "key": 0.8, "skill": 0.5, "student": 0.6}
"""Standard deviations of what students find hard, in log odds."""


@dataclass(frozen=True)
class Habits:
    """What differs between students of one bench.

    Attributes
    ----------
    forgetting : float
        How fast days pass for their memory: 1, or 2 for those who forget twice as fast.
    key_spread : float
        How much harder hard keys are.
    """

    forgetting: float = 1.0
    key_spread: float = 1.0


class Course:
    """The parts of a syllabus as arrays of numbers, for all students."""

    def __init__(self, syllabus: Syllabus) -> None:
        rows = syllabus.rows
        self.syllabus, self.size = syllabus, len(rows)
        self.units = numbered([row.unit for row in rows])
        self.steps = numbered([row.skill.step for row in rows])
        self.pieces = numbered([(row.unit, row.step) for row in rows])
        self.keys = numbered([row.skill.key for row in rows])
        self.orders = np.array([row.key_order for row in rows])
        self.places = np.array([row.step for row in rows])
        self.goals = np.array([row.goal_bpm for row in rows])
        self.starts = np.array([row.start_bpm for row in rows])
        self.like_pieces, self.like_steps = alike(self.pieces), alike(self.steps)


def numbered(names: list[Any]) -> Array:
    """The same number for the same name."""
    numbers: dict[Any, int] = {}
    return np.array([numbers.setdefault(name, len(numbers)) for name in names])


def alike(kinds: Array) -> list[Array]:
    """For each skill, the places of those of its kind."""
    places = [np.flatnonzero(kinds == kind) for kind in range(kinds.max(initial=-1) + 1)]
    return [places[kind] for kind in kinds]


JOINED = 0.85
"""What bars by themselves teach of the whole, beside their share: they are to be joined still."""

BURSTS = 0.6, 1.0
"""How the faults of a form are spread: 1 where each bar has its own chance of one, less where they
come together, so that fewer bars help less. Each student's own lies between."""


def taught_of_whole(part: float) -> float:
    """What a pass of some of the bars teaches, against a pass of all."""
    return part if part == 1 else JOINED * part


def bursts_of(seed: int) -> float:
    """How the faults of one student are spread."""
    return float(np.random.default_rng([seed, 13]).uniform(*BURSTS))


def chance_of_part(whole: Array, part: float, bursts: float) -> Array:
    """How likely a part of the bars is clean, where the whole is so likely: no fault in them."""
    return whole ** (part**bursts)


def slope_of(seed: int) -> float:
    """What twice the tempo costs one student."""
    return float(np.random.default_rng([seed, 11]).uniform(*SLOPES))


def difficulties(course: Course, random: np.random.Generator, habits: Habits) -> Array:
    """How hard each skill is for one student, in log odds against the usual."""

    def drawn(kind: str, of: Array) -> Array:
        return random.normal(0, SPREAD[kind], of.max() + 1)[of]

    keys = habits.key_spread * (drawn("key", course.keys) + 0.12 * course.orders)
    hard = drawn("unit", course.units) + drawn("step", course.steps) + keys + 0.2 * course.places
    hard += 0.04 * course.units + random.normal(0, SPREAD["skill"], course.size)
    return hard - random.normal(0, SPREAD["student"])


class Learner(Protocol):
    """One student."""

    def log_odds(self) -> Array:
        """Of a clean pass at the goal tempo, of all skills now."""

    def log_odds_of(self, place: int) -> float:
        """The same of one skill."""

    def play(self, place: int, share: float, clean: bool, minute: float, part: float) -> None:
        """Have played a part of a skill's bars once, at a share of its goal tempo."""

    def sleep(self, days: float) -> None:
        """Let days pass."""


def twin(learner: Any) -> Any:
    """A student just like that one, to try things on."""
    other = copy(learner)
    for name, value in vars(learner).items():
        if isinstance(value, np.ndarray) and name != "hard":
            setattr(other, name, value.copy())
    return other


class TraceLearner:
    """Traces that fade by a power of time (Pavlik & Anderson 2005)."""

    intercept, scale, threshold, noise, between = 0.177, 0.217, -0.704, 0.255, 0.025
    ground = 0.22  # what a musician brings along, as a trace that stays
    carries_piece, carries_step, carries_unit = 0.3, 0.06, 0.04

    def __init__(self, course: Course, random: np.random.Generator, habits: Habits) -> None:
        self.course, self.hard, self.habits = course, difficulties(course, random, habits), habits
        self.now = 0.0  # seconds, those between sessions counted at `between`
        self.count = 0
        self.at, self.decay, self.weight = np.zeros((3, TRACES))
        self.what = np.zeros(TRACES, np.int64)
        self.faded_to: tuple[float, int] | None = None  # when, and of how many
        self.faded = self.weight[:0]

    def _traces(self) -> Array:
        if self.faded_to != (self.now, self.count):
            used = slice(self.count)
            age = np.maximum(self.now - self.at[used], 1.0)
            self.faded = self.weight[used] * age ** -self.decay[used]
            self.faded_to = self.now, self.count
        return self.faded

    def _strength(self, traces: Array, what: Array) -> Array:
        course = self.course
        single = np.bincount(what, traces, course.size)
        strength = self.ground + single
        for kinds, share in (
            (course.pieces, self.carries_piece),
            (course.steps, self.carries_step),
            (course.units, self.carries_unit),
        ):
            strength += share * (np.bincount(kinds, single)[kinds] - single)
        return strength

    def log_odds(self) -> Array:
        """Of a clean pass at the goal tempo, of all skills now."""
        strength = self._strength(self._traces(), self.what[: self.count])
        return (np.log(strength) - self.threshold) / self.noise - self.hard - 1.0

    def log_odds_of(self, place: int) -> float:
        """The same of one skill."""
        course, what, traces = self.course, self.what[: self.count], self._traces()
        own = traces[what == place].sum()
        strength = self.ground + own
        for kinds, share in (
            (course.pieces, self.carries_piece),
            (course.steps, self.carries_step),
            (course.units, self.carries_unit),
        ):
            strength += share * (traces[kinds[what] == kinds[place]].sum() - own)
        activation = float(np.log(strength))
        return (activation - self.threshold) / self.noise - float(self.hard[place]) - 1.0

    def play(self, place: int, share: float, clean: bool, minute: float, part: float = 1.0) -> None:
        """Lay one more trace."""
        del clean
        own = self._traces()[self.what[: self.count] == place].sum()
        self.decay[self.count] = self.intercept + self.scale * own
        self.at[self.count], self.what[self.count] = self.now, place
        self.weight[self.count] = 0.8 * share * taught_of_whole(part)
        self.count += 1
        self.now += 60 * minute

    def sleep(self, days: float) -> None:
        """Let days pass."""
        self.now += 86400 * days * self.between * self.habits.forgetting


class TwoSpeedLearner:
    """A fast process and a slow one (Smith et al. 2006)."""

    fast_keeps, fast_takes, slow_keeps, slow_takes = 0.59, 0.21, 0.992, 0.02
    overnight, gain, first_life = 0.3, 6.5, 12.0
    carries_piece, carries_step = 0.55, 0.25

    def __init__(self, course: Course, random: np.random.Generator, habits: Habits) -> None:
        self.course, self.hard, self.habits = course, difficulties(course, random, habits), habits
        self.fast, self.slow, self.days = np.zeros((3, course.size))
        self.today = np.zeros(course.size, bool)
        self.counts = [np.bincount(kinds)[kinds] for kinds in (course.pieces, course.steps)]

    def _carried(self) -> Array:
        """What each skill has of its like: the most that stands there, smoothly."""
        course = self.course
        piece, step = np.zeros(course.pieces.max() + 1), np.zeros(course.steps.max() + 1)
        np.maximum.at(piece, course.pieces, self.slow)
        np.maximum.at(step, course.steps, self.slow)
        return np.maximum(
            self.carries_piece * piece[course.pieces], self.carries_step * step[course.steps]
        )

    def _held(self) -> Array:
        return self.fast + self.slow + self._carried() * (1 - self.slow)

    def log_odds(self) -> Array:
        """Of a clean pass at the goal tempo, of all skills now."""
        return self.gain * self._held() - 1.7 - self.hard

    def log_odds_of(self, place: int) -> float:
        """The same of one skill."""
        slow, course = self.slow, self.course
        carried = max(
            self.carries_piece * slow[course.like_pieces[place]].max(),
            self.carries_step * slow[course.like_steps[place]].max(),
        )
        held = self.fast[place] + slow[place] + carried * (1 - slow[place])
        return float(self.gain * held - 1.7 - self.hard[place])

    def play(self, place: int, share: float, clean: bool, minute: float, part: float = 1.0) -> None:
        """One trial: both processes take their part of what is left."""
        del minute
        left = max(0.0, 1 - self.fast[place] - self.slow[place]) * share * (1.0 if clean else 0.6)
        left *= taught_of_whole(part)
        self.fast[place] = self.fast_keeps**part * self.fast[place] + self.fast_takes * left
        self.slow[place] = self.slow_keeps**part * self.slow[place] + self.slow_takes * left
        self.today[place] = True

    def sleep(self, days: float) -> None:
        """Let days pass."""
        self.slow += self.overnight * self.fast
        self.fast[:] = 0
        self.days += self.today
        self.today[:] = False
        life = self.first_life * (1 + self.days) / self.habits.forgetting
        self.slow *= np.exp(-days / life)


class StageLearner:
    """Unknown, shaky, firm: jumps up with practice, back with days."""

    levels = np.array([-1.4, 0.5, 2.8])
    rises = (0.22, 0.14)
    falls = (0.0, 0.05, 0.03)  # a day, from unknown, shaky, firm, before it was practised often
    carries = 1.6

    def __init__(self, course: Course, random: np.random.Generator, habits: Habits) -> None:
        self.course, self.hard, self.habits = course, difficulties(course, random, habits), habits
        self.random = np.random.default_rng(random.integers(2**32))
        self.stage = np.zeros(course.size, np.int64)
        self.days = np.zeros(course.size)
        self.today = np.zeros(course.size, bool)

    def _of_piece(self) -> Array:
        """How many firm skills there are among the same step's keys, up to three of them."""
        course = self.course
        return np.minimum(np.bincount(course.pieces, self.stage == 2)[course.pieces], 3.0)

    def log_odds(self) -> Array:
        """Of a clean pass at the goal tempo, of all skills now."""
        helped = np.where(self.stage < 2, self.carries * self._of_piece(), 0.0)
        return self.levels[self.stage] + 0.5 * helped - 0.6 * self.hard

    def log_odds_of(self, place: int) -> float:
        """The same of one skill."""
        stage = self.stage[place]
        helped = self.carries * min(self._firm_like(place), 3.0) if stage < 2 else 0.0
        return float(self.levels[stage] + 0.5 * helped - 0.6 * self.hard[place])

    def _firm_like(self, place: int) -> int:
        """How many firm skills there are among the same step's keys."""
        return int(np.count_nonzero(self.stage[self.course.like_pieces[place]] == 2))

    def play(self, place: int, share: float, clean: bool, minute: float, part: float = 1.0) -> None:
        """One pass: perhaps a jump."""
        del minute
        self.today[place] = True
        stage = self.stage[place]
        if stage < 2:
            like = min(self._firm_like(place), 4)
            chance = self.rises[stage] * (1 + 0.5 * like) * share * (1.0 if clean else 0.7)
            chance *= taught_of_whole(part)
            self.stage[place] += self.random.random() < chance * np.exp(-0.3 * self.hard[place])

    def sleep(self, days: float) -> None:
        """Let days pass: perhaps a jump back."""
        self.days += self.today
        self.today[:] = False
        fall = np.array(self.falls)[self.stage] / (1 + 0.6 * self.days) * self.habits.forgetting
        self.stage -= self.random.random(self.course.size) < 1 - np.exp(-fall * days)
