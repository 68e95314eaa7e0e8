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


@pytest.mark.slow
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


@pytest.mark.slow
def test_a_copy_is_made_compared_and_given_back(school: Command, home: Path) -> None:
    copied = school("backup", "copies")
    assert copied.out.startswith("copied: 2 rows and ")
    (folder,) = (home / "copies").iterdir()
    assert school("verify", str(folder)).out == f"{folder} is whole\n"
    given = school("restore", str(folder), "--data", "again")
    assert given.out.splitlines() == [
        "given back to again, compared row by row and file by file",
        "whoever is known to have been erased since the copy was made is erased here as well",
    ]
    assert "the same as again" in school("verify", str(folder), "--data", "again").out
    school("invite", "Wilma", "--as", "owner", "--data", "again")
    differs = school("verify", str(folder), "--data", "again")
    assert differs.status == 2
    assert "accounts has other rows" in differs.err


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
        (("invite",), "needs a NAME"),
        (("dance",), "invite"),
        (("backup", "copies", "--keep", "none"), "--keep"),
        (("verify", "copies"), "is no backup"),
        (("restore", "copies", "--data", "."), "not empty"),
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


def test_how_long_things_are_kept_is_listed_chosen_and_carried_out(school: Command) -> None:
    lines = school("settings").out.splitlines()
    assert lines[0].startswith("consent-age: 16 years (13 to 16); age of consent: from this age on")
    assert school("choose", "consent-age", "--to", "14").out == "consent-age: 14\n"
    assert school("settings").out.startswith("consent-age: 14 years")
    assert school("tidy").out == "gone: 0 recordings, 0 takes, 0 players\n"
    for arguments, line in (
        (("choose", "consent-age", "--to", "12"), "consent-age '12': give 13 to 16 years"),
        (("choose", "consent-ag"), "there is no such setting; did you mean consent-age?"),
        (("choose", "time-zone", "--to", "Mars/Base"), "there is no such time zone"),
        (("choose",), "halfstep school choose needs a NAME"),
    ):
        ran = school(*arguments)
        assert ran.status == 2
        assert line in ran.err
        assert ran.err.count("\n") == 1
