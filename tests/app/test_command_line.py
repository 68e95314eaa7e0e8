"""The command line itself: help, versions, lists, and what it loads."""

from __future__ import annotations

import ast
import gc
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

import halfstep
from app.app_command import Command, contents
from halfstep.app import demo
from halfstep.app.terminal.command_line import COMMANDS, command_module, command_parser, main, run
from halfstep.instruments import INSTRUMENTS


def with_chords(name: str) -> list[str]:
    """The examples of a command that need no file."""
    return [line for line in command_module(name).EXAMPLES if "|" in line]


HEAVY = ("numpy", "verovio", "typst", "symusic", "rich", "defusedxml")


@pytest.mark.parametrize("arguments", [("--help",), ("lesson", "--help"), ("--version",)])
def test_help_and_version_end_well(
    arguments: tuple[str, ...], command: Command, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="0"):
        command(*arguments)
    said = capsys.readouterr()
    assert said.err == ""
    assert ("usage: halfstep" in said.out) != (said.out == f"halfstep {halfstep.__version__}\n")


@pytest.mark.parametrize(("before", "after"), [(None, "1"), ("4", "4")])
def test_the_program_reckons_on_one_core_unless_told_otherwise(
    before: str | None, after: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Threads that wait for small matrices take a quarter of a lesson's time."""
    monkeypatch.setattr(os, "environ", {"OPENBLAS_NUM_THREADS": before} if before else {})
    monkeypatch.setattr(gc, "set_threshold", lambda _: None)
    monkeypatch.setattr(gc, "freeze", lambda: None)
    with pytest.raises(SystemExit, match="0"):
        run(["--version"])
    assert os.environ["OPENBLAS_NUM_THREADS"] == after


@pytest.mark.parametrize("arguments", [(), ("help",), ("help", "lesson")])
def test_without_a_command_the_help_is_shown(
    arguments: tuple[str, ...], command: Command, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="0"):
        command(*arguments)
    screen = capsys.readouterr()
    assert screen.err == ""
    assert screen.out.startswith("usage: halfstep")
    if len(arguments) < 2:
        assert [name for name in COMMANDS if f"\n    {name}" not in screen.out] == []
    else:
        assert screen.out.startswith("usage: halfstep lesson")


@pytest.mark.parametrize("name", COMMANDS)
def test_help_has_examples_that_the_parser_reads(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="0"):
        main([name, "--help"])
    examples = capsys.readouterr().out.split("\nexamples:\n")[1].split("\n\n")[0].splitlines()
    assert len(examples) >= 2
    if name == "completion":
        return
    for example in examples:
        program, command_name, *arguments = shlex.split(example)
        assert (program, command_name) == ("halfstep", name)
        command_parser(name).parse_args(arguments)


@pytest.mark.parametrize(
    "example",
    [line for name in ("chart", "changes", "etude") for line in with_chords(name)],
)
def test_an_example_with_chords_works(example: str, command: Command) -> None:
    ran = command(*shlex.split(example)[1:])
    assert (ran.status, ran.err) == (0, "")


def test_help_names_every_option(command: Command, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        command("lesson", "--help")
    text = capsys.readouterr().out
    options = (
        "--for", "--steps", "--key", "--tempo", "--feel", "--level", "--seed", "--paper", "--short",
        "--midi-band",
    )  # fmt: skip
    assert [option for option in (*options, "--out") if option not in text] == []


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("arguments", "needed"),
    [
        (["--help"], []),
        (["lesson", "--for", "list"], []),
        (["lesson", "| C |", "--loud"], []),
        (["lesson", "| Q |"], ["numpy"]),
        (["lesson", "| C |", "--key", "H"], ["numpy"]),
    ],
)
def test_nothing_heavy_is_loaded_before_it_is_needed(
    arguments: list[str], needed: list[str], home: Path
) -> None:
    program = (
        "import sys\nfrom halfstep.app.terminal.command_line import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=True
    )
    assert set(ast.literal_eval(ran.stdout.splitlines()[-1])) <= set(needed)
    assert contents(home) == {}


def test_the_list_of_instruments_has_them_all(command: Command, home: Path) -> None:
    ran = command("lesson", "--for", "list")
    assert (ran.status, ran.err) == (0, "")
    assert [line.split()[0] for line in ran.out.splitlines()[:-1]] == list(INSTRUMENTS)
    assert contents(home) == {}


@pytest.mark.slow
def test_without_a_chart_the_class_of_the_demo_gets_its_lesson(quick: Command, home: Path) -> None:
    ran = quick("--steps", "1")
    assert (ran.status, ran.err) == (0, "")
    for player in demo.PLAYERS:
        instrument = player.partition(":")[0]
        assert (home / "lesson" / f"step-1-{instrument}.musicxml").is_file()


@pytest.mark.slow
def test_the_list_of_files_names_folder_and_kinds(command: Command, home: Path) -> None:
    ran = command("lesson", "| Dm7 | G7 |", "--steps", "1", "--for", "flute", "--out", "out")
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert lines[0].startswith("The lesson is in out")
    assert [line.split()[0] for line in lines[1:]] == ["handouts", "parts", "midi", "sound", "data"]
    assert (home / "out" / "step-1.m4a").is_file()


def test_a_closed_pipe_is_no_fault(home: Path) -> None:
    """``halfstep lesson --for list | head -1`` ends without a word."""
    with subprocess.Popen(
        [sys.executable, "-m", "halfstep", "lesson", "--for", "list"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=home,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(60) == 0
