"""Does a class go away with its term, and its players on to the next?"""

from __future__ import annotations

import re

import pytest
from desks import Desk
from handed_out import chart_of, form_for

from halfstep.school.classes import archived_classes, every_class, students_of
from halfstep.school.leavers import left_at

LISTS = ("/desk", "/hand-outs/new?chart=1", "/api/classes", "/students/1")
"""Where a class stands that is not put away."""


@pytest.fixture
def given(desk: Desk) -> Desk:
    """Something is due in Room Twelve, and all come in by its link."""
    teacher = desk.teacher()
    assert teacher.post("/hand-outs", data=form_for(chart_of(desk))).is_redirect
    assert teacher.post("/classes/1/door").is_redirect
    return desk


def classes(desk: Desk) -> tuple[list[str], list[str]]:
    with desk.school.reading() as connection:
        found = every_class(connection), archived_classes(connection)
    return tuple([one.name for one in some] for some in found)  # type: ignore[return-value]


def left(desk: Desk) -> list[bool]:
    with desk.school.reading() as connection:
        return [left_at(connection, number) is not None for number in (1, 2, 3)]


@pytest.mark.slow
def test_a_class_is_put_away_and_taken_out_again(given: Desk) -> None:
    teacher = given.teacher()
    (door,) = re.findall(r'localhost:8765(/in/[^"]+)"', teacher.get("/classes/1").text)
    shown = {path: teacher.get(path).text for path in LISTS}
    assert all("Room Twelve" in text for text in shown.values())
    assert teacher.post("/classes/1/away").headers["location"] == "/classes/1"
    assert classes(given) == ([], ["Room Twelve"])
    assert not [path for path in LISTS if "Room Twelve" in teacher.get(path).text]
    assert "Put away" in teacher.get("/classes").text
    assert "Ansel" in teacher.get("/classes").text, "who is in no class now"
    assert given.visitor().get(door).status_code == 403
    assert left(given) == [True] * 3
    assert teacher.post("/classes/1/away").status_code == 422
    assert teacher.post("/classes/1/players", data={"players": "Marit flute"}).status_code == 422
    assert "Add players" not in teacher.get("/classes/1").text
    assert teacher.post("/classes/1/back").headers["location"] == "/classes/1"
    assert classes(given) == (["Room Twelve"], [])
    assert left(given) == [False] * 3
    assert {path: teacher.get(path).text for path in LISTS} == shown


def test_its_players_and_teachers_go_on_as_the_class_of_the_next_term(given: Desk) -> None:
    teacher = given.teacher()
    answer = teacher.post("/classes/1/away", data={"name": "Room Twelve, spring"})
    assert answer.headers["location"] == "/classes/2"
    assert classes(given) == (["Room Twelve, spring"], ["Room Twelve"])
    with given.school.reading() as connection:
        names = [[one.name for one in students_of(connection, number)] for number in (1, 2)]
    assert names == [["Ansel", "Corin", "Dilys"]] * 2
    assert left(given) == [False] * 3
    taken = teacher.post("/classes/2/away", data={"name": "room twelve"})
    assert (taken.status_code, "there is a class room twelve already" in taken.text) == (422, True)
    assert classes(given) == (["Room Twelve, spring"], ["Room Twelve"])
