"""What a shell completes: everything that the parsers know, tried in bash, zsh and fish."""

from __future__ import annotations

import argparse
import shutil
import subprocess
from pathlib import Path

import pytest

from app.app_command import Command
from halfstep.app.terminal.command_line import COMMANDS, command_parser
from halfstep.app.terminal.completion_command import words_of
from halfstep.etude.steps import STEPS
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level

SHELLS = ("bash", "zsh", "fish")
FREE = {
    "chart", "tune", "reading", "out", "folder", "tempo_bpm", "seed", "known_notes", "low", "high",
    "kept_bars", "kept_from", "line", "take", "backing", "lesson", "etude", "start_s", "words",
    "tempi", "choruses", "bank", "count_in_bars", "intro_bars", "line_start_s", "talk_s",
    "data", "minutes", "name", "day", "course", "number", "page",
    "called", "player", "keep", "to", "workers", "host", "port", "tls", "behind_proxy",
    "metrics",
}  # fmt: skip
"""Arguments that take any text, number or file."""


def arguments_of(command: str) -> list[argparse.Action]:
    return [action for action in command_parser(command).options if action.nargs != 0]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_argument_has_its_words_or_takes_anything(command: str) -> None:
    """A new option must be put in one of the two lists."""
    without = {action.dest for action in arguments_of(command) if not words_of(action)}
    assert without <= FREE


@pytest.mark.parametrize("shell", SHELLS)
def test_a_script_has_every_command_option_and_word(shell: str, command: Command) -> None:
    ran = command("completion", shell)
    assert (ran.status, ran.err) == (0, "")
    for name in COMMANDS:
        assert name in ran.out
        for action in command_parser(name).options:
            for option in action.option_strings:
                dashes = len(option) - len(option.lstrip("-"))
                fish = f"-{'ls'[dashes == 1]} {option[dashes:]} "
                assert option in ran.out or fish in ran.out
            for word in words_of(action):
                assert word in ran.out


def completed(script: Path, *typed: str) -> list[str]:
    """What bash offers for the last word that was typed."""
    program = (
        'source "$1"; shift; COMP_WORDS=(halfstep "$@"); COMP_CWORD=$#; _halfstep; '
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    ran = subprocess.run(
        ["bash", "--norc", "-c", program, "bash", str(script), *typed],
        capture_output=True, text=True, timeout=30, check=True,
    )  # fmt: skip
    assert ran.stderr == ""
    return ran.stdout.split()


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash here")
@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        (("",), [*COMMANDS, "help"]),
        (("ch",), ["chart", "changes"]),
        (("--v",), ["--version"]),
        (("lesson", "| C |", "--le"), ["--level"]),
        (("lesson", "| C |", "--level", ""), list(map(str, Level))),
        (("changes", "| C |", "--for", "a"), [key for key in INSTRUMENTS if key[0] == "a"]),
        (("chart", "| C |", "--for", "b"), ["baritone-sax", "bass-clarinet", "bb", "bass-clef"]),
        (("etude", "--step", "c"), [step.name for step in STEPS if step.name[0] == "c"]),
        (("etude", "--low", ""), []),
        (("completion", ""), list(SHELLS)),
        (("lesson", ""), []),
    ],
)
def test_bash_offers_what_may_stand_there(
    typed: tuple[str, ...], offers: list[str], command: Command, tmp_path: Path
) -> None:
    script = tmp_path / "halfstep.bash"
    script.write_text(command("completion", "bash").out, encoding="utf-8")
    assert completed(script, *typed) == offers


LINES = {
    "halfstep ch": ("chart", "changes"),
    "halfstep lesson x --le": ("--level",),
    "halfstep lesson x --level ": tuple(map(str, Level)),
    "halfstep changes x --for t": ("tenor-sax", "trumpet", "trombone"),
    "halfstep chart x --for b": ("baritone-sax", "bass-clarinet", "bb", "bass-clef"),
    "halfstep etude x --step c": ("call-and-response", "cells", "chorus"),
    "halfstep completion ": SHELLS,
}
"""What is typed, and all that may follow."""
KNOWN = {word for offers in LINES.values() for word in offers} | {*COMMANDS, *INSTRUMENTS}
IN_ZSH = r"""
zmodload zsh/zpty
script=$1; shift
zpty z env TERM=dumb zsh -f -i
zpty -w z "stty cols 400 rows 100; autoload -U compinit; compinit -u -D"
zpty -w z "source ${(q)script}; PROMPT='<REA''DY>'"
zpty -r z out '*<READY>*'
for line; do
  zpty -w -n z "$line"$'\x04\x15'"echo DO''NE"$'\n'
  zpty -r z out '*DONE*<READY>*'
  print -rN -- "$out"
done
zpty -d z
"""
"""A terminal that lists the choices of each line (Ctrl-D); what it shows, ended by a zero.

Nothing is typed before the prompt: until then the terminal takes Ctrl-D for the end."""


def of_shell(shell: str, program: str, script: Path, *lines: str) -> str:
    """What a shell without a user's own settings prints."""
    plain = {"zsh": "-f", "fish": "--no-config"}[shell]
    name = ["zsh"] if shell == "zsh" else []
    ran = subprocess.run(
        [shell, plain, "-c", program, *name, script, *lines],
        capture_output=True, text=True, timeout=60, check=True, cwd=script.parent,
    )  # fmt: skip
    assert ran.stderr == ""
    return ran.stdout


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("zsh") is None, reason="there is no zsh here")
def test_zsh_offers_what_may_stand_there(command: Command, tmp_path: Path) -> None:
    """In a terminal of its own: it completes nowhere else."""
    script = tmp_path / "script"
    script.write_text(command("completion", "zsh").out, encoding="utf-8")
    screens = of_shell("zsh", IN_ZSH, script, *LINES).split("\0")
    for (line, offers), screen in zip(LINES.items(), screens, strict=False):
        typed = {*line.split()}
        assert {*screen.split()} & KNOWN - typed == {*offers} - typed, line


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("fish") is None, reason="there is no fish here")
def test_fish_offers_what_may_stand_there(command: Command, tmp_path: Path) -> None:
    script = tmp_path / "script"
    script.write_text(command("completion", "fish").out, encoding="utf-8")
    for line, offers in {**LINES, "halfstep ": (*COMMANDS, "help")}.items():
        listed = of_shell("fish", "source $argv[1]; complete -C $argv[2]", script, line)
        assert {row.split("\t")[0] for row in listed.splitlines()} == {*offers}, line


def test_zsh_reads_the_script_of_bash(command: Command) -> None:
    first, rest = command("completion", "zsh").out.split("\n", 1)
    assert "bashcompinit" in first
    assert rest == command("completion", "bash").out


@pytest.mark.parametrize("shell", ["bash", "fish"])
def test_a_shell_that_is_here_reads_its_script(
    shell: str, command: Command, tmp_path: Path
) -> None:
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"there is no {shell} here")
    script = tmp_path / "script"
    script.write_text(command("completion", shell).out, encoding="utf-8")
    ran = subprocess.run([program, "-n", str(script)], capture_output=True, text=True, timeout=30)
    assert (ran.returncode, ran.stderr) == (0, "")
