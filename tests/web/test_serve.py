"""Does `halfstep serve` start, say where it is, and stop?"""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

from halfstep.app.web.serve import ServeSite, greeting

pytestmark = pytest.mark.slow


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
    lines = list(greeting(request, "http://192.0.2.7:8765", "desk-word"))
    assert any("█" in line for line in lines), "a QR code"
    assert any(line.startswith("phones in the room: http://192.0.2.7:8765") for line in lines)
