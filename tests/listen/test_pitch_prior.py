"""A prior made of the written line helps where the sound is open, and hides no wrong note."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tones import RATE, Sound, played, write

from halfstep.feedback.note_prior import prior_of_line
from halfstep.feedback.take_clock import TakeClock
from halfstep.harmony.line_over_chords import LineNote
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.transcription import hear

QUARTER_S, START_S = 0.5, 0.4


def written(seed: int, count: int = 24) -> list[LineNote]:
    """Eighths in a middle range, some of them repeated."""
    rng = np.random.default_rng(seed)
    midis = [64]
    for _ in range(count - 1):
        midis.append(int(np.clip(midis[-1] + rng.choice([-4, -2, -1, 0, 1, 2, 3, 5]), 55, 79)))
    return [LineNote(0.5 * n, 0.5, midi) for n, midi in enumerate(midis)]


def take_of(line: list[LineNote], wrong: dict[int, int], seed: int) -> Sound:
    """The line with some notes so many semitones off, in a made-up room with noise."""
    notes = [
        (START_S + float(n.onset) * QUARTER_S, 0.22, n.midi + wrong.get(place, 0))
        for place, n in enumerate(line)
    ]
    sound = played(notes, START_S + 0.5 * len(line) * QUARTER_S + 1)
    rng = np.random.default_rng(seed)
    time = np.arange(round(0.6 * RATE)) / RATE
    echo = rng.normal(size=len(time)) * np.exp(-6.9 * time / 0.6)
    echo *= 0.7 / np.sqrt(np.sum(echo**2))
    echo[0] += 1
    wet = np.convolve(sound, echo)[: len(sound)]
    return wet + 0.01 * np.std(wet) * rng.normal(size=len(wet))


def shares(take: HeardTake, line: list[LineNote], wrong: dict[int, int]) -> tuple[int, int]:
    """How many right and how many planted wrong notes are heard as they were played."""

    def is_heard(place: int) -> bool:
        onset_s = START_S + float(line[place].onset) * QUARTER_S
        midi = line[place].midi + wrong.get(place, 0)
        return any(abs(n.onset_s - onset_s) < 0.06 and n.midi == midi for n in take.notes)

    places = range(len(line))
    return (
        sum(is_heard(place) for place in places if place not in wrong),
        sum(is_heard(place) for place in places if place in wrong),
    )


@pytest.mark.slow
def test_a_prior_finds_no_fewer_right_notes_and_hides_no_wrong_one(tmp_path: Path) -> None:
    without, informed = np.zeros(2), np.zeros(2)
    planted = 0
    for seed in range(8):
        line = written(seed)
        rng = np.random.default_rng(100 + seed)
        places = rng.choice(len(line), 5, replace=False).tolist()
        wrong = {int(place): int(rng.choice([-2, -1, 1, 2])) for place in places}
        planted += len(wrong)
        path = write(tmp_path / f"{seed}.wav", take_of(line, wrong, seed))
        prior = prior_of_line(
            line, time_s=TakeClock(QUARTER_S, START_S, is_offset_known=True).time_s
        )
        without += shares(hear(path), line, wrong)
        informed += shares(hear(path, prior_maker=lambda _, made=prior: made), line, wrong)
    assert informed[1] >= without[1] > 0.8 * planted
    assert informed[0] >= without[0]
