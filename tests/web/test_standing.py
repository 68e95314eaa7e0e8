"""Is it shown how players stand, and only to who may see it?"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from desks import Desk

from halfstep.course.skill import Skill
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.school.kept_beliefs import milestones_of
from halfstep.school.kept_evidence import keep_evidence


def play(desk: Desk, name: str, day: int = 30) -> None:
    """One thing of the course, clean, on one of the last thirty days."""
    piece = Evidence(
        source=f"word {day}",
        at=datetime.now(UTC) - timedelta(days=30 - day),
        skill=Skill("one-chord", "rhythm", 0),
        tempo_bpm=80.0,
        verdict=Verdict.CLEAN,
        weight=1.0,
        minutes=5.0,
    )
    with desk.school.writing() as connection:
        keep_evidence(connection, name, [piece])


def test_a_class_asks_for_the_row_of_each_player(desk: Desk) -> None:
    text = desk.teacher().get("/classes/1/standing").text
    asked = re.findall(r'id="stands-(\d)" data-swap-from="/students/(\d)/standing"', text)
    assert asked == [("1", "1"), ("2", "2"), ("3", "3")]


def test_a_player_is_shown_unit_by_unit(desk: Desk) -> None:
    play(desk, "Ansel")
    text = desk.teacher().get("/students/1/standing").text
    assert '<li id="stands-1">' in text, "what a class asks for, and does not ask for again"
    assert text.count(": begun") == 2, "a title for who points, and a label for who hears it"
    assert "◐" in text
    other = desk.teacher().get("/students/2/standing").text
    assert "nothing heard yet" in other
    assert "no unit is met" in other


@pytest.mark.slow
def test_what_is_believed_is_kept_for_the_next_time(desk: Desk) -> None:
    for day in range(30):
        play(desk, "Ansel", day)
    first = desk.teacher().get("/students/1/standing").text
    with desk.school.reading() as connection:
        (*_, last) = sorted(milestones_of(connection, "Ansel"), key=lambda known: known.count)
    assert last.count == 30
    assert desk.teacher().get("/students/1/standing").text == first
    play(desk, "Ansel", 30)
    assert desk.teacher().get("/students/1/standing").status_code == 200


def test_a_players_way_is_a_picture(desk: Desk) -> None:
    play(desk, "Ansel")
    answer = desk.student("Ansel").get("/students/1/way.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "1 met" in answer.text


def test_nobody_sees_how_another_stands(desk: Desk) -> None:
    for browser, status in ((desk.student("Corin"), 404), (desk.visitor(), 403)):
        assert browser.get("/students/1/way.svg").status_code == status
        assert browser.get("/classes/1/standing").status_code == 403
        assert browser.get("/students/1/standing").status_code == 403
