"""Does a chart reach each player of a class, and is it seen, printed, saved, taken back?

Range requests are those of RFC 9110, section 14.
"""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from desks import Desk
from handed_out import SOUND, chart_of, form_for, made, small_lesson

from halfstep.services.make_lesson import MakeLesson
from halfstep.services.request_fields import Progress
from halfstep.services.request_files import RequestFiles
from halfstep.services.stored_requests import Request, read_request


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)


@pytest.fixture
def given(desk: Desk) -> Desk:
    """A desk that has handed out a chart to its class."""
    desk.teacher().post("/hand-outs", data=form_for(chart_of(desk)))
    return desk


def test_the_form_has_what_is_usual(desk: Desk) -> None:
    text = desk.teacher().get(f"/hand-outs/new?chart={chart_of(desk)}").text
    assert re.search(r'<option value="class-1" selected>Room Twelve', text)
    assert len(re.findall(r'name="steps" value="[^"]+" checked', text)) == 6
    assert 'value="84"' in text
    assert "Ansel alone" in text


def test_the_vocabulary_is_folded_away_until_something_of_it_is_chosen(desk: Desk) -> None:
    page = desk.teacher().get(f"/hand-outs/new?chart={chart_of(desk)}").text
    before, folded = page.split("<details>")
    assert 'value="chorus"' in before
    assert 'value="pentatonics"' in folded
    typed = form_for(chart_of(desk)) | {"steps": ["pentatonics"], "tempo_bpm": "fast"}
    assert "<details open>" in desk.teacher().post("/hand-outs", data=typed).text


@pytest.mark.slow
def test_two_clicks_lead_from_a_chart_to_everybody_s_sheet(given: Desk) -> None:
    page = given.teacher().get("/hand-outs/1")
    assert "0 of 3 sheets are there" in page.text
    assert 'data-swap-every="2"' in page.text
    made(given)
    page = given.teacher().get("/hand-outs/1")
    assert "2 of 3 sheets are there" in page.text
    assert "data-swap-every" not in page.text
    assert "level: its rules leave no note; choose another level" in page.text


def test_everybody_s_request_is_the_own(given: Desk) -> None:
    with given.school.reading() as connection:
        texts = connection.exec_driver_sql("SELECT request FROM jobs").scalars()
        requests = [read_request(text) for text in texts]
    assert all(isinstance(request, MakeLesson) for request in requests)
    players = {request.instruments for request in requests if isinstance(request, MakeLesson)}
    assert players == {
        ("alto-sax:intermediate",),
        ("tenor-sax:intermediate",),
        ("flute:intermediate",),
    }


@pytest.mark.parametrize(
    ("changed", "field", "line"),
    [
        ({"whom": "class-9"}, "whom", "choose a class or a student"),
        ({"steps": ""}, "steps", "choose one at least"),
        ({"tempo_bpm": "fast"}, "tempo_bpm", "is no number"),
        ({"tempo_bpm": "900"}, "tempo_bpm", "40 to 300"),
        ({"due_on": "soon"}, "due_on", "is no day"),
        ({"note": "x" * 4001}, "note", "4001 letters"),
        ({"key": "H"}, "", "H"),
    ],
)
def test_a_fault_stands_at_its_field_and_what_was_typed_stays(
    desk: Desk, changed: dict[str, str], field: str, line: str
) -> None:
    answer = desk.teacher().post("/hand-outs", data=form_for(chart_of(desk), **changed))
    assert answer.status_code == 422
    fault = rf'id="{field}-fault">' if field else 'role="alert">'
    assert re.search(rf"{fault}.*{line}", answer.text)
    assert changed.get("note", "Slowly first.") in answer.text


@pytest.mark.slow
def test_a_key_that_a_player_does_not_know_is_said(desk: Desk) -> None:
    teacher = desk.teacher()
    facts = {"name": "Ansel", "instrument": "alto-sax", "level": "beginner", "classes": "1"}
    for keys, is_said in (("C G", True), ("C D", False)):
        teacher.post("/students/1", data=facts | {"keys": keys})
        teacher.post("/hand-outs", data=form_for(chart_of(desk)))
        text = teacher.get(f"/hand-outs/{1 if is_said else 2}").text
        assert ("reads D major, knows C G" in text) == is_said


def test_what_is_not_as_asked_is_said_once(given: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def with_notices(
        request: Request, folder: Path, *, progress: Progress, **_: object
    ) -> RequestFiles:
        files = small_lesson(request, folder, progress=progress)
        assert isinstance(request, MakeLesson)
        return replace(files, notices=("of all", f"of {request.instruments[0]}"))

    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", with_notices)
    made(given)
    text = given.teacher().get("/hand-outs/1").text
    assert text.count(">of all<") == 1
    assert text.count(">of alto-sax:intermediate<") == 1


def test_one_player_alone_may_get_it(desk: Desk) -> None:
    teacher = desk.teacher()
    teacher.post("/hand-outs", data=form_for(chart_of(desk), whom="student-3"))
    assert "0 of 1 sheet is there" in teacher.get("/hand-outs/1").text
    assert "Two Roads" in teacher.get("/students/3").text
    assert "Two Roads" not in teacher.get("/students/1").text


def test_all_sheets_are_one_file_to_print_with_names(given: Desk) -> None:
    teacher = given.teacher()
    assert teacher.get("/hand-outs/1/class.pdf").status_code == 404
    made(given)
    answer = teacher.get("/hand-outs/1/class.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    texts = [page.get_textpage().get_text_range() for page in pdfium.PdfDocument(answer.content)]
    contents, *pages = texts
    assert re.search(r"Ansel\s+Alto saxophone\s+2\s+Dilys\s+Flute\s+3", contents)
    assert ["Ansel" in page for page in pages] == [True, False]
    assert ["Dilys" in page for page in pages] == [False, True]


@pytest.mark.slow
def test_the_set_is_one_archive_of_open_formats_and_always_the_same(given: Desk) -> None:
    made(given)
    teacher = given.teacher()
    first = teacher.get("/hand-outs/1/set.zip").content
    assert teacher.get("/hand-outs/1/set.zip").content == first
    archive = zipfile.ZipFile(io.BytesIO(first))
    assert archive.testzip() is None
    names = archive.namelist()
    assert "Two-Roads/001-Ansel-alto-sax/handout-alto-sax.pdf" in names
    assert archive.read("Two-Roads/001-Ansel-alto-sax/step-1.m4a") == SOUND
    assert {name.rpartition(".")[2] for name in names} == {"pdf", "svg", "musicxml", "m4a", "json"}
    assert not any("teacher" in name for name in names)


@pytest.mark.slow
def test_files_of_a_sheet_are_its_player_s_and_the_teacher_s(given: Desk) -> None:
    made(given)
    path = "/sheets/1/handout-alto-sax.pdf"
    assert given.student("Ansel").get(path).content.startswith(b"%PDF-")
    assert given.teacher().get(path).status_code == 200
    assert given.student("Dilys").get(path).status_code == 404
    assert given.visitor().get(path).status_code == 403
    for name in ("teacher.pdf", "..%2F..%2Fschool.sqlite3", "none.pdf", ".hidden"):
        assert given.student("Ansel").get(f"/sheets/1/{name}").status_code == 404


def test_a_part_of_a_sound_is_sent_where_it_is_asked_for(given: Desk) -> None:
    made(given)
    answer = given.student("Ansel").get("/sheets/1/step-1.m4a", headers={"range": "bytes=10-19"})
    assert (answer.status_code, answer.content) == (206, SOUND[10:20])
    assert answer.headers["content-range"] == f"bytes 10-19/{len(SOUND)}"
    assert answer.headers["content-type"] == "audio/mp4"


@pytest.mark.slow
def test_what_failed_is_made_as_the_player_is_now(given: Desk) -> None:
    made(given)
    teacher = given.teacher()
    facts = {"name": "Corin", "instrument": "tenor-sax", "level": "beginner", "classes": "1"}
    teacher.post("/students/2", data=facts)
    teacher.post("/hand-outs/1/again")
    made(given)
    assert "3 of 3 sheets are there" in teacher.get("/hand-outs/1").text


@pytest.mark.slow
def test_what_is_withdrawn_is_gone_for_all(given: Desk) -> None:
    made(given)
    ansel = given.student("Ansel")
    assert "Two Roads" in ansel.get("/week").text
    assert given.teacher().post("/hand-outs/1/withdraw").headers["location"] == "/desk"
    assert given.teacher().get("/hand-outs/1").status_code == 404
    assert "Two Roads" not in ansel.get("/week").text
    assert ansel.get("/sheets/1/handout-alto-sax.pdf").status_code == 404
    assert list((given.school.folder / "made").iterdir()) == []


@pytest.mark.parametrize("path", ["/hand-outs/1", "/hand-outs/1/class.pdf", "/hand-outs/1/set.zip"])
def test_the_desk_s_pages_are_the_teacher_s(given: Desk, path: str) -> None:
    assert given.student("Ansel").get(path).status_code == 403
