"""What the ear is told of a take before it listens: the line, where one line can be meant."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from halfstep.feedback.note_prior import STEP_S
from halfstep.harmony.outline import LineNote
from halfstep.listen.pitch_prior import PitchPrior, TakeTimes
from halfstep.listen.spectra import LOW
from halfstep.services.hear_take import HearTake, _prior
from halfstep.services.take_frame import LessonLine, TakeFrame
from typed_charts import read_chart_text

LINE = LessonLine("arpeggio", "flute", (LineNote(0, 1, 60), LineNote(1, 1, 64)))
FRAME = TakeFrame(120.0, read_chart_text("| C | F |"), (LINE,))
"""A chorus of four seconds."""
REQUEST = HearTake(Path("take.wav"))


def likely_at(prior: PitchPrior | None, midi: int) -> list[float]:
    """When a note is likeliest, in seconds."""
    assert prior is not None
    row = prior.weights[:, midi - LOW]
    return [n * STEP_S for n in range(1, len(row) - 1) if row[n - 1] < row[n] >= row[n + 1]]


@pytest.mark.parametrize(
    ("request_", "times"),
    [
        (replace(REQUEST, start_s=1.0), TakeTimes(9.0)),
        (REQUEST, TakeTimes(9.0, delay_s=-1.0)),
        (REQUEST, TakeTimes(9.0, delay_s=3.0, delay_modulo_s=4.0)),
    ],
    ids=["start", "backing", "some chorus of the backing"],
)
def test_a_line_is_laid_from_bar_one_in_every_chorus(request_: HearTake, times: TakeTimes) -> None:
    """A backing counts in for two seconds."""
    prior = _prior(request_, FRAME, 2.0, times)
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
    assert _prior(REQUEST, frame, 2.0, times) is None
