"""Does each teacher of a school see and change the own charts and classes, and no others?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desks import Desk, empty_desk
from handed_out import CHART, form_for
from starlette.testclient import TestClient

from halfstep.app.tasks.account_tasks import THE_MACHINE, invite
from halfstep.school.accounts import AccountRole, account_named
from halfstep.school.sessions import begin_session

NAMES = {"Wilma": AccountRole.OWNER, "Otis": AccountRole.TEACHER, "Nell": AccountRole.TEACHER}


@pytest.fixture
def school(tmp_path: Path) -> Iterator[dict[str, TestClient]]:
    """The browsers of an owner and two teachers, each of whom has a class with one player."""
    with empty_desk(tmp_path / "data") as desk:
        for name, role in NAMES.items():
            invite(desk.school, name, role, by=THE_MACHINE)
        browsers = {name: signed_in(desk, name) for name in NAMES}
        for name, player in (("Otis", "Ansel flute"), ("Nell", "Corin trumpet")):
            made = browsers[name].post("/classes", data={"name": f"{name} on Monday"})
            sent = {"players": player}
            assert browsers[name].post(f"{made.headers['location']}/players", data=sent).is_redirect
            title = f"title: {name} at Noon\n{CHART}"
            assert browsers[name].post("/charts", data={"text": title}).is_redirect
        yield browsers


def signed_in(desk: Desk, name: str) -> TestClient:
    with desk.school.writing() as connection:
        account = account_named(connection, name)
        assert account is not None
        return desk.visitor(begin_session(connection, account, "test"))


@pytest.mark.parametrize("path", ["/classes", "/hand-outs/new?chart=1", "/people"])
def test_a_list_has_the_own_and_no_others(school: dict[str, TestClient], path: str) -> None:
    otis = school["Otis"].get(path).text
    assert "Ansel" in otis or "Otis on Monday" in otis
    assert "Corin" not in otis
    assert "Nell on" not in otis
    owner = school["Wilma"].get(path).text
    assert "Corin" in owner or "Nell on" in owner


@pytest.mark.slow
def test_a_desk_has_what_waits_in_the_own_classes(school: dict[str, TestClient]) -> None:
    for name, number in (("Otis", 1), ("Nell", 2)):
        sent = form_for(number, whom=f"class-{number}")
        assert school[name].post("/hand-outs", data=sent).is_redirect
    assert "Otis on Monday" in school["Otis"].get("/desk").text
    assert "Nell on Monday" not in school["Otis"].get("/desk").text
    assert "Phones in the room" not in school["Otis"].get("/desk").text
    assert "Nell on Monday" in school["Wilma"].get("/desk").text


def test_charts_are_their_maker_s(school: dict[str, TestClient]) -> None:
    assert "Nell at Noon" not in school["Otis"].get("/charts").text
    assert school["Otis"].get("/charts/2").status_code == 404
    assert school["Nell"].get("/charts/2").status_code == 200
    assert school["Wilma"].get("/charts/2").status_code == 200
    numbers = [one["number"] for one in school["Otis"].get("/api/charts").json()["charts"]]
    assert numbers == [1]


@pytest.mark.parametrize(
    "changed",
    [{"chart": "2"}, {"whom": "class-2"}, {"whom": "student-2"}],
    ids=["another's chart", "another's class", "another's player"],
)
def test_nothing_is_handed_out_across(
    school: dict[str, TestClient], changed: dict[str, str]
) -> None:
    sent = form_for(1, whom="class-1") | changed
    assert school["Otis"].post("/hand-outs", data=sent).status_code in {404, 422}
    assert school["Wilma"].get("/api/classes/2/hand-outs").json() == {"hand_outs": []}


@pytest.mark.parametrize(
    "sent",
    [
        {"chart": 2, "class_number": 1},
        {"chart": 1, "class_number": 2},
        {"chart": 1, "student": 2},
        {"chart": 1, "student": 1, "line": 1},
    ],
)
def test_no_body_reaches_across(school: dict[str, TestClient], sent: dict[str, int]) -> None:
    assert school["Otis"].post("/api/hand-outs", json=sent).status_code == 404
    line = {"chart": 2, "step": "scale", "level": "beginner"}
    assert school["Otis"].post("/api/lines", json=line).status_code == 404


def test_a_player_is_taken_into_no_class_by_who_does_not_teach_it(
    school: dict[str, TestClient],
) -> None:
    otis = school["Otis"]
    joined = otis.post("/api/classes/1/students", json={"name": "Corin"})
    assert joined.status_code == 404
    listed = otis.post("/classes/1/players", data={"players": "Corin trumpet"})
    assert listed.status_code == 422
    assert (
        school["Wilma"].post("/api/classes/1/students", json={"name": "Corin"}).status_code == 200
    )
    assert otis.get("/students/2").status_code == 200


def test_a_teacher_takes_a_player_out_of_the_own_class_alone(
    school: dict[str, TestClient],
) -> None:
    school["Wilma"].post("/api/classes/1/students", json={"name": "Corin"})
    facts = {"name": "Corin", "instrument": "trumpet", "level": "advanced"}
    assert school["Otis"].post("/students/2", data=facts).is_redirect
    assert school["Otis"].get("/students/2").status_code == 404
    assert school["Nell"].get("/students/2").status_code == 200


def test_guardians_are_let_in_and_given_links_by_who_teaches_their_players(
    school: dict[str, TestClient],
) -> None:
    greta = {"name": "Greta", "role": "guardian", "player": "2"}
    assert school["Otis"].post("/people", data=greta).status_code == 404
    assert school["Nell"].post("/people", data=greta).status_code == 200
    number = 4
    for act in ("link", "end"):
        assert school["Otis"].post(f"/people/{number}/{act}").status_code == 404
    assert "Greta" not in school["Otis"].get("/people").text
    assert school["Nell"].post(f"/people/{number}/link").status_code == 200


def test_an_owner_says_who_teaches_a_class(school: dict[str, TestClient]) -> None:
    assert school["Nell"].get("/classes/1").status_code == 404
    sent = {"teachers": ["2", "3", "1", "99", "x"]}
    assert school["Wilma"].post("/classes/1/teachers", data=sent).is_redirect
    assert school["Nell"].get("/classes/1").status_code == 200
    assert school["Wilma"].post("/classes/1/teachers", data={"teachers": ["3"]}).is_redirect
    assert school["Otis"].get("/classes/1").status_code == 404
    assert school["Otis"].post("/classes/1/teachers", data=sent).status_code == 403


def test_a_job_is_seen_by_who_asked_for_it(school: dict[str, TestClient]) -> None:
    asked = {"request": "read-chart", "fields": {"chart": CHART}}
    job = school["Otis"].post("/api/jobs", json=asked).json()["number"]
    assert school["Otis"].get(f"/api/jobs/{job}").status_code == 200
    assert school["Nell"].get(f"/api/jobs/{job}").status_code == 404
