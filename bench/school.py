"""How long do keeping evidence and planning take a student of years, beside bare SQLite?

    python bench/school.py            three years of takes
    python bench/school.py --years 6  as many as that

Prints CPU time in ms of: one piece of evidence kept in its own transaction, beside the same row
written with the standard library's sqlite3 under the same settings; a plan from all evidence, the
first one and one that goes on from kept milestones, also after a take that comes late; beliefs with
one more piece, of today or dated back; beliefs made anew; the choice of items alone; and the size
of the database. Twice the years should take twice the time, not more. A student of the bench plays
five things on six days a week.
"""

from __future__ import annotations

import argparse
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from statistics import median
from time import process_time

from halfstep.app.tasks.practice_tasks import PlanDay, plan_day
from halfstep.course.course_folder import our_course
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.practice.beliefs import beliefs_of
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.plan_choice import practice_plan
from halfstep.practice.syllabus import syllabus_of
from halfstep.school.data_folder import DATABASE_FILE
from halfstep.school.database import School
from halfstep.school.kept_evidence import keep_evidence
from halfstep.school.students import add_student, new_student

FIRST = datetime(2023, 3, 6, 17, tzinfo=UTC)
ITEMS_A_DAY, PLAYING_DAYS = 5, 6
LATE_DAYS = (0, 7, 30, 90, 365)
ALTO = INSTRUMENTS["alto-sax"]


def years_of_evidence(years: float) -> list[Evidence]:
    """What is played in so many years: skills in order, each again and again."""
    rows = syllabus_of(our_course(), ALTO, Level.BEGINNER).rows
    days = [day for day in range(round(years * 365)) if day % 7 < PLAYING_DAYS]
    count = len(days) * ITEMS_A_DAY
    pieces = []
    for number in range(count):
        reached = max(ITEMS_A_DAY, len(rows) * number // count)
        row = rows[(number * 7919) % reached]
        verdict = list(Verdict)[0 if number % 4 else 2]
        at = FIRST + timedelta(days=days[number // ITEMS_A_DAY], minutes=number % ITEMS_A_DAY)
        pieces.append(Evidence(f"take {number}", at, row.skill, row.start_bpm, verdict, 0.9, 6.0))
    return pieces


def cpu_ms(work: Callable[[], object], times: int = 5) -> float:
    """The middle CPU time of some runs."""
    runs = []
    for _ in range(times):
        start = process_time()
        work()
        runs.append(1000 * (process_time() - start))
    return median(runs)


def bare_insert(folder: Path) -> Callable[[], None]:
    """A row of the same size in a transaction of its own, by the standard library."""
    connection = sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE evidence (id INTEGER PRIMARY KEY, a, b, c, d, e, f, g, h)")

    def insert() -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(
            "INSERT INTO evidence (a, b, c, d, e, f, g, h) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (1, "take", "2026-03-02 17:00:00", "one-chord", "rhythm", 0, 80.0, "clean"),
        )
        connection.execute("COMMIT")

    return insert


def measured(years: float, folder: Path) -> float:
    """Print the figures of so many years; the time of a plan in ms."""
    pieces = years_of_evidence(years)
    syllabus = syllabus_of(our_course(), ALTO, Level.BEGINNER)
    day = (pieces[-1].at + timedelta(days=1)).date()
    with School(folder) as school:
        with school.writing() as connection:
            for name in ("Odile", "Bram"):
                add_student(connection, new_student(name, ALTO, Level.BEGINNER))
            keep_evidence(connection, "Odile", pieces)
        keeping, bare = cpu_ms(_keeping(school, pieces), 21), cpu_ms(bare_insert(folder), 21)
        plan = partial(plan_day, school, PlanDay("Odile", day.isoformat(), anew=True))
        plan_day(school, PlanDay("Bram", day.isoformat()))  # reads the course
        first, planning = cpu_ms(plan, 1), cpu_ms(plan)
        with school.writing() as connection:
            keep_evidence(connection, "Odile", [late(pieces, 30)])
        after_late = cpu_ms(plan, 1)
    beliefs = beliefs_of(syllabus, pieces, day)
    size = (folder / DATABASE_FILE).stat().st_size / 1e6
    print(f"{years:g} years, {len(pieces)} pieces of evidence, database {size:.1f} MB")
    print(f"  keep one piece               {keeping:7.2f} ms, {keeping / bare:.0f} x bare sqlite3")
    for days in LATE_DAYS:
        adding = cpu_ms(partial(beliefs.after, [late(pieces, days)], day))
        print(f"  believe one, {days:4} days late  {adding:7.2f} ms")
    believing = cpu_ms(partial(beliefs_of, syllabus, pieces, day))
    choosing = cpu_ms(partial(practice_plan, beliefs, day), 21)
    print(f"  believe all anew             {believing:7.2f} ms")
    print(f"  choose items                 {choosing:7.2f} ms")
    print(f"  plan, the first one          {first:7.2f} ms")
    print(f"  plan after a take 30 d late  {after_late:7.2f} ms")
    print(f"  plan                         {planning:7.2f} ms")
    return planning


def _keeping(school: School, pieces: list[Evidence]) -> Callable[[], None]:
    """Keeps another piece of evidence each time."""
    numbers = count(1)

    def keep_one() -> None:
        number = next(numbers)
        at = pieces[-1].at + timedelta(minutes=number)
        piece = Evidence(f"more {number}", at, pieces[number].skill, 80.0, Verdict.CLEAN)
        with school.writing() as connection:
            keep_evidence(connection, "Odile", [piece])

    return keep_one


def late(pieces: list[Evidence], days: float) -> Evidence:
    """A take that is dated so many days before the last."""
    at = pieces[-1].at - timedelta(days=days, minutes=-1)
    return Evidence(f"{days} days late", at, pieces[0].skill, 80.0, Verdict.CLEAN)


def main() -> None:
    """Measure a student of so many years, and of twice as many."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--years", type=float, default=3.0)
    years = parser.parse_args().years
    with tempfile.TemporaryDirectory() as once, tempfile.TemporaryDirectory() as twice:
        plan, longer = measured(years, Path(once)), measured(2 * years, Path(twice))
    print(f"a plan of twice the years takes {longer / plan:.2f} times as long")


if __name__ == "__main__":
    main()
