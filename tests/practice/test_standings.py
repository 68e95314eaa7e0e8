"""Where a student stands: not met, begun, known, due again, by what was played and when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from halfstep.course.course_folder import our_course
from halfstep.course.skill_map import Standing
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.practice.beliefs import beliefs_of
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.progress import standings_of
from halfstep.practice.syllabus import syllabus_of

SYLLABUS = syllabus_of(our_course(), INSTRUMENTS["trumpet"], Level.INTERMEDIATE)
ROW = SYLLABUS.rows[3]
FIRST = datetime(2026, 3, 2, 18, tzinfo=UTC)


def standing_after(verdict: Verdict, times: int, *, days_later: int = 1) -> Standing | None:
    """Where the skill stands that was played so often, once every other day."""
    evidence = [
        Evidence(f"take {n}", FIRST + timedelta(days=2 * n), ROW.skill, ROW.goal_bpm, verdict)
        for n in range(times)
    ]
    last = FIRST + timedelta(days=2 * max(0, times - 1) + days_later)
    beliefs = beliefs_of(SYLLABUS, evidence, last.date())
    standings = standings_of(beliefs, last.date())
    assert set(standings) == ({ROW.skill} if times else set())
    return standings.get(ROW.skill)


def test_what_was_never_played_has_no_standing() -> None:
    assert standing_after(Verdict.CLEAN, 0) is None


def test_what_fails_is_begun() -> None:
    assert standing_after(Verdict.NOT_YET, 4) is Standing.BEGUN


def test_what_is_clean_again_and_again_is_known() -> None:
    assert standing_after(Verdict.CLEAN, 6) is Standing.KNOWN


def test_what_was_known_a_year_ago_is_due_again() -> None:
    assert standing_after(Verdict.CLEAN, 6, days_later=365) is Standing.DUE
