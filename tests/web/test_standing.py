"""Is it shown how players stand, and only to who may see it?"""

from __future__ import annotations

from datetime import UTC, datetime

from desks import Desk

from halfstep.course.skill import Skill
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.school.kept_evidence import keep_evidence


def play(desk: Desk, name: str) -> None:
    """One thing of the course, clean."""
    piece = Evidence(
        source="word",
        at=datetime.now(UTC),
        skill=Skill("one-chord", "rhythm", 0),
        tempo_bpm=80.0,
        verdict=Verdict.CLEAN,
        weight=1.0,
        minutes=5.0,
    )
    with desk.school.writing() as connection:
        keep_evidence(connection, name, [piece])


def test_a_class_is_shown_unit_by_unit(desk: Desk) -> None:
    play(desk, "Ansel")
    text = desk.teacher().get("/classes/1/standing").text
    assert text.count(": begun") == 2, "a title for who points, and a label for who hears it"
    assert text.count("nothing heard yet") == text.count("no unit is met") == 2
    assert "◐" in text


def test_a_players_way_is_a_picture(desk: Desk) -> None:
    play(desk, "Ansel")
    answer = desk.student("Ansel").get("/students/1/way.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "1 met" in answer.text


def test_nobody_sees_how_another_stands(desk: Desk) -> None:
    for browser in (desk.student("Corin"), desk.visitor()):
        assert browser.get("/students/1/way.svg").status_code == 403
        assert browser.get("/classes/1/standing").status_code == 403
