"""A folder that holds another lesson: refused, replaced whole, never mixed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.app_command import contents, without_sound_and_pages
from halfstep.errors import BriefError
from halfstep.services.make_lesson import MakeLesson, make_lesson

CHART = "title: Stairs\n| Dm7 | G7 |"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a lesson of two steps for two players, and a file of the teacher's."""
    without_sound_and_pages(monkeypatch)
    place = tmp_path / "monday"
    lesson(place)
    (place / "notes.txt").write_text("bring reeds")
    return place


def lesson(folder: Path, chart: str = CHART, **fields: object) -> tuple[str, ...]:
    asked = {"instruments": ("alto-sax", "flute"), "steps": "1-2", **fields}
    reply = make_lesson(MakeLesson(chart, folder, **asked))  # type: ignore[arg-type]
    return tuple(path.name for path in reply.files)


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("chart", "fields"),
    [
        ("title: Stairs\n| Dm7 | G7 | C |", {}),
        (CHART, {"key": "D"}),
        (CHART, {"instruments": ("alto-sax",)}),
        (CHART, {"instruments": ("alto-sax", "trumpet")}),
        (CHART, {"steps": "2-3"}),
    ],
)
def test_another_lesson_is_refused_in_one_line_and_nothing_changes(
    folder: Path, chart: str, fields: dict[str, object]
) -> None:
    before = contents(folder)
    with pytest.raises(BriefError, match="another lesson, 'Stairs'; choose another folder"):
        lesson(folder, chart, **fields)
    assert contents(folder) == before


@pytest.mark.parametrize(
    "fields", [{}, {"seed": 5}, {"steps": "1-3"}, {"instruments": ("flute", "alto-sax", "voice")}]
)
def test_the_same_lesson_is_made_again(folder: Path, fields: dict[str, object]) -> None:
    names = lesson(folder, **fields)
    assert {*names} <= {*contents(folder), "backing.m4a", *pages(names)}
    assert (folder / "notes.txt").is_file()


def pages(names: tuple[str, ...]) -> set[str]:
    """Those that these tests do not draw."""
    return {name for name in names if name.endswith((".pdf", ".m4a"))}


def test_a_lesson_that_replaces_another_leaves_nothing_of_it(folder: Path) -> None:
    names = lesson(folder, "| C | F |", instruments=("trumpet",), steps="4", replace=True)
    assert {*contents(folder)} == ({*names} - pages(names)) | {"notes.txt"}


def test_a_lesson_file_of_others_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "lesson.json").write_text('{"lessons": 3}')
    for replace in (False, True):
        with pytest.raises(BriefError, match=r"lesson\.json is no lesson of ours"):
            lesson(tmp_path, replace=replace)
    assert contents(tmp_path) == {"lesson.json": b'{"lessons": 3}'}


def test_a_name_that_leads_out_of_the_folder_is_left_alone(folder: Path, tmp_path: Path) -> None:
    outside = tmp_path / "diary.txt"
    outside.write_text("mine")
    data = json.loads((folder / "lesson.json").read_text("utf-8"))
    data["files"] += ["../diary.txt", str(outside)]
    (folder / "lesson.json").write_text(json.dumps(data))
    lesson(folder, "| C | F |", replace=True)
    assert outside.read_text() == "mine"
