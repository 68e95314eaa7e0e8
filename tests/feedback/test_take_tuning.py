"""One tuning for a take, by the line or the chart that was played: no semitone is lost.

Common practice, no source: a player may be half a tone out and means the written notes.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfstep.feedback.take_tuning import tuning_by_chart, tuning_by_line
from halfstep.listen.heard_take import HeardNote, HeardTake
from typed_charts import read_chart_text

LINE = [62, 65, 69, 72, 71, 67, 65, 62, 60, 64, 67, 71, 72, 71, 67, 64]
CHART = read_chart_text("| Dm7 | G7 | Cmaj7 | % |")


def take_of(midis: list[int], cents: float, *, named_at: float, seed: int = 0) -> HeardTake:
    """A take so many cents off, each note by some 12 more, named as the ear would."""
    rng = np.random.default_rng(seed)
    pitches = [midi + (cents + rng.normal(0, 12)) / 100 for midi in midis]
    notes = [
        HeardNote(n / 2, n / 2 + 0.4, 0, 0.0, -12.0, 1.0, pitch) for n, pitch in enumerate(pitches)
    ]
    return HeardTake(tuple(notes), 10.0).named(named_at)


@pytest.mark.parametrize("cents", range(-90, 91, 15))
def test_the_written_line_says_how_far_off_a_take_is(cents: int) -> None:
    wrapped = (cents + 50) % 100 - 50
    take = take_of(LINE, cents, named_at=wrapped)
    tuned = take.named(tuning_by_line(take, LINE))
    assert tuned.tuning_cents == pytest.approx(cents, abs=1)
    assert [note.midi for note in tuned.notes] == LINE


@pytest.mark.parametrize("octave", [-12, 12])
def test_a_line_in_another_octave_is_in_tune(octave: int) -> None:
    take = take_of([midi + octave for midi in LINE], 10, named_at=10)
    assert tuning_by_line(take, LINE) == 10


@pytest.mark.parametrize("cents", [-70, -45, 0, 45, 70])
@pytest.mark.parametrize("key", range(12))
def test_a_chart_says_it_as_well(cents: int, key: int) -> None:
    roots = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    two, five, one = (roots[(key + step) % 12] for step in (2, 7, 0))
    chart = read_chart_text(f"| {two}m7 | {five}7 | {one}maj7 | % |")
    wrapped = (cents + 50) % 100 - 50
    take = take_of([midi + key for midi in LINE * 2], cents, named_at=wrapped)
    assert tuning_by_chart(take, chart) == pytest.approx(cents, abs=1)


@pytest.mark.parametrize("wrong", range(0, 16, 3))
def test_a_wrong_note_moves_no_tuning(wrong: int) -> None:
    midis = [midi + (n == wrong) for n, midi in enumerate(LINE)]
    take = take_of(midis, 0, named_at=0)
    assert tuning_by_line(take, LINE) == 0
    assert tuning_by_chart(take, CHART) == 0
    assert [note.midi for note in take.notes] == midis


def test_few_notes_and_no_chords_say_nothing() -> None:
    take = take_of(LINE[:5], 60, named_at=-40)
    assert tuning_by_line(take, LINE) == -40
    assert tuning_by_chart(take_of(LINE, 60, named_at=-40), read_chart_text("| N.C. | % |")) == -40
    assert tuning_by_line(take_of(LINE, 60, named_at=-40), []) == -40
