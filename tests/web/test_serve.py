"""Does `halfstep serve` start, say where it is, and stop?"""

from __future__ import annotations

import os
import re
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import HTTPCookieProcessor, build_opener

import httpx2
import pytest
from desks import new_desk
from handed_out import chart_of, form_for, made, short_recording, small_lesson
from starlette.applications import Starlette

from halfstep.app.web.phone_door import OpenDoor, page_server
from halfstep.app.web.serve import ServeSite, greeting
from halfstep.app.web.visit import COOKIE
from halfstep.school.database import School
from halfstep.school.jobs import jobs_of
from halfstep.school.sent_takes import sent_takes_of

pytestmark = pytest.mark.slow


def test_a_line_stays_open_for_longer_than_a_proxy_keeps_its_own() -> None:
    """A minute: common practice, no source."""
    assert page_server(Starlette(), None).config.timeout_keep_alive > 60


@contextmanager
def serving(folder: Path, *options: str) -> Iterator[tuple[subprocess.Popen[str], list[str]]]:
    """The program with its pages, and what it printed before it was ready."""
    command = [sys.executable, "-m", "halfstep", "serve", "--no-browser", "--port", "0"]
    process = subprocess.Popen(
        [*command, "--data", str(folder), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    assert process.stdout
    lines = []
    try:
        for line in process.stdout:
            lines.append(line.rstrip())
            if line.startswith("stop with"):
                break
        yield process, lines
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.communicate(timeout=20)


@pytest.mark.parametrize("told", [signal.SIGINT, signal.SIGTERM])
def test_it_prints_one_address_that_opens_the_desk_and_stops_when_told(
    tmp_path: Path, told: signal.Signals
) -> None:
    with serving(tmp_path / "data") as (process, lines):
        addresses = re.findall(r"http://\S+", "\n".join(lines))
        assert len(addresses) == 1
        with build_opener(HTTPCookieProcessor()).open(addresses[0]) as answer:
            assert (answer.status, answer.url.endswith("/desk")) == (200, True)
        process.send_signal(told)
        _, err = process.communicate(timeout=20)
    assert process.returncode == 0
    assert err == ""


def test_a_port_that_is_taken_is_one_line(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        with serving(tmp_path / "data", "--port", port) as (process, lines):
            _, err = process.communicate(timeout=20)
    assert lines == []
    assert err.startswith(f"halfstep: --port {port} at 127.0.0.1:")
    assert err.count("\n") == 1
    assert process.returncode == 2


@pytest.mark.parametrize("port", ["x", "-1", "65536", "٣"])
def test_a_port_that_is_none_is_one_line(tmp_path: Path, port: str) -> None:
    with serving(tmp_path / "data", f"--port={port}") as (process, _):
        _, err = process.communicate(timeout=20)
    assert "give a number up to 65535" in err
    assert err.count("\n") == 1


def test_phones_are_shown_the_way_where_they_can_come_in(tmp_path: Path) -> None:
    request = ServeSite(tmp_path, host="0.0.0.0")
    lines = list(greeting(request, OpenDoor("http://192.0.2.7:8765"), "desk-word"))
    assert any("█" in line for line in lines), "a QR code"
    assert any(line.startswith("phones in the room: http://192.0.2.7:8765") for line in lines)


def test_phones_of_the_only_class_come_in_by_its_link(tmp_path: Path) -> None:
    request = ServeSite(tmp_path, host="0.0.0.0")
    door = OpenDoor("http://192.0.2.7:8765")
    lines = list(greeting(request, door, "desk-word", room="/in/1-word"))
    assert "phones in the room: http://192.0.2.7:8765/in/1-word" in lines
    assert any("no microphone" in line and "--tls" in line for line in lines)


def test_behind_a_proxy_no_address_is_shown_that_leads_past_it(tmp_path: Path) -> None:
    request = ServeSite(tmp_path, host="0.0.0.0", behind_proxy="172.18.0.0/16")
    lines = list(greeting(request, OpenDoor("http://192.0.2.7:8765"), "desk-word"))
    assert "by the proxy: its address, and then /in/desk-word" in lines
    assert not any("phones" in line for line in lines)


def test_with_a_certificate_of_its_own_it_serves_by_tls_and_says_what_phones_are_told(
    tmp_path: Path,
) -> None:
    pytest.importorskip("cryptography", reason="the optional group of pages is not installed")
    with serving(tmp_path / "data", "--host", "0.0.0.0", "--tls") as (_, lines):
        (shown,) = re.findall(r"the desk: https://\S+:([0-9]+)(/in/\S+)", "\n".join(lines))
        trusts = ssl.create_default_context(cafile=tmp_path / "data" / "tls.pem")
        with httpx2.Client(verify=trusts, follow_redirects=True) as browser:
            answer = browser.get(f"https://127.0.0.1:{shown[0]}{shown[1]}")
        assert (answer.status_code, answer.url.path) == (200, "/desk")
        assert [cookie.secure for cookie in browser.cookies.jar] == [True]
    assert any("warned once" in line for line in lines)


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (["--tls", "none.pem", "none.pem"], "--tls: cannot read none.pem: No such file"),
        (["--tls", "one.pem"], "--tls: give the files of a certificate and of its key, or neither"),
        (["--behind-proxy", "somewhere"], "--behind-proxy somewhere: give the proxy's address"),
    ],
)
def test_what_cannot_be_served_with_is_one_line(
    tmp_path: Path, options: list[str], fault: str
) -> None:
    pytest.importorskip("cryptography", reason="the optional group of pages is not installed")
    with serving(tmp_path / "data", *options) as (process, lines):
        _, err = process.communicate(timeout=20)
    assert lines == []
    assert fault in err
    assert err.count("\n") == 1
    assert process.returncode == 2


def test_a_killed_server_loses_no_take_that_it_acknowledged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "data"
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
    with new_desk(folder) as desk:
        desk.teacher().post("/hand-outs", data=form_for(chart_of(desk)))
        made(desk)
        word = desk.players_word("Ansel")
    with serving(folder) as (process, lines):
        (desk_address,) = re.findall(r"http://\S+", "\n".join(lines))
        base = desk_address.partition("/in/")[0]
        with httpx2.Client(base_url=base, cookies={COOKIE: word}, timeout=60) as browser:
            file = {"take": ("take.wav", short_recording(), "audio/wav")}
            answer = browser.post("/week/1/take", data={"step": "arpeggio"}, files=file)
        process.kill()
        assert answer.status_code == 303
    with School(folder) as school, school.reading() as connection:
        (take,) = sent_takes_of(connection, 1)
        assert (school.folder / "takes" / take.file).read_bytes() == short_recording()
        assert len(jobs_of(connection, f"sent-take {take.number}")) == 1
