"""How long do keeping evidence and planning take a student of years, beside bare SQLite?

    python bench/school.py            three years of takes
    python bench/school.py --years 6  as many as that

Prints CPU time in ms of: one piece of evidence kept in its own transaction, beside the same row
written with the standard library's sqlite3 under the same settings; a plan from all evidence, read
and believed anew; the choice of items alone; and the size of the database. Twice the years should
take twice the time, not more. A student of the bench plays five things on six days a week.
"""

from __future__ import annotations

import argparse
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
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
from halfstep.school.kept_evidence import evidence_of, keep_evidence
from halfstep.school.students import add_student, new_student

FIRST = datetime(2023, 3, 6, 17, tzinfo=UTC)
ITEMS_A_DAY, PLAYING_DAYS = 5, 6
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


def measured(years: float, folder: Path) -> tuple[float, float]:
    """Print the figures of so many years; the time of a plan and of the beliefs, in ms."""
    pieces = years_of_evidence(years)
    syllabus = syllabus_of(our_course(), ALTO, Level.BEGINNER)
    with School(folder) as school:
        with school.writing() as connection:
            add_student(connection, new_student("Odile", ALTO, Level.BEGINNER))
            keep_evidence(connection, "Odile", pieces)
        numbers = iter(range(1000))

        def keep_one() -> None:
            number = next(numbers)
            at = pieces[-1].at + timedelta(minutes=number + 10)
            row = syllabus.rows[number % 6]
            piece = Evidence(f"more {number}", at, row.skill, 80.0, Verdict.CLEAN)
            with school.writing() as connection:
                keep_evidence(connection, "Odile", [piece])

        day = (pieces[-1].at + timedelta(days=1)).date()
        keeping = cpu_ms(keep_one, 21)
        bare = cpu_ms(bare_insert(folder), 21)
        planning = cpu_ms(lambda: plan_day(school, PlanDay("Odile", day.isoformat(), anew=True)))
        with school.reading() as connection:
            kept = evidence_of(connection, "Odile")
        beliefs = beliefs_of(syllabus, kept, day)
        believing = cpu_ms(lambda: beliefs_of(syllabus, kept, day))
        later = kept[-1].at + timedelta(hours=1)
        more = [Evidence("last", later, syllabus.rows[0].skill, 80.0, Verdict.CLEAN)]
        adding = cpu_ms(lambda: beliefs.after(more, day))
        choosing = cpu_ms(lambda: practice_plan(beliefs, day), 21)
    size = (folder / DATABASE_FILE).stat().st_size / 1e6
    print(f"{years:g} years, {len(kept)} pieces of evidence, database {size:.1f} MB")
    print(f"  keep one piece            {keeping:7.2f} ms   {keeping / bare:5.1f} x bare sqlite3")
    print(f"  add one to beliefs        {adding:7.2f} ms")
    print(f"  plan, read and believed   {planning:7.2f} ms")
    print(f"  beliefs alone             {believing:7.2f} ms")
    print(f"  choice of items alone     {choosing:7.2f} ms")
    return planning, believing


def main() -> None:
    """Measure a student of so many years, and of twice as many."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--years", type=float, default=3.0)
    years = parser.parse_args().years
    with tempfile.TemporaryDirectory() as once, tempfile.TemporaryDirectory() as twice:
        plan, _ = measured(years, Path(once))
        longer, _ = measured(2 * years, Path(twice))
    print(f"a plan of twice the years takes {longer / plan:.2f} times as long")


if __name__ == "__main__":
    main()
