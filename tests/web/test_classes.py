"""Can a teacher bring in a class, let it in, change it, and let a student go?

Names and lists are invented.
"""

from __future__ import annotations

import io
import re
import zipfile

import pytest
from desks import Desk
from handed_out import chart_of, form_for

from halfstep.app.tasks.class_tasks import players_listed
from halfstep.errors import BriefError
from halfstep.school.classes import every_class, students_of
from halfstep.school.jobs import JobState, jobs_in_state
from halfstep.school.students import every_student


def names(desk: Desk, number: int = 1) -> list[str]:
    """Who is in a class."""
    with desk.school.reading() as connection:
        return [student.name for student in students_of(connection, number)]


@pytest.mark.slow
def test_a_class_is_made_and_removed_and_its_players_stay(desk: Desk) -> None:
    teacher = desk.teacher()
    assert teacher.post("/classes", data={"name": "Mondays"}).headers["location"] == "/classes/2"
    assert "Mondays" in teacher.get("/classes").text
    assert teacher.post("/hand-outs", data=form_for(chart_of(desk))).status_code == 303
    assert teacher.post("/classes/1/remove").headers["location"] == "/classes"
    with desk.school.reading() as connection:
        assert [one.name for one in every_class(connection)] == ["Mondays"]
        assert len(every_student(connection)) == 3
        assert jobs_in_state(connection, *JobState) == (), "what was handed out goes"
    assert "In no class" in teacher.get("/classes").text
    assert teacher.get("/classes/1").status_code == 404


def test_a_name_that_is_taken_stands_in_its_field_with_its_line(desk: Desk) -> None:
    answer = desk.teacher().post("/classes", data={"name": "room twelve"})
    assert answer.status_code == 422
    assert 'value="room twelve"' in answer.text
    assert "there is a class room twelve already" in answer.text


@pytest.mark.parametrize(
    ("line", "name", "instrument", "level"),
    [
        ("Ansel alto-sax beginner", "Ansel", "alto-sax", "beginner"),
        ("Ada Lind, flute, advanced", "Ada Lind", "flute", "advanced"),
        ("Bo;Alto Saxophone;INTERMEDIATE", "Bo", "alto-sax", "intermediate"),
        ("  Mary  Jane\ttrombone ", "Mary Jane", "trombone", "beginner"),
    ],
)
def test_a_line_of_a_list_is_read_as_people_write_it(
    line: str, name: str, instrument: str, level: str
) -> None:
    ((_, request),) = players_listed(line)
    assert (request.name, request.instrument, request.level) == (name, instrument, level)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "is empty"),
        ("Ansel alto-sax\nBo sackbutt", "line 2: 'Bo sackbutt' has no name with an instrument"),
        ("flute", "line 1"),
        ("Bo flute\nbo flute", "line 2: bo stands in line 1 already"),
        ("Bo flute\n" * 201, "201 lines; give 200 or less"),
    ],
)
def test_a_list_that_cannot_be_read_names_the_line(text: str, line: str) -> None:
    with pytest.raises(BriefError) as refused:
        players_listed(text)
    assert line in str(refused.value)


def test_many_players_come_at_once_all_or_none(desk: Desk) -> None:
    teacher = desk.teacher()
    wrong = teacher.post("/classes/1/players", data={"players": "Edda flute\nCorin tuba"})
    assert wrong.status_code == 422
    assert "The list line 2" in wrong.text
    assert "Edda flute" in wrong.text
    assert names(desk) == ["Ansel", "Corin", "Dilys"]
    teacher.post("/classes/1/players", data={"players": "Ansel alto-sax\nEdda flute\n"})
    assert names(desk) == ["Ansel", "Corin", "Dilys", "Edda"]


def test_one_player_is_added_with_notes_and_keys(desk: Desk) -> None:
    teacher = desk.teacher()
    typed = {"name": "Edda", "instrument": "flute", "level": "beginner", "known_notes": "G4 A9x"}
    wrong = teacher.post("/classes/1/player", data=typed)
    assert wrong.status_code == 422
    assert re.search(r'id="known_notes-fault".*A9x', wrong.text)
    teacher.post("/classes/1/player", data=typed | {"known_notes": "G4 A4", "keys": "C G"})
    assert "knows G4 A4" in teacher.get("/classes/1").text


def test_a_player_moves_between_classes_and_changes(desk: Desk) -> None:
    teacher = desk.teacher()
    teacher.post("/classes", data={"name": "Mondays"})
    facts = {"name": "Ansel B", "instrument": "tenor-sax", "level": "advanced", "classes": "2"}
    assert teacher.post("/students/1", data=facts).headers["location"] == "/students/1"
    assert names(desk) == ["Corin", "Dilys"]
    assert names(desk, 2) == ["Ansel B"]
    assert "Tenor saxophone, advanced" in teacher.get("/students/1").text
    wrong = teacher.post("/students/1", data=facts | {"name": "corin"})
    assert "there is a corin already" in wrong.text


def test_links_are_made_shown_as_squares_and_withdrawn(desk: Desk) -> None:
    teacher = desk.teacher()
    teacher.post("/classes/1/door")
    shown = teacher.get("/classes/1").text
    (path,) = set(re.findall(r"/in/[^\"]+", shown))
    assert desk.visitor().get(path).status_code == 200
    squares = teacher.get("/invitations/1/link.svg")
    assert squares.headers["content-type"] == "image/svg+xml"
    assert squares.text.startswith("<svg")
    assert teacher.post("/invitations/1/withdraw").headers["location"] == "/classes/1"
    assert desk.visitor().get(path).status_code == 403
    assert teacher.get("/invitations/1/link.svg").status_code == 404


def test_a_page_has_a_link_for_each_to_print(desk: Desk) -> None:
    teacher = desk.teacher()
    assert teacher.post("/classes/1/links").headers["location"] == "/classes/1/links"
    text = teacher.get("/classes/1/links").text
    paths = re.findall(r"localhost:8765(/in/[^<]+)<", text)
    assert len(set(paths)) == 3
    assert text.count("Opens on 3 devices, until") == 3
    assert [desk.visitor().post(path).headers["location"] for path in paths] == ["/room"] * 3


@pytest.mark.slow
def test_a_student_is_saved_whole_and_erased_in_two_steps(desk: Desk) -> None:
    teacher = desk.teacher()
    saved = zipfile.ZipFile(io.BytesIO(teacher.get("/students/1/export.zip").content))
    assert "Ansel/student.json" in saved.namelist()
    assert "no byte of it stays" in teacher.get("/students/1/erase").text
    assert names(desk) == ["Ansel", "Corin", "Dilys"]
    assert teacher.post("/students/1/erase").headers["location"] == "/classes"
    assert names(desk) == ["Corin", "Dilys"]
    assert teacher.get("/students/1").status_code == 404


@pytest.mark.parametrize(
    "path", ["/classes", "/classes/1", "/classes/1/links", "/students/1", "/settings"]
)
def test_a_student_sees_nothing_of_the_desk(desk: Desk, path: str) -> None:
    assert desk.student("Ansel").get(path).status_code == 403


@pytest.mark.slow
def test_the_link_of_who_was_erased_never_lets_somebody_in_as_another(desk: Desk) -> None:
    teacher = desk.teacher()
    teacher.post("/students/3/door")
    (old,) = re.findall(r'localhost:8765(/in/[^"]+)"', teacher.get("/students/3").text)
    teacher.post("/students/3/erase")
    teacher.post("/students/1/door")
    (new,) = re.findall(r'localhost:8765(/in/[^"]+)"', teacher.get("/students/1").text)
    assert old != new
    assert desk.visitor().get(old).status_code == 403
    assert "Are you Ansel?" in desk.visitor().get(new).text
