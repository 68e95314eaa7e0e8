"""The guide "Add a step" is followed to the letter, in a copy of the tree."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from halfstep.pitch import parse_pitch

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "docs" / "guides" / "add-a-step.md").read_text("utf-8")
ADDED, BEFORE = "third-fifth", '    "arpeggio",\n'
CHART = "| Gm7 C7 | Fmaj7 |"

pytestmark = pytest.mark.slow


def ran(tree: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """A command that finds the program in a tree."""
    environment = os.environ | {"PYTHONPATH": str(tree / "src"), "COLUMNS": "90"}
    return subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True)


def halfstep(tree: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """The program of a tree, run in its folder."""
    return ran(tree, sys.executable, "-m", "halfstep", *arguments)


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the source, with the guide's module and its line in it."""
    copy = tmp_path_factory.mktemp("tree")
    for name in ("src", "docs", "scripts"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "README.md", copy)
    module, line = re.findall(r"^```python\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
    steps = copy / "src" / "halfstep" / "etude" / "steps"
    (steps / "third_fifth.py").write_text(module, "utf-8")
    listed = (steps / "__init__.py").read_text("utf-8")
    assert listed.count(BEFORE) == 1
    (steps / "__init__.py").write_text(listed.replace(BEFORE, line + BEFORE), "utf-8")
    return copy


def test_before_that_no_step_is_called_so() -> None:
    done = halfstep(ROOT, "etude", CHART, "--step", ADDED)
    assert done.returncode == 2
    assert f"'{ADDED}'" in done.stderr


def test_the_list_has_it_after_root_and_third(tree: Path) -> None:
    done = halfstep(tree, "lesson", "--steps", "list")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    place = next(n for n, line in enumerate(lines) if ADDED in line.split())
    assert "root-third" in lines[place - 1].split()
    assert "neither is the root" in lines[place]


def test_its_line_has_thirds_and_fifths_alone(tree: Path) -> None:
    where = ("--step", ADDED, "--for", "flute", "--out", "etude.json")
    done = halfstep(tree, "etude", CHART, *where)
    assert done.returncode == 0, done.stderr
    data = json.loads((tree / "etude.json").read_text("utf-8"))
    assert data["step"] == ADDED
    pitches = [parse_pitch(note["concert"]) for note in data["notes"] if note["concert"]]
    assert {str(pitch.name) for pitch in pitches} <= {"B♭", "D", "E", "G", "A", "C"}
    assert len(pitches) > 4


def test_a_span_goes_over_it(tree: Path) -> None:
    code = (
        "from halfstep.etude.steps import parse_steps\n"
        "print(*(step.name for step in parse_steps('root-third-1')))"
    )
    done = ran(tree, sys.executable, "-c", code)
    assert done.stdout.split() == ["root-third", ADDED, "arpeggio"]


def test_a_whole_lesson_is_made_of_it(tree: Path) -> None:
    arguments = ("--steps", ADDED, "--for", "flute", "--out", "lesson")
    done = halfstep(tree, "lesson", CHART, *arguments)
    assert done.returncode == 0, done.stderr
    names = {path.name for path in (tree / "lesson").iterdir()}
    assert {f"step-{ADDED}-flute.musicxml", "handout-flute.pdf", "lesson.json"} <= names


def test_the_pages_name_it_when_they_are_written_again(tree: Path) -> None:
    script = str(tree / "scripts" / "docs")
    assert ran(tree, sys.executable, script, "--check").returncode == 1
    done = ran(tree, sys.executable, script)
    assert done.returncode == 0, done.stderr
    assert ADDED in (tree / "README.md").read_text("utf-8")
