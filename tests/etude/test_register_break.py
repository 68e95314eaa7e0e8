"""A beginner does not cross the register break in a hurry; common practice, no source.

On saxophones the break lies between written C sharp 5 and D5, on the clarinet between A4 and B4.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from briefs_over_charts import brief_over
from step_lines import line_of

from halfstep.etude.etude_writer import _break_notices
from halfstep.etude.run_notices import hurried_crossings, missing_tones
from halfstep.etude.steps import find_step
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import make_lesson
from halfstep.level import Level
from halfstep.meter import EIGHTH
from typed_charts import read_chart_text

CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 | Bbmaj7 | Am7 | Gm7 C7 | F6 |"
SAXES = ("alto-sax", "tenor-sax", "soprano-sax", "clarinet")


@pytest.mark.parametrize("instrument", SAXES)
@pytest.mark.parametrize("step", ["1", "2", "4", "5", "6", "8", "9", "10"])
def test_a_beginner_never_crosses_the_break_after_an_eighth(step: str, instrument: str) -> None:
    """The last written note below the break, in plain code: C sharp 5, or B flat 4."""
    etude = line_of(step, brief_over(CHART, level="beginner", instrument=instrument, seed=1))
    top = INSTRUMENTS[instrument].break_midi
    assert top == (70 if instrument == "clarinet" else 73)
    written = [
        (note.beats, INSTRUMENTS[instrument].written(note.pitch).midi if note.pitch else None)
        for note in etude.notes
    ]
    for (beats, old), (_, new) in pairwise(written):
        if old and new and (old <= top) != (new <= top):
            assert beats > EIGHTH
    assert hurried_crossings(etude.notes, etude.brief) == []


def test_players_of_a_higher_level_may_cross_it_and_of_a_beginner_it_is_told() -> None:
    etude = line_of("4", brief_over(CHART, level="intermediate", instrument="alto-sax", seed=1))
    assert hurried_crossings(etude.notes, etude.brief) == []
    beginner = replace(etude.brief, level=Level.BEGINNER)
    assert hurried_crossings(etude.notes, beginner)
    (notice,) = _break_notices(replace(etude, brief=beginner))
    assert "the line crosses the register break after a short note" in notice.text
    assert _break_notices(etude) == []


@pytest.mark.parametrize("level", Level)
def test_a_mixed_class_keeps_the_sevenths_of_its_arpeggios(level: Level) -> None:
    chart = read_chart_text("| Fmaj7 | Dbmaj7 | Gm7 | C7 |")
    players = tuple(
        Player(INSTRUMENTS[name], level)
        for name in ("tenor-sax", "trumpet", "trombone", "alto-sax", "flute")
    )
    lesson = make_lesson(LessonBrief(chart, players, (find_step("1"),), level))
    for player in lesson.players:
        assert missing_tones(lesson.analysis, player.etudes[0].notes) == []
