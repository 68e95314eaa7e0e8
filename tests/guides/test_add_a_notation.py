"""The guide on notations is followed to the letter, in a copy of the source."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "docs" / "guides" / "add-a-notation.md").read_text("utf-8")
TABLE = "src/halfstep/progression/notations/__init__.py"
END_OF_TABLE = ")  # fmt: skip\n"


def code_blocks(language: str) -> list[str]:
    """The blocks of code in the guide."""
    return re.findall(rf"^```{language}\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)


def followed(copy: Path) -> list[str]:
    """The files that the guide adds or changes, once that is done in a copy."""
    (module,), (entry,) = code_blocks("python"), code_blocks("text")
    named = re.findall(r"`(src/halfstep/\S+\.py)`", GUIDE)
    (copy / named[0]).write_text(module, "utf-8")
    table = (copy / named[1]).read_text("utf-8")
    assert table.count(END_OF_TABLE) == 1
    (copy / named[1]).write_text(table.replace(END_OF_TABLE, entry + END_OF_TABLE), "utf-8")
    return named


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the source with the notation of the guide, and its chart."""
    copy = tmp_path_factory.mktemp("copied")
    left_out = shutil.ignore_patterns("__pycache__", "*.onnx")
    shutil.copytree(ROOT / "src", copy / "src", ignore=left_out)
    followed(copy)
    (copy / "chart.csv").write_text(code_blocks("csv")[0])
    return copy


def halfstep(copy: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """What the program of the copy prints."""
    environment = os.environ | {"PYTHONPATH": str(copy / "src"), "COLUMNS": "100"}
    command = [sys.executable, "-m", "halfstep", *arguments]
    return subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True)


def test_a_notation_is_one_module_and_one_entry(tmp_path: Path) -> None:
    shutil.copytree(
        ROOT / "src" / "halfstep" / "progression", tmp_path / "src/halfstep/progression"
    )
    assert followed(tmp_path) == ["src/halfstep/progression/notations/bar_table.py", TABLE]
    assert code_blocks("text")[0].count("Notation(") == 1


@pytest.mark.slow
def test_a_chart_is_read_by_its_suffix(copied: Path) -> None:
    done = halfstep(copied, "chart", "chart.csv")
    assert done.returncode == 0, done.stderr
    assert re.search(r"Dm7 +G7 +\| Cmaj7", done.stdout)
    assert "played: " in done.stdout


@pytest.mark.slow
def test_the_help_names_it(copied: Path) -> None:
    done = halfstep(copied, "chart", "--help")
    assert "a table of bars (.csv)" in " ".join(done.stdout.split())


@pytest.mark.slow
@pytest.mark.parametrize(
    "chosen", [("--as", "bars"), ("--out", "out.csv")], ids=["by name", "by suffix"]
)
def test_a_chart_is_converted_to_it(chosen: tuple[str, str], copied: Path) -> None:
    done = halfstep(copied, "chart", "key: F\n| Dm7 G7 | Cmaj7 |", *chosen)
    assert done.returncode == 0, done.stderr
    written = (copied / "out.csv").read_text() if "--out" in chosen else done.stdout
    assert written == "1,Dm7 G7\n2,Cmaj7\n"
    assert done.stderr == "note: bars cannot hold the key\n"


@pytest.mark.slow
def test_what_cannot_be_read_is_named_with_its_place(copied: Path) -> None:
    (copied / "bad.csv").write_text("1,Dm7\n2,Kmaj7\n")
    done = halfstep(copied, "chart", "bad.csv")
    assert done.returncode == 2
    assert "bad.csv, line 2" in done.stderr
    assert "'Kmaj7' is no chord symbol" in done.stderr
