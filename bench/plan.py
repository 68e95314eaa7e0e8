"""Does the planner teach more in the same minutes than simple ways to choose?

Run ``python bench/plan.py [--small] [--bound] [--students N] [--seed S] [--ways NAME ..]``.
Students of three kinds (`learners.py`) practise sixty sessions each (`practised.py`) by the
planner, by six simple ways (`plan_rivals.py`), and by one who knows the truth and looks one night
ahead; the same again with students who forget twice as fast, and with harder keys. The model was
tuned on students with seeds below 2000; the table is of seeds from 5000 on.

Each simple way is held twice: free to take in as many new things a day as it likes, which the
planner may not, and in the planner's own frame: one step or unit a day that was never met, and a
chorus after four things. Either is held again with each thing begun by half of its bars, until
these are clean. The best simple way is the one with most skill of either kind; both are said, over
the students that both had: all of the planner and of the six ways as they are, one in five of the
others, where they are more than twenty.

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
WAYS = ("planner", *FREE, *(name + FRAMED for name in FREE), "oracle")
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
    for way in ways:
        start = perf_counter()
        job = partial(outcome, model=model, way=way, habits=HABITS[habit])
        outcomes[way] = list(pool.map(job, students_of(way, seeds), chunksize=2))
        print_row(way, outcomes[way], perf_counter() - start)
    if "planner" in ways:
        print(foretold([probe for one in outcomes["planner"] for probe in one.probes]))
        print_best(outcomes, "free", [way for way in ways if way in FREE])
        print_best(outcomes, "framed", [way for way in ways if way.endswith(FRAMED)])
        print_best(outcomes, "informed", [way for way in ways if way == INFORMED])


def print_best(outcomes: dict[str, list[Outcome]], kind: str, ways: list[str]) -> None:
    """The planner against the best of some ways, over the same students."""
    if not ways:
        return
    skills = {way: np.mean([one.mean_skill for one in outcomes[way]]) for way in ways}
    best = max(skills, key=lambda way: skills[way])
    planner = np.mean([one.mean_skill for one in outcomes["planner"][: len(outcomes[best])]])
    print(f"planner over the best {kind} way ({best}): {planner / skills[best] - 1:+.1%}")


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
