"""Weights for the ear, from a line and from a chart."""

from __future__ import annotations

import numpy as np
import pytest

from halfstep.feedback.note_prior import STEP_S, WRITTEN_NATS, prior_of_line
from halfstep.feedback.take_clock import TakeClock
from halfstep.harmony.line_over_chords import LineNote
from halfstep.listen.pitch_prior import MOST_NATS, PitchPrior
from halfstep.listen.spectra import LOW, SEMITONES

LINE = [LineNote(0, 1, 60), LineNote(1, 1, 64), LineNote(2, 2, 67)]


def weight(prior: PitchPrior, at_s: float, midi: int) -> float:
    return float(prior.weights[round(at_s / STEP_S), midi - LOW])


def test_a_written_note_is_likelier_where_it_begins_and_nowhere_else() -> None:
    prior = prior_of_line(LINE, time_s=TakeClock(0.5, 2.0, is_offset_known=True).time_s)
    assert weight(prior, 2.5, 64) == pytest.approx(WRITTEN_NATS)
    assert weight(prior, 2.5, 63) == weight(prior, 2.5, 65) == 0
    assert weight(prior, 3.4, 64) < 0.1
    assert weight(prior, 1.0, 60) < 0.1


def test_octaves_of_a_written_note_weigh_nothing() -> None:
    """A note that is played an octave off is a wrong note, and is heard as one."""
    prior = prior_of_line(LINE, time_s=TakeClock(0.5, 2.0, is_offset_known=True).time_s)
    assert not prior.weights[
        :, [pitch - LOW + 12 * up for pitch in (60, 64, 67) for up in (-1, 1)]
    ].any()


def test_choruses_come_again() -> None:
    prior = prior_of_line(
        LINE, time_s=TakeClock(0.5, 1.0, is_offset_known=True).time_s, choruses=3, form_beats=4
    )
    assert [weight(prior, 1.0 + 2 * n, 60) > 0.9 * WRITTEN_NATS for n in range(4)] == [
        True,
        True,
        True,
        False,
    ]


def test_what_is_beyond_the_ear_is_left_out() -> None:
    prior = prior_of_line(
        [LineNote(0, 1, 20), LineNote(1, 1, 110)],
        time_s=TakeClock(0.5, 0.0, is_offset_known=True).time_s,
    )
    assert prior.weights.max() == 0


@pytest.mark.parametrize(
    ("step_s", "weights"),
    [
        (0.0, np.zeros((3, SEMITONES))),
        (0.1, np.zeros((3, 12))),
        (0.1, np.zeros(SEMITONES)),
        (0.1, np.full((3, SEMITONES), np.nan)),
    ],
)
def test_a_prior_of_another_shape_is_refused(step_s: float, weights: np.ndarray) -> None:
    with pytest.raises(ValueError, match=r"weight"):
        PitchPrior(step_s, weights.astype(np.float32))


def test_frames_outside_what_is_known_weigh_nothing_and_none_more_than_the_most() -> None:
    prior = PitchPrior(0.1, np.full((10, SEMITONES), 9.0, dtype=np.float32))
    rows = prior.by_frame(-0.5, 200)
    assert set(np.unique(rows)) == {0.0, np.float32(MOST_NATS)}
    assert rows[0].max() == 0 == rows[-1].max()
