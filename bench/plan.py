"""Does the planner teach more in the same minutes than simple ways to choose?

Run ``python bench/plan.py [--small] [--bound] [--students N] [--seed S] [--ways NAME ..]``.
Students of three kinds (`learners.py`) practise sixty sessions each (`practised.py`) by the
planner, by six simple ways (`plan_rivals.py`), and by one who knows the truth and looks one night
ahead; the same again with students who forget twice as fast, and with harder keys. The model was
tuned on students with seeds below 2000; the table is of seeds from 5000 on.

Each simple way is held twice: free to take in as many new things a day as it likes, which the
planner may not, and in the planner's own frame: one step or unit a day that was never met, and a
chorus after four things. Either is held again with each thing begun by half of its bars, until
these are clean. The best simple way of either kind is the one over which the planner has least. All
students practise by the planner and by the six ways as they are, one in five by the others where
there are more than twenty; and all of them by what is then the best.

With ``--bound`` twenty students of each kind practise also by one who keeps all rules of the
planner, but knows how likely each thing is clean and what it gives by itself: what may be reached
under these rules by who looks no further.

Below each table stands how well the planner foretells "clean today?" of skills that were begun,
at their goal tempo: the logarithmic loss over that of a constant, and the area under the curve.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from time import perf_counter

import numpy as np
from learners import Course, Habits
from plan_rivals import FRAMED, HALVING, RIVALS
from practised import INFORMED, LEARNERS, MONDAY, Outcome, outcome_of

from halfstep.course.course_folder import our_course
from halfstep.instruments import find_instrument
from halfstep.level import Level
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.syllabus import syllabus_of

FREE = (*RIVALS, *(name + HALVING for name in RIVALS))
FRAMES = tuple(name + FRAMED for name in FREE)
WAYS = ("planner", *FREE, *FRAMES, "oracle")
FEW = 20
"""So many students practise in every way; of more one in five do in some."""
HABITS = {
    "as they are": Habits(),
    "forget twice as fast": Habits(forgetting=2.0),
    "keys twice as hard": Habits(key_spread=2.0),
}
COLUMNS = (
    ("skill", "mean_skill", "{:.3f}"),
    ("gained", "gained", "{:.3f}"),
    ("at the end", "end_skill", "{:.3f}"),
    ("an hour", "gained_an_hour", "{:.2f}"),
    ("mastered", "mastered", "{:.3f}"),
    ("units", "units", "{:.1f}"),
    ("first chorus", "first_chorus", "{:.1f}"),
    ("frustrating", "frustrating", "{:.0%}"),
    ("boring", "boring", "{:.0%}"),
    ("starved", "starved", "{:.1%}"),
)


@cache
def course_and_start() -> tuple[Course, Beliefs]:
    """Our course as an alto saxophonist meets it, and a beginner of whom nothing is known."""
    syllabus = syllabus_of(our_course(), find_instrument("alto-sax"), Level.BEGINNER)
    return Course(syllabus), beliefs_of(syllabus, (), MONDAY)


def outcome(seed: int, model: str, way: str, habits: Habits) -> Outcome:
    """One student's."""
    course, start = course_and_start()
    return outcome_of(course, model, way, seed, habits, start)


def foretold(probes: list[tuple[float, bool]]) -> str:
    """How good the planner's chances were."""
    chances, clean = np.array(probes).T
    chances, clean = np.clip(chances, 1e-6, 1 - 1e-6), clean > 0
    rate = clean.mean()
    loss = -np.where(clean, np.log(chances), np.log(1 - chances)).mean()
    constant = -(rate * np.log(rate) + (1 - rate) * np.log(1 - rate))
    ranks = np.argsort(np.argsort(chances)) + 1.0
    positives, others = clean.sum(), (~clean).sum()
    area = (ranks[clean].sum() - positives * (positives + 1) / 2) / (positives * others)
    return f"foretold: {loss / constant:.3f} of the constant's loss, area {area:.3f}"


def print_row(way: str, outcomes: list[Outcome], seconds: float) -> None:
    """The means of a way to choose."""
    cells = [
        text.format(np.mean([getattr(one, name) for one in outcomes])).rjust(len(title))
        for title, name, text in COLUMNS
    ]
    print(f"| {way:31} | {' | '.join(cells)} | {seconds:4.0f} s", flush=True)


def students_of(way: str, seeds: range) -> range:
    """Who practises that way: of many one in five, where it is neither ours nor as it is."""
    is_whole = way in ("planner", *RIVALS) or len(seeds) <= FEW
    return seeds if is_whole else seeds[: len(seeds) // 5 + 1]


def print_table(
    pool: ProcessPoolExecutor, model: str, habit: str, ways: tuple[str, ...], seeds: range
) -> None:
    """All ways to choose for one kind of students."""
    print(f"\n{model}, {habit}, {len(seeds)} students")
    print(f"| {'':31} | {' | '.join(title for title, _, _ in COLUMNS)} |")
    outcomes: dict[str, list[Outcome]] = {}

    def practise(way: str, students: range) -> None:
        start, own = perf_counter(), outcomes.setdefault(way, [])
        job = partial(outcome, model=model, way=way, habits=HABITS[habit])
        own += pool.map(job, students[len(own) :], chunksize=2)
        print_row(way, own, perf_counter() - start)

    for way in ways:
        practise(way, students_of(way, seeds))
    if "planner" not in ways:
        return
    print(foretold([probe for one in outcomes["planner"] for probe in one.probes]))
    for kind, rivals in (("free", FREE), ("framed", FRAMES), ("informed", (INFORMED,))):
        held = [way for way in ways if way in rivals]
        if not held:
            continue
        while len(outcomes[best := best_of(outcomes, held)]) < len(seeds):
            practise(best, seeds)
        ahead = planner_over(outcomes, best)
        print(f"planner over the best {kind} way ({best}): {ahead:+.1%}, of all {len(seeds)}")


def best_of(outcomes: dict[str, list[Outcome]], ways: list[str]) -> str:
    """The way over which the planner has least."""
    return min(ways, key=lambda way: planner_over(outcomes, way))


def planner_over(outcomes: dict[str, list[Outcome]], way: str) -> float:
    """How much more skill the planner leaves than a way, over the students of both."""
    pairs = zip(outcomes["planner"], outcomes[way], strict=False)
    ours, theirs = np.array([(one.mean_skill, two.mean_skill) for one, two in pairs]).T
    return float(ours.mean() / theirs.mean() - 1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--small", action="store_true", help="a few students, under a minute")
    parser.add_argument("--students", type=int, default=200)
    parser.add_argument("--seed", type=int, default=5000)
    parser.add_argument("--bound", action="store_true", help="what is within reach, of 20 students")
    parser.add_argument("--ways", nargs="+", choices=WAYS, default=WAYS)
    parser.add_argument("--habits", nargs="+", choices=list(HABITS), default=list(HABITS))
    options = parser.parse_args()
    ways = (*options.ways, INFORMED) if options.bound else tuple(options.ways)
    students = 2 if options.small else FEW if options.bound else options.students
    habits = options.habits[:1] if options.small or options.bound else options.habits
    with ProcessPoolExecutor(2) as pool:
        for habit in habits:
            few = students if habit == "as they are" else max(1, students // 5)
            for model in LEARNERS:
                seeds = range(options.seed, options.seed + few)
                print_table(pool, model, habit, ways, seeds)


if __name__ == "__main__":
    main()
