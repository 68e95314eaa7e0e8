"""Does the page of a student's way hold, from the first day to years? No text lies upon another."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import combinations
from xml.etree import ElementTree

import pytest

from halfstep.course.course_folder import our_course
from halfstep.course.skill_map import Standing
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.progress_page import progress_picture
from halfstep.level import Level
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.progress import Progress, progress_of
from halfstep.practice.syllabus import Syllabus, syllabus_of
from halfstep.render.progress_picture import ProgressPicture, progress_file, set_progress

FIRST = datetime(2026, 3, 2, 17, tzinfo=UTC)


def syllabus() -> Syllabus:
    return syllabus_of(our_course(), INSTRUMENTS["alto-sax"], Level.BEGINNER)


def played(skills: int, verdict: Verdict = Verdict.CLEAN) -> tuple[Evidence, ...]:
    """Every skill of the course in turn, three times each at its goal, one a day."""
    rows = syllabus().rows[:skills]
    return tuple(
        Evidence(
            f"word {n} {again}", FIRST + timedelta(days=n + again), row.skill, row.goal_bpm,
            verdict, minutes=6.0,
        )
        for n, row in enumerate(rows)
        for again in range(3)
    )  # fmt: skip


def progress_after(evidence: tuple[Evidence, ...], day: date) -> Progress:
    return progress_of(syllabus(), evidence, day)


def picture_after(skills: int, days: int) -> ProgressPicture:
    day = FIRST.date() + timedelta(days=days)
    progress = progress_after(played(skills), day)
    return progress_picture(progress, syllabus(), our_course(), reader="Odile · Alto saxophone")


@pytest.mark.parametrize(("skills", "days"), [(0, 0), (1, 0), (3, 5), (60, 70), (400, 1100)])
def test_no_text_lies_upon_another_or_beyond_the_page(skills: int, days: int) -> None:
    texts = set_progress(picture_after(skills, days)).texts
    for one, other in combinations(texts, 2):
        apart = (
            one.box.right <= other.box.left
            or other.box.right <= one.box.left
            or one.box.bottom <= other.box.top + 60
            or other.box.bottom <= one.box.top + 60
        )
        assert apart, (one.text, other.text)
    assert all(text.box.left > 0 and text.box.right < 21000 for text in texts)
    assert all(text.box.top > 0 and text.box.bottom < 29700 for text in texts)


def test_every_number_stands_in_the_description() -> None:
    svg = ElementTree.fromstring(progress_file(picture_after(30, 40), ".svg"))
    description = svg.findtext("{http://www.w3.org/2000/svg}desc") or ""
    assert "30 met" in description
    assert "Minutes a week, from Monday:" in description
    assert "One chord: 6 of 6 known." in description
    for bar in picture_after(30, 40).bars:
        assert f"{bar.label}: {bar.minutes:.0f}" in description


def test_what_was_clean_at_its_goal_is_known_and_due_after_long() -> None:
    evidence = played(4)
    soon = progress_after(evidence, FIRST.date() + timedelta(days=6))
    late = progress_after(evidence, FIRST.date() + timedelta(days=900))
    assert set(soon.standings.values()) == {Standing.KNOWN}
    assert set(late.standings.values()) == {Standing.DUE}
    assert set(progress_after(played(4, Verdict.NOT_YET), FIRST.date()).standings.values()) == {
        Standing.BEGUN
    }


def test_counts_never_know_more_than_was_met_and_end_today() -> None:
    progress = progress_after(played(40), FIRST.date() + timedelta(days=300))
    assert progress.counts[-1].day == progress.day
    assert all(count.known <= count.met for count in progress.counts)
    assert progress.counts[-1].met == 40
    assert [count.day for count in progress.counts] == sorted(
        count.day for count in progress.counts
    )


def test_minutes_are_told_by_weeks_from_monday() -> None:
    evidence = played(3)  # 9 pieces of 6 minutes on Monday to Friday
    progress = progress_after(evidence, FIRST.date() + timedelta(days=8))
    assert [week.minutes for week in progress.weeks[-2:]] == [54.0, 0.0]
    assert progress.weeks[-1].monday == date(2026, 3, 9)
