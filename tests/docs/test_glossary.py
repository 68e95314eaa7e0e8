"""Can a stranger look up every name, and does each mean one thing?"""

from __future__ import annotations

import ast
import re
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "halfstep"
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
WORDS, MODULES = GLOSSARY.split("\n## Modules\n")
LONGEST_SENTENCE = 120


def several(names: list[str]) -> list[str]:
    """Those that stand more than once."""
    return sorted(name for name, count in Counter(names).items() if count > 1)


def module_names() -> list[str]:
    """The names of all modules, without packages."""
    return [path.stem for path in SOURCE.rglob("*.py") if not path.stem.startswith("__")]


def class_names() -> list[str]:
    """The names of all classes that stand in a module, private ones too."""
    return [
        node.name
        for path in SOURCE.rglob("*.py")
        for node in ast.parse(path.read_text("utf-8")).body
        if isinstance(node, ast.ClassDef)
    ]


def rows(text: str) -> list[list[str]]:
    """The cells of every row of the tables in a text, without their heads."""
    lines = re.findall(r"^\| (.*) \|$", text, re.MULTILINE)
    cells = [[cell.strip() for cell in line.split(" | ")] for line in lines]
    return [row for row in cells if row[0] not in {"name", "module", "---"}]


def test_several_finds_what_stands_twice() -> None:
    assert several(["score", "sheet", "score"]) == ["score"]


def test_no_two_modules_have_one_name() -> None:
    packages = [path.parent.name for path in SOURCE.rglob("*/__init__.py")]
    assert several(module_names() + packages) == []


def test_no_two_classes_have_one_name() -> None:
    assert several(class_names()) == []


def test_every_module_has_its_line() -> None:
    named = [row[0].strip("`") for row in rows(MODULES)]
    assert len(named) > 100
    assert sorted(named) == sorted(module_names())


def test_no_two_modules_are_explained_alike_or_at_length() -> None:
    sentences = [row[1] for row in rows(MODULES)]
    assert several(sentences) == []
    assert [line for line in sentences if not 10 < len(line) <= LONGEST_SENTENCE] == []
    assert [line for line in sentences if line[-1] not in ".?"] == []


def test_words_stand_in_order_and_once() -> None:
    words = [row[0] for row in rows(WORDS)]
    assert len(words) > 60
    assert words == sorted(set(words), key=str.lower)


def test_every_word_has_a_meaning_that_is_not_the_word() -> None:
    assert [row[0] for row in rows(WORDS) if row[1].lower() == row[0] or len(row[1]) < 8] == []


@pytest.mark.slow
def test_no_word_has_outlived_its_use() -> None:
    """Two words may stand with a blank, a line or a low line between them, or run together."""
    code = "\n".join(path.read_text("utf-8") for path in sorted(SOURCE.rglob("*.py"))).lower()
    words = [word.strip() for row in rows(WORDS) for word in row[0].lower().split(",")]
    unused = [word for word in words if not re.search(r"[\s_-]*".join(word.split()), code)]
    assert unused == []


def test_a_package_speaks_of_modules_that_it_has() -> None:
    """Small words between single grave accents in its docstring are its modules."""
    missing = []
    for path in SOURCE.rglob("*/__init__.py"):
        docstring = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
        inside = {module.stem for module in path.parent.iterdir()}
        named = re.findall(r"(?<!`)`([a-z_]+)`(?!`)", docstring)
        missing += [f"{path.parent.name}: {name}" for name in named if name not in inside]
    assert missing == []
