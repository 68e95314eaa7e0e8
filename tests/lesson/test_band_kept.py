"""Is the band of a class heard once, and are the sounds of each player as if it were not kept?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from halfstep.lesson import sound
from halfstep.lesson.make import Lesson, make_lesson
from halfstep.services.make_lesson import MakeLesson, lesson_brief

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def none_kept() -> Iterator[None]:
    sound._latest_sound.cache_clear()
    yield
    sound._latest_sound.cache_clear()


def lesson(player: str, tempo_bpm: float = 200.0) -> Lesson:
    request = MakeLesson(
        "| C6 | G7 |", Path("lesson"), (player,), "arpeggio", tempo_bpm=tempo_bpm, choruses=1
    )
    return make_lesson(lesson_brief(request))


def test_players_share_a_band_and_each_line_sounds_as_alone() -> None:
    flute, trombone = lesson("flute"), lesson("trombone:beginner")
    alone = sound.line_sound(trombone, trombone.players[0].etudes[0]).samples
    sound._latest_sound.cache_clear()
    sound.line_sound(flute, flute.players[0].etudes[0])
    together = sound.line_sound(trombone, trombone.players[0].etudes[0]).samples
    assert sound._latest_sound.cache_info().hits == 1
    assert np.array_equal(alone, together)


def test_another_tempo_is_another_band() -> None:
    for tempo_bpm in (200.0, 180.0):
        one = lesson("flute", tempo_bpm)
        sound.line_sound(one, one.players[0].etudes[0])
    assert sound._latest_sound.cache_info().hits == 0
