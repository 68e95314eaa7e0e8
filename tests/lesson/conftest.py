"""One small lesson for all the fast tests."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.instruments import find_instrument
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import make_lesson
from halfstep.render.sound_file import SOUND_FORMATS
from halfstep.services.make_lesson import write_lesson
from lesson.lesson_files import SMALL
from typed_charts import read_chart_text


@pytest.fixture(scope="session")
def small_lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a lesson on four bars for two players, all steps; sound that the
    standard library reads.
    """
    folder = tmp_path_factory.mktemp("lesson") / "small"
    players = tuple(Player(find_instrument(key)) for key in ("alto-sax", "trombone"))
    made = make_lesson(LessonBrief(read_chart_text(SMALL), players))
    write_lesson(made, folder, sound=SOUND_FORMATS["wav"], stems=True)
    return folder
