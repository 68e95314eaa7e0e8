"""What does who watches over a server see, and of whom does it see nothing?

The format is that of the Prometheus project ("Exposition formats", version 0.0.4); its own reader
reads ours.
"""

from __future__ import annotations

import json
from urllib.request import urlopen

import pytest
from desks import ADDRESS, Desk
from prometheus_client.parser import text_string_to_metric_families
from starlette.testclient import TestClient

from free_ports import free_port
from halfstep.app.log_lines import VARIABLE, log_job, log_request
from halfstep.app.metrics import RequestNumbers, metrics_address, metrics_at
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.app.web.site import desk_site
from halfstep.app.web.visit import COOKIE
from halfstep.errors import BriefError
from halfstep.school.invitations import desk_word
from halfstep.school.jobs import add_job


@pytest.mark.slow
def test_numbers_of_jobs_takes_and_answers_are_there_for_who_asks(desk: Desk) -> None:
    with desk.school.writing() as connection:
        add_job(connection, "sent-take 1", "{}")
        add_job(connection, "hand-out 1", "{}")
    work_once(Workplace(desk.school, "ada"))
    numbers, port = RequestNumbers(), free_port()
    browser = TestClient(desk_site(desk.school, told=[numbers.tell]), ADDRESS)
    browser.cookies.set(COOKIE, desk_word(desk.secret))
    for path in ("/students/1", "/students/2", "/health", "/none/Ansel"):
        browser.get(path)
    with metrics_at(str(port), desk.school, numbers):
        text = urlopen(f"http://127.0.0.1:{port}/metrics").read().decode()
    found = {
        (sample.name, *sorted(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }
    assert found["halfstep_database_up",] == 1
    assert found["halfstep_jobs", "failed", "listen"] == 1
    assert found["halfstep_jobs", "make", "waiting"] == 1
    assert found["halfstep_oldest_waiting_seconds", "listen"] == 0
    assert found["halfstep_answers_total", "/students/{number:int}", "200", "GET"] == 2
    assert found["halfstep_answers_total", "404", "GET", "none"] == 1
    assert "Ansel" not in text


def test_a_line_for_each_answer_and_each_job_has_nobody_in_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with desk.school.writing() as connection:
        add_job(connection, "hand-out 1", "{}", student="Ansel")
    work_once(Workplace(desk.school, "ada", tell=log_job))
    log_request("GET", "/", 200, 0.01)
    assert capsys.readouterr().err == "", "nothing unless it is asked for"
    monkeypatch.setenv(VARIABLE, "json")
    with desk.school.writing() as connection:
        add_job(connection, "hand-out 2", "{}", student="Ansel")
    work_once(Workplace(desk.school, "ada", tell=log_job))
    browser = TestClient(desk_site(desk.school, told=[log_request]), ADDRESS)
    browser.get("/in/a-secret-word?name=Ansel")
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    job, request = lines
    assert {**job, "at": "", "waited_ms": 0, "took_ms": 0, "number": 0} == {
        "at": "", "what": "job", "number": 0, "kind": "hand-out", "state": "failed",
        "attempts": 1, "waited_ms": 0, "took_ms": 0,
    }  # fmt: skip
    assert (request["method"], request["route"]) == ("GET", "/in/{word}")
    assert not {"Ansel", "secret"} & set(json.dumps(lines).replace("-", " ").split())


@pytest.mark.parametrize(
    ("typed", "place"),
    [("9100", ("127.0.0.1", 9100)), ("10.0.0.5:9100", ("10.0.0.5", 9100))],
)
def test_an_address_is_on_this_machine_unless_another_is_given(
    typed: str, place: tuple[str, int]
) -> None:
    assert metrics_address(typed) == place


@pytest.mark.parametrize("typed", ["", "high", "0", "70000", "10.0.0.5"])
def test_what_is_no_port_is_one_line(typed: str) -> None:
    with pytest.raises(BriefError, match="give a port"):
        metrics_address(typed)
