"""Does a player find this week's sheets, hear them, and send a take that is kept?"""

from __future__ import annotations

import re
from datetime import date, timedelta

import pypdfium2
import pytest
from desks import Desk
from handed_out import chart_of, form_for, made, short_recording, small_lesson

from halfstep.school.sent_takes import SentTake, sent_takes_of


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)


@pytest.fixture
def given(desk: Desk) -> Desk:
    """A desk that has handed out a chart to its class."""
    desk.teacher().post("/hand-outs", data=form_for(chart_of(desk)))
    return desk


def sent(desk: Desk) -> tuple[SentTake, ...]:
    """What Ansel sent."""
    with desk.school.reading() as connection:
        return sent_takes_of(connection, 1)


def test_sheets_stand_there_when_they_are_made(given: Desk) -> None:
    ansel = given.student("Ansel")
    text = ansel.get("/week").text
    assert "It is being made" in text
    assert 'data-swap-from="/week"' in text
    made(given)
    text = ansel.get("/week").text
    assert "Slowly first." in text
    assert 'src="/sheets/1/step-1-alto-sax.svg"' in text
    assert 'src="/sheets/1/step-1.m4a"' in text
    assert 'src="/sheets/1/backing.m4a"' in text
    assert "/sheets/1/handout-alto-sax.pdf" in text
    assert "Ask at home before you send one" in text
    assert "85 dBA" in text


def test_who_could_not_get_one_is_told_so_without_a_word_of_the_program(given: Desk) -> None:
    made(given)
    text = given.student("Corin").get("/week").text
    assert "your teacher sees why" in text
    assert "rules leave no note" not in text


@pytest.mark.slow
def test_sheets_stand_by_their_day_and_old_ones_below(desk: Desk) -> None:
    chart, teacher = chart_of(desk), desk.teacher()
    for days in (9, -20, 2):
        due = (date.today() + timedelta(days=days)).isoformat()
        teacher.post("/hand-outs", data=form_for(chart, due_on=due, note=f"in {days} days"))
    made(desk)
    text = desk.student("Ansel").get("/week").text
    assert re.findall(r"in (-?\d+) days", text) == ["2", "9"]
    assert "<h2>Before</h2>" in text


def test_a_take_is_kept_once_and_acknowledged(given: Desk) -> None:
    made(given)
    ansel = given.student("Ansel")
    form = {"step": "arpeggio"}
    for _ in range(2):
        file = {"take": ("../Küche 1.WAV", short_recording(), "audio/wav")}
        answer = ansel.post("/week/1/take", data=form, files=file)
        assert answer.headers["location"] == "/week#sheet-1"
    (take,) = sent(given)
    assert (take.name, take.hand_out) == ("Küche 1.WAV", 1)
    assert (given.school.folder / "takes" / take.file).read_bytes() == short_recording()
    assert "Küche 1.WAV</a> is with your teacher" in ansel.get("/week").text
    with given.school.reading() as connection:
        request = connection.exec_driver_sql(
            "SELECT request FROM jobs WHERE belongs_to = 'sent-take 1'"
        ).scalar_one()
    assert '"arpeggio"' in request


@pytest.mark.parametrize(
    ("files", "line"),
    [
        ({}, "choose a recording first"),
        ({"take": ("take.wav", b"no sound", "audio/wav")}, "is not a recording that can be read"),
        ({"take": ("notes.txt", b"", "text/plain")}, "WAV, FLAC, MP3, M4A and OGG can"),
    ],
)
def test_what_is_no_recording_is_one_line_at_its_field(
    given: Desk, files: dict[str, tuple[str, bytes, str]], line: str
) -> None:
    made(given)
    answer = given.student("Ansel").post("/week/1/take", data={"step": ""}, files=files)
    assert answer.status_code == 422
    assert re.search(rf'id="take-fault-1">.*Your recording.*{line}', answer.text)
    assert sent(given) == ()


@pytest.mark.slow
def test_a_full_disk_acknowledges_nothing(given: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    made(given)
    monkeypatch.setattr("halfstep.school.kept_files.os.fsync", full)
    file = {"take": ("take.wav", short_recording(), "audio/wav")}
    answer = given.student("Ansel").post("/week/1/take", files=file)
    assert answer.status_code == 422
    assert "No space left" in answer.text
    assert sent(given) == ()


def test_a_disk_that_cannot_take_what_is_sent_is_one_line(
    given: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: object, __: bytes) -> None:
        raise OSError(28, "No space left on device")

    made(given)
    ansel = given.student("Ansel")
    monkeypatch.setattr("starlette.datastructures.UploadFile.write", full)
    answer = ansel.post(
        "/week/1/take", files={"take": ("take.wav", short_recording(), "audio/wav")}
    )
    assert answer.status_code == 507
    assert "the disk refuses it: No space left on device; nothing was kept" in answer.text


def test_takes_are_sent_for_own_sheets_alone(given: Desk) -> None:
    given.teacher().post("/hand-outs", data=form_for(1, whom="student-3"))
    made(given)
    file = {"take": ("take.wav", short_recording(), "audio/wav")}
    assert given.student("Ansel").post("/week/2/take", files=file).status_code == 404
    assert given.teacher().post("/week/1/take", files=file).status_code == 403
    assert given.visitor().get("/week").status_code == 403


@pytest.mark.slow
def test_the_week_is_a_page_to_take_home_for_its_player_and_the_teacher(desk: Desk) -> None:
    """Boxes, tempi to come to and a line for who listened at home; no score, no count of days."""
    ansel = desk.student("Ansel")
    assert 'href="/students/1/week.pdf"' in ansel.get("/week").text
    for browser in (ansel, desk.teacher()):
        answer = browser.get("/students/1/week.pdf")
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.headers["content-disposition"].startswith("inline")
        pdf = pypdfium2.PdfDocument(answer.content)
        assert len(pdf) == 1
        text = pdf[0].get_textpage().get_text_range()
        assert "Ansel" in text
        assert "guardian" in text
        assert re.search(r"♩ = \d+", text)
    assert desk.student("Dilys").get("/students/1/week.pdf").status_code == 404
