"""Does the program answer other programs as it says it does?

The description is an OpenAPI 3.1 document. schemathesis, a general tester of such descriptions,
makes requests from it, right ones and wrong ones, and holds every answer against it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from desks import ADDRESS, Desk, new_desk
from handed_out import chart_of, made, small_lesson
from hypothesis import HealthCheck, settings
from hypothesis import given as cases
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    allow_header_conformance,
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from test_takes import send

from app.test_hear_command import take_file
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.app.web.api_operations import OPERATIONS
from halfstep.app.web.site import desk_site
from halfstep.school.invitations import desk_word

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "12"))
CHART = "| Dm7 | G7 | Cmaj7 | A7 |"
CHECKS = [
    not_a_server_error, status_code_conformance, content_type_conformance,
    response_schema_conformance, allow_header_conformance,
]  # fmt: skip


@pytest.fixture(scope="module")
def shared_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with new_desk(tmp_path_factory.mktemp("api") / "data") as made:
        given(made)
        send(made)
        yield made


def given(desk: Desk) -> int:
    """Something that is handed out, and is not made yet."""
    body = {"chart": chart_of(desk), "class_number": 1, "steps": "arpeggio", "note": "Slowly."}
    number: int = desk.teacher().post("/api/hand-outs", json=body).json()["hand_out"]
    return number


def word_for(desk: Desk, operation: Any) -> str:
    """The word of who may do it: takes are a player's own to send."""
    if not operation.takes_file:
        return desk_word(desk.secret)
    return desk.players_word("Ansel")


@pytest.mark.slow
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: f"{one.method} {one.path}")
def test_every_answer_is_as_described(shared_desk: Desk, operation: Any) -> None:
    site = desk_site(shared_desk.school, names=("testserver",))
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", site)
    described = schema[operation.path][operation.method]
    bearer = {"authorization": f"Bearer {word_for(shared_desk, operation)}"}

    @settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck), deadline=None)
    @cases(case=st.one_of(described.as_strategy(), described.as_strategy(_mode("negative"))))
    def hold(case: Any) -> None:
        case.call_and_validate(base_url=ADDRESS, headers=bearer, checks=CHECKS)

    hold()


def _mode(name: str) -> Any:
    return schemathesis.GenerationMode(name)


def test_the_description_has_every_operation_once(desk: Desk) -> None:
    described = desk.visitor().get("/api/openapi.json").json()
    names = [one["operationId"] for path in described["paths"].values() for one in path.values()]
    assert sorted(names) == sorted({operation.act.__name__ for operation in OPERATIONS})
    assert described["openapi"] == "3.1.0"


def test_a_player_sees_the_own_row(desk: Desk) -> None:
    assert desk.student("Ansel").get("/api/students/1").json()["name"] == "Ansel"


def test_a_chart_is_read_explained_and_written_over(desk: Desk) -> None:
    teacher = desk.teacher()
    assert teacher.post("/api/read-chart", json={"chart": CHART}).json()["chart"]["key"] == "C"
    explained = teacher.post("/api/explain-chart", json={"chart": CHART, "instrument": "alto-sax"})
    assert explained.json()["instrument"] == "alto-sax"
    etude = teacher.post("/api/write-etude", json={"chart": CHART, "step": "scale"}).json()
    assert etude["format"] == "halfstep-etude"


@pytest.mark.parametrize(
    ("body", "line"),
    [
        ({"chart": "| Xm7 |", "step": "scale"}, "X"),
        ({"chart": CHART, "step": "scale", "bank": "/etc/hostname"}, "bank cannot be sent"),
        ({"chart": {"file": "/etc/hostname"}, "step": "scale"}, "its fields are text"),
        ({"chart": CHART, "step": "leap"}, "step"),
        ({"chart": CHART, "step": "scale", "seed": "one"}, "seed"),
        ({"chart": CHART}, "needs its field step"),
    ],
)
def test_a_wrong_request_is_one_line(desk: Desk, body: dict[str, Any], line: str) -> None:
    answer = desk.teacher().post("/api/write-etude", json=body)
    assert answer.status_code == 422
    assert line in answer.json()["error"]
    assert "\n" not in answer.json()["error"]


@pytest.mark.parametrize("sent", [b"", b"{", b"[]", b"[" * 100_000, b"\xff", b'"x"', b"NaN"])
def test_a_damaged_body_is_one_line(desk: Desk, sent: bytes) -> None:
    answer = desk.teacher().post("/api/classes", content=sent)
    assert answer.status_code == 422
    assert "send one" in answer.json()["error"]


def test_a_body_without_end_is_refused(desk: Desk) -> None:
    answer = desk.teacher().post("/api/classes", content=b" " * 2_000_001)
    assert "too long" in answer.json()["error"]


@pytest.mark.slow
def test_a_lesson_is_made_beside_the_page_and_fetched(desk: Desk) -> None:
    teacher = desk.teacher()
    fields = {"chart": CHART, "instruments": ["alto-sax"], "steps": "scale"}
    answer = teacher.post("/api/jobs", json={"request": "make-lesson", "fields": fields})
    assert answer.status_code == 202, answer.text
    number = answer.json()["number"]
    assert answer.json()["state"] == "waiting"
    work_once(Workplace(desk.school, "tester"))
    job = teacher.get(f"/api/jobs/{number}").json()
    assert job["state"] == "done", json.dumps(job)
    place = 1 + next(n for n, name in enumerate(job["files"]) if name.endswith(".pdf"))
    assert teacher.get(f"/api/jobs/{number}/files/{place}").content.startswith(b"%PDF")
    assert teacher.get(f"/api/jobs/{number}/files/9999").status_code == 404


@pytest.mark.slow
def test_the_whole_way_is_walked_by_a_program(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recording = tmp_path.joinpath(take_file(tmp_path / "kitchen.wav")).read_bytes()
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
    teacher, ansel = desk.teacher(), desk.student("Ansel")
    number = given(desk)
    made(desk)
    (sheet,) = ansel.get("/api/students/1/sheets").json()["sheets"]
    assert (sheet["hand_out"], sheet["note"]) == (number, "Slowly.")
    assert ansel.get(sheet["files"][0]).status_code == 200
    path = f"/api/hand-outs/{number}/takes"
    sent = ansel.post(path, params={"name": "Küche.wav"}, content=recording)
    assert sent.status_code == 201, sent.text
    take = sent.json()["number"]
    body = {"words": "Sing bar 2 first.", "marks": {"tone": 3}}
    assert teacher.post(f"/api/takes/{take}/answer", json=body).status_code == 200
    (heard,) = ansel.get("/api/students/1/takes").json()["takes"]
    assert (heard["name"], heard["words"]) == ("Küche.wav", "Sing bar 2 first.")
    calendar = ansel.get(ansel.get("/api/calendar").json()["path"])
    assert calendar.text.startswith("BEGIN:VCALENDAR")


@pytest.mark.parametrize(
    ("name", "sent", "line"),
    [
        ("", b"RIFF", "what the recording is called"),
        ("take.wav", b"", "not a recording that can be read"),
        ("take.wav", b"no sound", "not a recording that can be read"),
        ("../../take.wav\0", b"no sound", "recording"),
        ("\N{MUSICAL SYMBOL G CLEF}.\N{GUITAR}", b"no sound", "recording"),
    ],
)
def test_what_is_no_recording_is_one_line(desk: Desk, name: str, sent: bytes, line: str) -> None:
    number = given(desk)
    path = f"/api/hand-outs/{number}/takes"
    answer = desk.student("Ansel").post(path, params={"name": name}, content=sent)
    assert answer.status_code == 422
    assert line in answer.json()["error"]
    assert "\n" not in answer.json()["error"]


@pytest.mark.slow
def test_another_players_work_is_not_shown(desk: Desk) -> None:
    number, take = given(desk), send(desk)
    corin = desk.student("Corin")
    for path in (
        "/api/students/1",
        "/api/students/1/sheets",
        "/api/students/1/takes",
        f"/api/takes/{take}",
    ):
        assert corin.get(path).status_code == 404
        assert desk.visitor().get(path).status_code == 403
    assert desk.visitor().get("/api/calendar").status_code == 403
    for path in (f"/api/hand-outs/{number}", "/api/takes", "/api/charts"):
        assert corin.get(path).status_code == 403
    assert corin.post(f"/api/takes/{take}/answer", json={"words": "Good"}).status_code == 403


@pytest.mark.parametrize("number", [0, -1, 2**31, 2**63, 10**400])
def test_a_number_of_nothing_is_one_line(desk: Desk, number: int) -> None:
    for path, field in (("lines", "chart"), ("hand-outs", "class_number"), ("hand-outs", "line")):
        body = {"chart": chart_of(desk), "step": "scale"} if path == "lines" else {"chart": 1}
        answer = desk.teacher().post(f"/api/{path}", json=body | {field: number})
        assert answer.status_code in {404, 422}, answer.text
        assert "\n" not in answer.json()["error"]
