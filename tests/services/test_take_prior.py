"""What the ear is told of a take before it listens: the line, where one line can be meant."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from halfstep.data.lesson_json import lesson_data
from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.note_prior import STEP_S
from halfstep.lesson.make import make_lesson
from halfstep.listen.pitch_prior import PitchPrior, TakeTimes
from halfstep.listen.spectra import LOW
from halfstep.pitch import parse_pitch
from halfstep.services.lesson_lines import LessonLine
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from halfstep.services.take_frame import TakeFrame, frame_of
from halfstep.services.take_start import prior_of_take
from typed_charts import read_chart_text

NOTES = tuple(
    EtudeNote(Fraction(onset), Fraction(1), parse_pitch(name), 0)
    for onset, name in enumerate(("C4", "E4"))
)
LINE = LessonLine("arpeggio", "arpeggio", "flute", NOTES)
FRAME = TakeFrame(120.0, read_chart_text("| C | F |"), (LINE,))
"""A chorus of four seconds."""


def likely_at(prior: PitchPrior | None, midi: int) -> list[float]:
    """When a note is likeliest, in seconds."""
    assert prior is not None
    row = prior.weights[:, midi - LOW]
    return [n * STEP_S for n in range(1, len(row) - 1) if row[n - 1] < row[n] >= row[n + 1]]


@pytest.mark.parametrize(
    ("start_s", "times"),
    [
        (1.0, TakeTimes(9.0)),
        (None, TakeTimes(9.0, delay_s=-1.0)),
        (None, TakeTimes(9.0, delay_s=3.0, delay_modulo_s=4.0)),
    ],
    ids=["start", "backing", "some chorus of the backing"],
)
def test_a_line_is_laid_from_bar_one_in_every_chorus(
    start_s: float | None, times: TakeTimes
) -> None:
    """A backing counts in for two seconds."""
    prior = prior_of_take(FRAME, start_s, 2.0, times)
    assert likely_at(prior, 64) == pytest.approx([1.5, 5.5], abs=STEP_S)


@pytest.mark.parametrize(
    ("frame", "times"),
    [
        (FRAME, TakeTimes(9.0)),
        (FRAME, TakeTimes(9.0, delay_s=3.0, delay_modulo_s=1.3)),
        (replace(FRAME, lines=()), TakeTimes(9.0, delay_s=0.0)),
        (replace(FRAME, lines=(LINE, LINE)), TakeTimes(9.0, delay_s=0.0)),
        (replace(FRAME, quarters_a_minute=None), TakeTimes(9.0, delay_s=0.0)),
        (TakeFrame(), TakeTimes(9.0, delay_s=0.0)),
    ],
    ids=["no start", "no whole choruses", "no line", "two lines", "no tempo", "nothing"],
)
def test_nothing_is_likely_where_line_or_place_is_not_known(
    frame: TakeFrame, times: TakeTimes
) -> None:
    assert prior_of_take(frame, None, 2.0, times) is None


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two steps for two players."""
    path = tmp_path_factory.mktemp("monday") / "lesson.json"
    request = MakeLesson(
        "| Dm7 | G7 |", path.parent, instruments=("alto-sax", "flute"), steps="arpeggio,scale"
    )
    data = lesson_data(make_lesson(lesson_brief(request)))
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def lesson_frame(lesson: Path, instrument: str | None, step: str | None) -> TakeFrame:
    return frame_of(
        lesson=lesson, beside=(), chart=None, tempo_bpm=None, instrument=instrument, step=step
    )


def test_of_a_lesson_with_several_lines_the_step_that_is_named_is_likely(lesson: Path) -> None:
    of_flute = lesson_frame(lesson, "flute", None)
    assert [line.step for line in of_flute.lines] == ["arpeggio", "scale"]
    assert of_flute.prior(0.0, 9.0) is None
    of_scale = lesson_frame(lesson, "flute", "scale")
    assert of_scale.lines == of_flute.lines[1:]
    prior = of_scale.prior(0.0, 9.0)
    assert prior is not None
    first = of_scale.lines[0].notes[0]
    assert prior.weights[0, first.midi - LOW] == prior.weights.max()


def test_a_lesson_for_two_players_of_an_instrument_leaves_their_two_lines(lesson: Path) -> None:
    """Neither is likelier, so the ear is told of none."""
    data = json.loads(lesson.read_text(encoding="utf-8"))
    data["players"][0]["instrument"] = "flute"
    twice = lesson.with_name("twice.json")
    twice.write_text(json.dumps(data), encoding="utf-8")
    frame = lesson_frame(twice, "flute", "scale")
    assert [line.step for line in frame.lines] == ["scale", "scale"]
    assert frame.prior(0.0, 9.0) is None
