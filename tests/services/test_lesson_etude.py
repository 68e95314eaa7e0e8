"""Is a step of a lesson the etude that was handed out?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from halfstep.data.etude_json import read_etude
from halfstep.errors import BriefError
from halfstep.services.lesson_etude import lesson_etude
from halfstep.services.make_lesson import MakeLesson, make_lesson
from halfstep.services.room_piece import RoomWish, room_piece
from halfstep.services.take_frame import frame_of
from halfstep.services.write_etude import WriteEtude, write_one_etude

CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 |"


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a lesson with a teacher's line and two steps."""
    folder = tmp_path_factory.mktemp("lesson")
    line = write_one_etude(WriteEtude(CHART, "scale", instrument="concert"))
    (folder / "line.musicxml").write_bytes(line.file(".musicxml").data)
    asked = MakeLesson(
        CHART,
        folder / "made",
        instruments=("alto-sax:intermediate",),
        steps="1-2",
        tempo_bpm=90,
        line=folder / "line.musicxml",
        short=True,
    )
    make_lesson(asked, processes=1)
    return folder / "made" / "lesson.json"


@pytest.mark.slow
@pytest.mark.parametrize("step", ["arpeggio", "arpeggio-in-rhythm", "example"])
def test_a_step_is_opened_moved_and_heard_by_as_an_etude(lesson: Path, step: str) -> None:
    reply = lesson_etude(lesson, step)
    data = json.loads(lesson.read_text("utf-8"))["players"][0]
    stored = next(one for one in [data["example"], *data["steps"]] if one["step"] == step)
    midis = [note["midi"] for note in stored["notes"]]
    assert [note.pitch.midi if note.pitch else None for note in reply.etude.notes] == midis
    assert reply.etude.brief.tempo_bpm == 90
    moved = room_piece(reply, RoomWish(tempo_bpm=70, key="G"))
    text = moved.reply.file(".json").data.decode()
    assert str(read_etude(text).chart.key) == "G major"
    frame = frame_of(
        lesson=None, beside=(), chart=None, tempo_bpm=None, instrument="alto-sax", etude=text
    )
    assert frame.line is not None
    assert frame.line.step == step
    assert frame.quarters_a_minute == 70


@pytest.mark.slow
def test_what_is_not_in_it_is_said_in_a_line(lesson: Path, tmp_path: Path) -> None:
    with pytest.raises(BriefError, match="this lesson has none"):
        lesson_etude(lesson, "cells")
    damaged = tmp_path / "lesson.json"
    damaged.write_text("{}", "utf-8")
    with pytest.raises(BriefError, match="have it made anew"):
        lesson_etude(damaged, "cells")
