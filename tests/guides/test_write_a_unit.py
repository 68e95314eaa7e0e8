"""The guide "Write a unit of a course" is followed to the letter."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from halfstep.app.terminal.command_line import main
from halfstep.course.course_folder import our_course

GUIDE = (Path(__file__).resolve().parents[2] / "docs/guides/write-a-unit.md").read_text("utf-8")
UNIT, ORDER = re.findall(r"^```toml\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
(FAULT,) = re.findall(r"^```text\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
COMMANDS = re.findall(r"^    halfstep (course .*)$", GUIDE, re.MULTILINE)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the guide, with its unit before anything is mended."""
    monkeypatch.chdir(tmp_path)
    made = tmp_path / "my-course"
    made.mkdir()
    (made / "held-bass.toml").write_text(UNIT, "utf-8")
    return made


def mend(folder: Path) -> None:
    """What the guide says to change."""
    (folder / "held-bass.toml").write_text(UNIT.replace("three-bags", "one-four-five"), "utf-8")


def test_what_is_wrong_is_told_as_the_guide_shows_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(COMMANDS[0].split()) == 2
    assert capsys.readouterr().out == FAULT
    mend(folder)
    assert main(COMMANDS[0].split()) == 0
    assert f"{len(our_course().units) + 1} units, nothing is wrong" in capsys.readouterr().out


def test_the_unit_is_shown_and_stands_on_the_map(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mend(folder)
    assert [command.split()[1] for command in COMMANDS] == ["check", "show", "show"]
    assert main(COMMANDS[1].split()) == 0
    assert "You hear a chord change above a bass note" in capsys.readouterr().out
    assert main(COMMANDS[2].split()) == 0
    assert Path("map.pdf").stat().st_size > 10_000


def test_a_course_of_its_own_is_checked_for_what_it_leaves_out(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mend(folder)
    (folder / "course.toml").write_text(ORDER, "utf-8")
    assert main(COMMANDS[0].split()) == 2
    out = capsys.readouterr().out.splitlines()
    assert [line.split(";")[0] for line in out] == [
        "no unit serves style", "no unit serves creativity"
    ]  # fmt: skip
