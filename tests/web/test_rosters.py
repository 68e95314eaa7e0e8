"""Do the players of a class come out as a table and in again, whole or not at all?"""

from __future__ import annotations

import csv
import io

import pytest
from desks import Desk
from starlette.testclient import TestClient

from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.school.classes import join_class, students_of
from halfstep.school.students import Student

HEAD = "nickname,instrument,level,known notes,keys,print,minutes\n"


def players(desk: Desk) -> dict[str, Student]:
    with desk.school.reading() as connection:
        return {one.name: one for one in students_of(connection, 1)}


def take_in(desk: Desk, text: str | bytes) -> tuple[int, str]:
    data = text if isinstance(text, bytes) else text.encode()
    answer = desk.teacher().post("/classes/1/roster", files={"roster": ("class.csv", data)})
    return answer.status_code, answer.text


def saved(teacher: TestClient) -> list[dict[str, str]]:
    answer = teacher.get("/classes/1/roster.csv")
    assert answer.headers["content-disposition"].startswith("attachment; filename=Room-Twelve.csv")
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_what_is_saved_is_taken_in_again_and_changes_nothing(desk: Desk) -> None:
    before = players(desk)
    assert take_in(desk, desk.teacher().get("/classes/1/roster.csv").content)[0] == 303
    assert players(desk) == before


def test_rows_change_and_add_players_and_take_nobody_out(desk: Desk) -> None:
    table = "Nickname;Level;Instrument;Minutes\n\nansel;advanced;Alto saxophone;45\nMarit;;flute;\n"
    assert take_in(desk, b"\xef\xbb\xbf" + table.encode())[0] == 303
    kept = players(desk)
    assert set(kept) == {"ansel", "Corin", "Dilys", "Marit"}
    assert (kept["ansel"].minutes, str(kept["ansel"].level), kept["ansel"].number) == (
        45, "advanced", 1,
    )  # fmt: skip
    assert (kept["Marit"].minutes, str(kept["Marit"].level)) == (30, "beginner")


def test_every_bad_row_has_one_line_and_nothing_is_taken(desk: Desk) -> None:
    before = players(desk)
    with desk.school.writing() as connection:
        connection.exec_driver_sql("DELETE FROM members WHERE student_id = 3")
    table = HEAD + (
        "Marit,flute,,,,,\n"
        "Nobody,kazoo,,,,,\n"
        ",flute,,,,,\n"
        "Late,flute,begin,,,,\n"
        "Long,flute,,,,,much\n"
        "marit,flute,,,,,\n"
        "Dilys,flute,,,,,\n"
        "Wide,flute,,,,,30,more\n"
    )
    status, text = take_in(desk, table)
    assert status == 422
    for line in (
        "line 3: no instrument is called",
        "line 4: nickname",
        "line 5: level",
        "line 6: minutes",
        "line 7: nickname: marit stands in line 2 already",
        "line 8: there is a Dilys already who is not in this class",
        "line 9: it has 8 cells; the first row has 7",
    ):
        assert f"<li>{line}" in text, line
    assert text.count("<li>line") == 7
    del before["Dilys"]
    assert players(desk) == before


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "it is empty"),
        (b"nickname,level\nAda,beginner\n", "instrument is missing"),
        (b"nickname,instrument,shoe size\n", "&#39;shoe size&#39; is none"),
        (b"nickname,instrument,keys,keys\n", "one stands twice"),
        (b"nickname,instrument\n\xff\xfe\n", "save it as CSV in UTF-8"),
        (b"nickname,instrument\n" + b"A,flute\n" * 201, "201 rows; give 200 or less"),
        (b"x" * 200_001, "give 200000 or less"),
        (b'nickname,instrument\n"' + b"A" * 140_000, "this is no table"),
    ],
)
def test_what_is_no_table_is_one_line(desk: Desk, data: bytes, line: str) -> None:
    status, text = take_in(desk, data)
    assert (status, text.count("Not yet:")) == (422, 1)
    assert line in text
    assert len(players(desk)) == 3


@pytest.mark.slow
def test_no_cell_is_a_formula_and_it_is_read_back_as_it_was(desk: Desk) -> None:
    """The signs that begin one: OWASP, "CSV Injection", from memory."""
    names = ["=1+1", "@sum", "+1", "-1", "'=x", "＝1"]
    for name in names:
        keep_student(desk.school, AddStudent(name, "flute"))
        with desk.school.writing() as connection:
            join_class(connection, 1, name)
    teacher = desk.teacher()
    cells = [cell for row in saved(teacher) for cell in row.values()]
    assert not [cell for cell in cells if cell.startswith(tuple("=+-@＝"))]
    before = players(desk)
    assert take_in(desk, teacher.get("/classes/1/roster.csv").content)[0] == 303
    assert players(desk) == before
