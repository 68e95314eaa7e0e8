"""The guide "Add an instrument" is followed to the letter, in a copy of the tree.

Source of the transposition: music21's class of the instrument.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from halfstep.pitch import parse_pitch

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "docs" / "guides" / "add-an-instrument.md").read_text("utf-8")
ADDED, VALUE_BEFORE = "oboe", '        Instrument(\n            "horn"'
CHART = "| Gm7 C7 | Fmaj7 |"

pytestmark = pytest.mark.slow


def halfstep(tree: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """The program of a tree, run in its folder."""
    command = [sys.executable, "-m", "halfstep", *arguments]
    return ran(tree, *command)


def ran(tree: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """A command that finds the program in a tree."""
    environment = os.environ | {"PYTHONPATH": str(tree / "src"), "COLUMNS": "90"}
    return subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True)


def insert(path: Path, code: str, before: str) -> None:
    """Put lines of the guide into a module, before the one place that begins so."""
    text = path.read_text("utf-8")
    assert text.count(before) == 1
    path.write_text(text.replace(before, code + before), "utf-8")


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the source, with the guide's lines in it."""
    copy = tmp_path_factory.mktemp("tree")
    for name in ("src", "docs", "scripts"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "README.md", copy)
    (value,) = re.findall(r"^```python\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
    insert(copy / "src/halfstep/instruments.py", value, VALUE_BEFORE)
    return copy


@pytest.fixture(scope="module")
def etude(tree: Path) -> dict[str, Any]:
    """One step for the new instrument, as data."""
    where = ("--step", "one-line", "--for", ADDED, "--out", "etude.json")
    done = halfstep(tree, "etude", CHART, *where)
    assert done.returncode == 0, done.stderr
    data: dict[str, Any] = json.loads((tree / "etude.json").read_text("utf-8"))
    return data


def test_before_that_nobody_is_called_so() -> None:
    done = halfstep(ROOT, "etude", CHART, "--step", "one-line", "--for", ADDED)
    assert done.returncode == 2
    assert f"no instrument is called '{ADDED}'" in done.stderr


def test_the_help_lists_it_with_its_ranges(tree: Path) -> None:
    lines = halfstep(tree, "lesson", "--for", "list").stdout.splitlines()
    (line,) = (line for line in lines if line.startswith(ADDED))
    assert line.split("  ")[-1].strip() == "D4 to A5, C4 to C6, B♭3 to F6"


def test_it_reads_its_etude_as_far_above_concert_pitch_as_the_source_says(
    etude: dict[str, Any],
) -> None:
    instrument = pytest.importorskip("music21.instrument")
    assert instrument.Oboe().transposition is None
    assert etude["written_above_concert"]["semitones"] == 0
    assert etude["written_key"] == "F"
    pairs = [(note["concert"], note["written"]) for note in etude["notes"] if note["concert"]]
    assert {parse_pitch(new).midi - parse_pitch(old).midi for old, new in pairs} == {0}


def test_its_etude_stays_in_its_range(etude: dict[str, Any]) -> None:
    written = [parse_pitch(note["written"]).midi for note in etude["notes"] if note["written"]]
    assert len(written) > 8
    assert parse_pitch("C4").midi <= min(written) <= max(written) <= parse_pitch("C6").midi


def test_its_awkward_pairs_are_known_in_concert_pitch(tree: Path) -> None:
    code = (
        "from halfstep.etude.awkward_pairs import awkward_pairs\n"
        "from halfstep.instruments import find_instrument\n"
        f"print((72, 74) in awkward_pairs(find_instrument({ADDED!r})))"
    )  # C5 and D5, over the half hole
    assert ran(tree, sys.executable, "-c", code).stdout == "True\n"


def test_a_whole_lesson_is_made_for_it(tree: Path) -> None:
    arguments = ("--steps", "arpeggio", "--for", f"{ADDED},flute", "--out", "lesson")
    done = halfstep(tree, "lesson", CHART, *arguments)
    assert done.returncode == 0, done.stderr
    names = {path.name for path in (tree / "lesson").iterdir()}
    assert {f"handout-{ADDED}.pdf", f"step-1-{ADDED}.musicxml"} <= names


def test_the_pages_name_it_when_they_are_written_again(tree: Path) -> None:
    script = str(tree / "scripts" / "docs")
    assert ran(tree, sys.executable, script, "--check").returncode == 1
    assert ran(tree, sys.executable, script).returncode == 0
    assert f"`flute`, `{ADDED}`, `horn`" in " ".join(
        (tree / "README.md").read_text("utf-8").split()
    )
