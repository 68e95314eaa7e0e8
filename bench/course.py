"""Is every unit of the course proven? A table by unit: what is written, and what is refused.

Run ``python bench/course.py [--small] [--players alto-sax,trombone] [--units one-chord] [--all]
[--workers 2]``. Every unit, every step of it, every instrument and all three levels; key and
progression go round among those of the unit, so that in the whole grid each is met with each step
(``--all`` takes every one with every other, some hours). ``--small`` takes three instruments and
the level of the unit. For each unit:

- etudes written, refused (with the reason, beneath), and those that break a rule;
- of the etudes whose step has a mark for its outline, the share that meets it, and the worst
  relative outline beside its mark;
- etudes with a notice for the teacher, such as a chord that a known range cannot outline;
- the median time of an etude.

Beneath it the same by level and by instrument.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from itertools import product
from statistics import median
from time import perf_counter
from typing import NamedTuple

from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.unit import CourseUnit
from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import RuleBroken, write_etude
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.course_sheet import keyed_sheet
from halfstep.level import Level
from halfstep.progression.form import played

SMALL = ("alto-sax", "trombone", "guitar")


class Lesson(NamedTuple):
    """One etude of the grid."""

    unit: str
    step: str
    player: str
    level: str
    key: int
    progression: int


class Outcome(NamedTuple):
    """What became of it; ``told`` is its relative outline, ``mark`` what it should reach."""

    lesson: Lesson
    fault: str = ""
    is_broken: bool = False
    told: float | None = None
    mark: float | None = None
    notices: int = 0
    seconds: float = 0.0

    @property
    def is_marked(self) -> bool:
        return self.mark is not None and self.told is not None

    @property
    def meets_mark(self) -> bool:
        return self.is_marked and (self.told or 0.0) >= (self.mark or 0.0)


def grid(
    units: Sequence[CourseUnit], players: Sequence[str], *, small: bool, whole: bool
) -> Iterator[Lesson]:
    turn = 0
    for unit, player in product(units, players):
        for level in (unit.level,) if small else Level:
            keys = unit_keys(unit, CoursePlayer(INSTRUMENTS[player], level))
            places = list(product(keys, range(len(unit.progressions))))
            for step in unit.steps:
                turn += 1
                for key, place in places if whole else [places[turn % len(places)]]:
                    yield Lesson(unit.name, step, player, str(level), key, place)


@cache
def analysed(unit: str, progression: int, key: int, player: str, level: str) -> Analysis:
    found = our_course().unit(unit)
    assert found
    sheet = keyed_sheet(found, found.progressions[progression], key, INSTRUMENTS[player])
    return analyse(played(sheet), level=Level(level))


def outcome(lesson: Lesson) -> Outcome:
    unit = our_course().unit(lesson.unit)
    assert unit
    analysis = analysed(lesson.unit, lesson.progression, lesson.key, lesson.player, lesson.level)
    step = find_step(lesson.step)
    brief = Brief(INSTRUMENTS[lesson.player], Level(lesson.level), unit.start_bpm, seed=1)
    start = perf_counter()
    try:
        etude = write_etude(step, analysis, brief)
    except BriefError as refused:
        return Outcome(lesson, fault=str(refused))
    except RuleBroken as broken:
        return Outcome(lesson, fault=str(broken), is_broken=True)
    seconds = perf_counter() - start
    return Outcome(
        lesson,
        told=relative(etude),
        mark=step.least_outline,
        notices=len(etude.notices),
        seconds=seconds,
    )


def relative(etude: Etude) -> float | None:
    """The relative outline of an etude; None where its chart has none."""
    notes = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    return outline(notes, etude.analysis.chart).whole.relative if notes else None


HEAD = f"{'':22}{'etudes':>7}{'refused':>8}{'broken':>7}{'marked':>7}{'met %':>7}{'worst':>12}"


def row(name: str, outcomes: Sequence[Outcome]) -> str:
    marked = [o for o in outcomes if o.is_marked]
    met = 100 * sum(o.meets_mark for o in marked) / len(marked) if marked else 100.0
    worst = min(marked, key=lambda o: (o.told or 0) - (o.mark or 0), default=None)
    shown = f"{worst.told:.2f} of {worst.mark:.2f}" if worst else "–"
    written = [o for o in outcomes if not o.fault]
    refused = sum(bool(o.fault) and not o.is_broken for o in outcomes)
    noticed = sum(o.notices > 0 for o in written)
    seconds = median(o.seconds for o in written) if written else 0.0
    return (
        f"{name:22}{len(written):7}{refused:8}{sum(o.is_broken for o in outcomes):7}"
        f"{len(marked):7}{met:7.1f}{shown:>14}{noticed:8}{1000 * seconds:6.0f}"
    )


def table(outcomes: Sequence[Outcome], name_of: Callable[[Lesson], str]) -> Iterator[str]:
    groups: dict[str, list[Outcome]] = defaultdict(list)
    for out in outcomes:
        groups[name_of(out.lesson)].append(out)
    yield f"{HEAD}  {'notices':>8}{'ms':>6}"
    yield from (row(name, found) for name, found in groups.items())
    yield ""


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--players", default="")
    parser.add_argument("--units", default="")
    parser.add_argument("--workers", type=int, default=2)
    chosen = parser.parse_args()
    names = chosen.units.split(",") if chosen.units else None
    units = [u for u in our_course().units if names is None or u.name in names]
    players = (
        chosen.players.split(",") if chosen.players else SMALL if chosen.small else INSTRUMENTS
    )
    lessons = list(grid(units, list(players), small=chosen.small, whole=chosen.all))
    print(f"{len(units)} units, {len(list(players))} instruments, {len(lessons)} etudes\n")
    with ProcessPoolExecutor(chosen.workers) as pool:
        outcomes = list(pool.map(outcome, lessons, chunksize=16))
    for name_of in (
        lambda lesson: lesson.unit,
        lambda lesson: lesson.level,
        lambda lesson: lesson.player,
        lambda lesson: lesson.step,
    ):
        print("\n".join(table(outcomes, name_of)))
    print("\n".join([*table(outcomes, lambda _: "all"), *worst_cases(outcomes)]))


def worst_cases(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """What was refused and why, and the marks that were missed."""
    reasons = Counter(f"{o.lesson.step}, {o.lesson.level}: {o.fault}" for o in outcomes if o.fault)
    yield from (f"{count} × {reason}" for reason, count in reasons.most_common(20))
    missed = [o for o in outcomes if o.is_marked and not o.meets_mark]
    missed.sort(key=lambda o: (o.told or 0) - (o.mark or 0))
    for o in missed[:20]:
        yield f"missed: {o.told:.2f} of {o.mark:.2f}  {' '.join(map(str, o.lesson))}"


if __name__ == "__main__":
    main()
