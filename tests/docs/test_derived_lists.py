"""Are the lists on the pages those of the program? The script that writes them is run."""

from __future__ import annotations

import runpy
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import halfstep.instruments
from halfstep.etude.steps import STEPS
from halfstep.instruments import INSTRUMENTS

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = runpy.run_path(str(ROOT / "scripts" / "docs"))
run: Callable[..., int] = SCRIPT["main"]
derived: Callable[[str], str] = SCRIPT["derived"]
lists: dict[str, Callable[[], str]] = SCRIPT["LISTS"]


@pytest.fixture
def pages(tmp_path: Path) -> Path:
    """A copy of all pages."""
    for path in SCRIPT["files"](ROOT):
        copy = tmp_path / path.relative_to(ROOT)
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, copy)
    return tmp_path


def test_every_page_is_as_the_lists_say(capsys: pytest.CaptureFixture[str]) -> None:
    status = run(["--check"])
    assert (status, capsys.readouterr().out) == (0, "")


def test_every_list_stands_on_a_page(pages: Path) -> None:
    text = "".join(path.read_text("utf-8") for path in pages.rglob("*.md"))
    assert [name for name in lists if f"<!-- {name} -->" not in text] == []


@pytest.mark.slow
def test_a_word_that_is_changed_by_hand_is_found_in_one_line_and_put_right(
    pages: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    readme = pages / "README.md"
    kept = readme.read_text("utf-8")
    readme.write_text(kept.replace("| `enclosures` |", "| `surrounds` |"), "utf-8")
    assert run(["--check"], pages) == 1
    assert capsys.readouterr().out.splitlines() == [
        "not as the program's lists say; run scripts/docs: README.md"
    ]
    assert run([], pages) == 0
    assert readme.read_text("utf-8") == kept
    assert run(["--check"], pages) == 0


@pytest.mark.slow
def test_the_schema_of_a_lesson_is_put_right_as_well(
    pages: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    schema = pages / "docs" / "lesson.schema.json"
    kept = schema.read_text("utf-8")
    schema.write_text(kept.replace('"maximum": 13', '"maximum": 12'), "utf-8")
    assert run(["--check"], pages) == 1
    assert "docs/lesson.schema.json" in capsys.readouterr().out
    run([], pages)
    assert schema.read_text("utf-8") == kept


def test_what_is_added_to_a_list_is_added_to_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    page = "Before.\n\n<!-- instruments -->\n<!-- /instruments -->\n\nAfter.\n"
    added: dict[str, Any] = INSTRUMENTS | {"sackbut": INSTRUMENTS["trombone"]}
    monkeypatch.setattr(halfstep.instruments, "INSTRUMENTS", added)
    words = derived(page)
    assert words.startswith("Before.\n\n<!-- instruments -->\n\n`concert`, ")
    assert words.endswith("`voice`, `sackbut`.\n\n<!-- /instruments -->\n\nAfter.\n")


def test_the_table_has_a_row_for_each_step() -> None:
    rows = lists["steps"]().splitlines()[2:]
    assert [row.split("|")[2].strip(" `") for row in rows] == [step.name for step in STEPS]
    assert rows[4].startswith("| 1 | `arpeggio` | Arpeggio | Play the tones")


@pytest.mark.parametrize(
    ("page", "message"),
    [
        ("<!-- singers -->\n<!-- /singers -->\n", "there is no list 'singers'"),
        ("<!-- steps -->\n", "opened and not closed"),
        ("<!-- /steps -->\n", "opened and not closed"),
        ("<!-- steps -->\n<!-- /forms -->\n", "opened and not closed"),
    ],
)
def test_a_mark_that_cannot_be_right_is_refused(page: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        derived(page)
