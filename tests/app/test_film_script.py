"""Does `halfstep film --script` write what a teacher films by, and say in a line what it cannot?"""

from __future__ import annotations

from pathlib import Path

import pytest

from app.app_command import Command

CHART = "| Am7 | D7 | Gmaj7 | % |"


@pytest.mark.slow
def test_a_step_of_a_chart_has_its_folder(command: Command, home: Path) -> None:
    options = ("--step", "cells", "--for", "trumpet", "--choruses", "1", "--talk", "20")
    ran = command("film", CHART, "--script", *options, "--out", "monday")
    assert (ran.status, ran.err) == (0, "")
    names = [Path(line).name for line in ran.out.splitlines()]
    assert {path.name for path in (home / "monday").iterdir()} == set(names)
    assert (home / "monday/running-order.vtt").read_text("utf-8").startswith("WEBVTT")
    assert "0:20 Title and count-in" in (home / "monday/description.txt").read_text("utf-8")


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (("--step", "3", "--talk", "4"), "--talk goes with --script; leave it out"),
        (("--step", "3", "--paper", "a4"), "--paper goes with --script; leave it out"),
        (("--script",), "--step: say which one is filmed"),
        (("--script", "--step", "3", "--talk", "x"), "--talk 'x': give seconds, such as 30"),
        (("--script", "--step", "3", "--talk", "-1"), "--talk -1: give 0 to 600 seconds"),
        (("--script", "--step", "3", "--overlay"), "--overlay goes with a film, not with --script"),
        (("--script", "--step", "3", "--out", "a.txt"), "give --out the name of a folder"),
    ],
)
def test_what_it_cannot_do_is_one_line(
    command: Command, home: Path, options: tuple[str, ...], line: str
) -> None:
    (home / "a.txt").write_text("mine", "utf-8")
    ran = command("film", CHART, *options)
    assert ran.status != 0
    assert line in ran.err
    assert ran.err.count("\n") == 1
    assert [path.name for path in home.iterdir()] == ["a.txt"]
