"""Does the desk say what waits, does the demo come once and go whole, and is a calendar one?

The calendar is read by the rules of RFC 5545: lines that end in CR and LF and have 75 octets at
most (3.1), text with its escapes (3.3.11), and what an event must have (3.6.1).
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from desks import Desk
from handed_out import chart_of, form_for, made, small_lesson
from sqlalchemy import insert

from fresh_schools import fresh_school
from halfstep.app.tasks.demo_tasks import CLASS_NAME, make_demo, remove_demo
from halfstep.app.web.calendar_feed import CalendarDay, calendar_text
from halfstep.school.classes import every_class
from halfstep.school.hand_outs import latest_hand_out
from halfstep.school.invitations import withdraw
from halfstep.school.kept_charts import change_chart, every_chart
from halfstep.school.students import every_student
from halfstep.school.tables import metadata, sent_takes


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)


def in_days(days: int) -> str:
    return (date.today() + timedelta(days=days)).isoformat()


# The desk


@pytest.mark.slow
def test_the_desk_says_what_is_due_and_who_has_sent_nothing(desk: Desk) -> None:
    teacher, chart = desk.teacher(), chart_of(desk)
    for days in (3, -30):
        teacher.post("/hand-outs", data=form_for(chart, due_on=in_days(days)))
    made(desk)
    take = {"student_id": 1, "hand_out_id": 1, "source": "a", "file": "1/a.wav", "name": "a.wav"}
    with desk.school.writing() as connection:
        connection.execute(insert(sent_takes), take | {"sent_at": datetime.now(UTC)})
    text = teacher.get("/desk").text
    assert text.count("Two Roads") == 1
    assert "1 of 3 sent a take. Nothing yet from Corin, Dilys." in text
    assert "1 could not be made" in text
    assert re.search(r'href="/takes/1">Ansel</a>', text)


def test_an_empty_desk_says_where_to_begin(tmp_path: Path) -> None:
    with fresh_school(tmp_path / "data") as school:
        text = Desk(school).teacher().get("/desk").text
    assert "Add a class and its players" in text


# The demo


@pytest.mark.slow
def test_the_first_start_makes_a_demo_once_and_it_goes_whole(tmp_path: Path) -> None:
    with fresh_school(tmp_path / "data") as school:
        assert make_demo(school)
        assert not make_demo(school)
        desk = Desk(school)
        teacher = desk.teacher()
        assert "Ansel" in teacher.get("/classes/1").text
        assert "0 of 4 sheets are there" in teacher.get("/hand-outs/1").text
        made(desk)
        assert "This is a demo" in teacher.get("/desk").text
        assert teacher.post("/demo/remove").headers["location"] == "/desk"
        assert "This is a demo" not in teacher.get("/desk").text
        assert not make_demo(school)
        with school.reading() as connection:
            left = {
                table.name
                for table in metadata.sorted_tables
                if connection.exec_driver_sql(f"SELECT count(*) FROM {table.name}").scalar()
            }
        assert left == {"demo_things", "erasures"}  # marks of who goes, which say nothing
        assert list((school.folder / "made").iterdir()) == []


@pytest.mark.slow
def test_who_and_what_is_the_teacher_s_own_by_then_stays(tmp_path: Path) -> None:
    with fresh_school(tmp_path / "data") as school:
        make_demo(school)
        teacher = Desk(school).teacher()
        teacher.post("/students/4/erase")
        teacher.post("/classes/1/players", data={"players": "Edda flute"})
        with school.writing() as connection:
            change_chart(connection, 1, title="Mine", text="| C6 | G7 |", scales="")
        remove_demo(school)
        with school.reading() as connection:
            assert [student.name for student in every_student(connection)] == ["Edda"]
            assert [chart.title for chart in every_chart(connection)] == ["Mine"]
            assert every_class(connection) == ()
            assert latest_hand_out(connection) is None


def test_who_has_a_class_already_gets_no_demo(desk: Desk) -> None:
    assert not make_demo(desk.school)
    with desk.school.reading() as connection:
        assert CLASS_NAME not in [one.name for one in every_class(connection)]


# The calendar


def unfolded(text: str) -> list[str]:
    """The lines of a calendar, put together again."""
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    lines = text.removesuffix("\r\n").split("\r\n")
    assert all(len(line.encode()) <= 75 for line in lines)
    return "\r\n".join(lines).replace("\r\n ", "").split("\r\n")


def values(lines: list[str], name: str) -> list[str]:
    """All values of a property, as text."""
    found = [re.fullmatch(rf"{name}(?:;[^:]*)?:(.*)", line) for line in lines]
    texts = [match[1] for match in found if match]
    return [
        re.sub(r"\\(.)", lambda sign: "\n" if sign[1] in "nN" else sign[1], text) for text in texts
    ]


@pytest.mark.parametrize(
    "words",
    [
        "",
        "one line",
        "two\nlines; with, marks \\ and “quotes”",
        "ü" * 200,
        "x" * 300,
        "🎷" * 40,
        "a\rb\tc\x07d",
    ],
)
def test_a_calendar_holds_any_words(words: str) -> None:
    day = CalendarDay(
        name="hand-out-1@x",
        day=date(2026, 12, 31),
        title=words,
        words=words,
        address="http://localhost/week",
        changed_at=datetime(2026, 3, 2, 18, 30, tzinfo=UTC),
    )
    lines = unfolded(calendar_text("To play", [day]))
    shown = re.sub(r"[\r\t\x07]", " ", words)
    assert values(lines, "SUMMARY") == [shown]
    assert values(lines, "DESCRIPTION") == [shown] * bool(words)
    assert values(lines, "DTSTART") == ["20261231"]
    assert values(lines, "DTEND") == ["20270101"]
    assert values(lines, "DTSTAMP") == ["20260302T183000Z"]
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines.count("BEGIN:VEVENT") == lines.count("END:VEVENT") == 1
    assert "VERSION:2.0" in lines
    assert len(values(lines, "PRODID")) == 1


def calendar_of(page: str) -> str:
    """The path of the calendar on a page."""
    (path,) = set(re.findall(r"localhost:8765(/calendar/[^\"]+)\"", page))
    return path


@pytest.mark.slow
def test_teacher_and_player_have_a_calendar_each(desk: Desk) -> None:
    teacher, chart = desk.teacher(), chart_of(desk)
    teacher.post("/hand-outs", data=form_for(chart, due_on=in_days(9)))
    teacher.post("/hand-outs", data=form_for(chart, whom="student-3", due_on=in_days(10)))
    teacher.post("/hand-outs", data=form_for(chart, due_on=""))
    path = calendar_of(teacher.get("/desk").text)
    answer = desk.visitor().get(path)
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    lines = unfolded(answer.text)
    assert set(values(lines, "SUMMARY")) == {"Room Twelve: Two Roads", "Dilys: Two Roads"}
    assert len(set(values(lines, "UID"))) == 2
    own = unfolded(desk.visitor().get(calendar_of(desk.student("Ansel").get("/week").text)).text)
    assert values(own, "DTSTART") == [in_days(9).replace("-", "")]
    assert set(values(own, "UID")) < set(values(lines, "UID"))
    assert unfolded(desk.visitor().get(path).text) == lines


@pytest.mark.slow
def test_a_calendar_s_word_opens_nothing_else_and_ends_with_its_link(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    path = calendar_of(ansel.get("/week").text)
    word = path.removeprefix("/calendar/").removesuffix(".ics")
    assert desk.visitor(word).get("/week").status_code == 403
    assert desk.visitor().get(f"/in/{word}").status_code == 403
    for wrong in ("1-x", "desk-x", "x", f"2{word[1:]}"):
        assert desk.visitor().get(f"/calendar/{wrong}.ics").status_code == 404
    with desk.school.writing() as connection:
        withdraw(connection, 1)
    assert desk.visitor().get(path).status_code == 404
