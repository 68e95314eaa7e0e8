"""The guide "Add a style" is followed to the letter, in a copy of the tree."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "docs" / "guides" / "add-a-style.md").read_text("utf-8")
ADDED, ROW_BEFORE = "half-time", '    Style(\n        name="two-beat"'
IMPORT_BEFORE = "    stick_answered,\n)"
CHART = "| Dm7 | G7 | Cmaj7 | A7 |"

pytestmark = pytest.mark.slow


def ran(tree: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """A command that finds the program in a tree."""
    environment = os.environ | {"PYTHONPATH": str(tree / "src"), "COLUMNS": "90"}
    return subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True)


def python(tree: Path, *arguments: str) -> str:
    """What Python prints in a tree."""
    done = ran(tree, sys.executable, *arguments)
    assert done.returncode == 0, done.stderr
    return done.stdout


def insert(path: Path, code: str, before: str) -> None:
    """Put lines of the guide into a module, before the one place that begins so."""
    text = path.read_text("utf-8")
    assert text.count(before) == 1
    path.write_text(text.replace(before, code + before), "utf-8")


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the source, with the guide's lines in it."""
    copy = tmp_path_factory.mktemp("tree")
    for name in ("src", "docs", "scripts", "tests"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("README.md", "CONTRIBUTING.md", "pyproject.toml"):
        shutil.copy(ROOT / name, copy)
    beat, row = re.findall(r"^```python\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
    backing = copy / "src" / "halfstep" / "backing"
    with (backing / "groove_drums.py").open("a", encoding="utf-8") as grooves:
        grooves.write(beat)
    insert(backing / "styles.py", row, ROW_BEFORE)
    insert(backing / "styles.py", "    half_time,\n", IMPORT_BEFORE)
    return copy


def test_before_that_no_style_is_called_so() -> None:
    done = ran(ROOT, sys.executable, "-m", "halfstep", "lesson", CHART, "--style", ADDED)
    assert done.returncode == 2
    assert f"style '{ADDED}'" in done.stderr


def test_the_help_lists_it_above_two_beat(tree: Path) -> None:
    lines = python(tree, "-m", "halfstep", "lesson", "--style", "list").splitlines()
    names = [line.split()[0] for line in lines]
    assert names[-2:] == [ADDED, "two-beat"]


def test_a_backing_is_made_in_it(tree: Path) -> None:
    arguments = ("--style", ADDED, "--choruses", "1", "--format", "wav", "--out", "half")
    python(tree, "-m", "halfstep", "backing", CHART, *arguments)
    assert len(list((tree / "half").glob("*.wav"))) == 1


def test_a_header_may_name_it(tree: Path) -> None:
    python(tree, "-m", "halfstep", "chart", f"style: {ADDED}\n{CHART}")


def test_all_that_is_held_for_every_row_holds_for_it(tree: Path) -> None:
    """No two bars equal, velocities, fills, silence, tempi, and the whole band's notes."""
    files = ("test_drum_life.py", "test_band.py", "test_band_ending.py")
    options = ("-n", "0", "-p", "no:cacheprovider", "-k", ADDED)
    where = [f"tests/backing/{name}" for name in files]
    out = python(tree, "-m", "pytest", *options, *where)
    assert re.search(r"\d\d passed", out)


def test_its_snare_comes_once_a_bar_in_the_middle(tree: Path) -> None:
    code = (
        "from halfstep import read_chart\n"
        "from halfstep.backing import STYLES, make_backing\n"
        "(style,) = (s for s in STYLES if s.name == 'half-time')\n"
        f"chart = read_chart({CHART!r}).chart\n"
        "notes = make_backing(chart, style=style)[0].notes\n"
        "print([int(n.onset) for n in notes if n.midi == 38 and n.velocity > 75 and n.onset < 12])"
    )
    assert python(tree, "-c", code) == "[2, 6, 10]\n"


def test_the_pages_name_it_when_they_are_written_again(tree: Path) -> None:
    script = str(tree / "scripts" / "docs")
    assert ran(tree, sys.executable, script, "--check").returncode == 1
    assert ran(tree, sys.executable, script).returncode == 0
    row = f"| `{ADDED}` | Straight eighths in half time | straight |"
    assert row in (tree / "README.md").read_text("utf-8")
