"""``halfstep school``: letting people in from the machine itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.app_command import Command
from halfstep.school.data_folder import VARIABLE


@pytest.fixture
def school(command: Command, home: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    """``halfstep school`` with a data folder of its own."""
    monkeypatch.setenv(VARIABLE, str(home / "data"))
    command("student", "add", "Odile", "--for", "flute")
    return lambda *arguments: command("school", *arguments)


def test_people_are_let_in_listed_given_links_and_let_out(school: Command) -> None:
    assert "one teacher's desk" in school("people").out
    assert "/join/" in school("invite", "Wilma", "--as", "owner").out
    assert "/join/" in school("invite", "Otis", "--as", "teacher").out
    assert "/join/" in school("invite", "Greta", "--as", "guardian", "--player", "odile").out
    assert school("people").out.splitlines() == [
        "Greta: guardian, has not come yet",
        "Otis: teacher, has not come yet",
        "Wilma: owner, has not come yet",
    ]
    assert school("link", "otis").out != school("link", "otis").out
    assert school("end", "Otis").out == "Otis signs in no more\n"
    assert "Otis" not in school("people").out


@pytest.mark.parametrize(
    ("typed", "line"),
    [
        (("invite", "Otis"), "--as"),
        (("invite", "Otis", "--as", "king"), "choose from owner, teacher, guardian, student"),
        (("invite", "Otis", "--as", "guardian"), "--player"),
        (("invite", "Otis", "--as", "guardian", "--player", "Bram"), "Bram"),
        (("invite", "wilma", "--as", "teacher"), "give another name"),
        (("link", "Otis"), "does not sign in here; there are Wilma"),
        (("end", "Wilma"), "only owner"),
        (("invite",), "needs the NAME"),
        (("dance",), "invite"),
    ],
)
def test_what_cannot_be_done_is_one_line(
    school: Command, typed: tuple[str, ...], line: str
) -> None:
    school("invite", "Wilma", "--as", "owner")
    refused = school(*typed)
    assert refused.status == 2
    assert line in refused.err
    assert len(refused.err.splitlines()) == 1
