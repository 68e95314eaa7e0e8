"""Does the page on architecture show the tree as it is?"""

from __future__ import annotations

import re
from pathlib import Path

from test_architecture import MODULES, PAGE

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")


def test_the_tree_has_a_line_for_every_part_in_the_order_of_the_data() -> None:
    tree = TEXT.split("```")[1]
    parts = re.findall(r"^  (\w+)(?:/|\.py) +\S", tree, re.MULTILINE)
    assert parts == ["__init__", *PAGE]


def test_a_part_in_the_tree_is_a_folder_or_a_module_as_it_is_drawn() -> None:
    drawn = re.findall(r"^  (\w+/|\w+\.py) ", TEXT.split("```")[1], re.MULTILINE)
    assert [name for name in drawn if not (ROOT / "src" / "halfstep" / name).exists()] == []


def test_every_module_that_is_named_exists() -> None:
    named = re.findall(r"`(\w+(?:/\w+)*)\.py`", TEXT)
    assert len(named) > 3
    missing = [name for name in named if name.replace("/", ".") not in MODULES]
    assert [name for name in missing if not (ROOT / f"{name}.py").exists()] == []
