"""Does a server say that it is there, and whether it can work?"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import NoReturn

import pytest
from desks import Desk

from halfstep.errors import StoreAway, StoreError
from halfstep.school.data_folder import DATABASE_FILE
from halfstep.school.database import School


def test_a_server_that_can_work_says_so_to_anybody(desk: Desk) -> None:
    for path, said in (("/health", "well"), ("/ready", "ready")):
        answer = desk.visitor().get(path)
        assert (answer.status_code, answer.text) == (200, said)


def test_a_server_whose_database_is_gone_is_there_and_cannot_work(desk: Desk) -> None:
    browser = desk.visitor()
    for file in desk.school.folder.glob(f"{DATABASE_FILE}*"):
        file.unlink()
    desk.school.folder.joinpath(DATABASE_FILE).write_bytes(b"no database" * 1000)
    desk.school.__exit__()  # what was open is not asked any more
    assert browser.get("/health").status_code == 200
    answer = browser.get("/ready")
    assert answer.status_code == 503
    assert len(answer.text.splitlines()) == 1


@pytest.mark.parametrize("path", ["/desk", "/api/students", "/charts/1", "/ready"])
def test_a_database_that_is_away_is_said_with_when_to_come_again(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    """RFC 9110, 15.6.4 and 10.2.3: nothing is wrong with what was asked, or with the disk."""

    def reading(_: School) -> NoReturn:
        raise StoreAway("no database answers there; is it started?")

    teacher = desk.teacher()
    monkeypatch.setattr(School, "reading", reading)
    answer = teacher.get(path)
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "5")
    assert "no database answers there" in answer.text


@pytest.mark.slow
def test_a_database_that_another_holds_on_to_is_away_and_a_damaged_one_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("halfstep.school.file_database._ON_CONNECT", ("PRAGMA busy_timeout = 0",))
    with School(tmp_path) as school:
        other = sqlite3.connect(tmp_path / DATABASE_FILE, isolation_level=None)
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StoreAway, match="close that and try again"), school.writing():
            pass
        other.close()
    tmp_path.joinpath(DATABASE_FILE).write_bytes(b"no database" * 1000)
    with pytest.raises(StoreError) as damaged:
        School(tmp_path)
    assert not isinstance(damaged.value, StoreAway)
