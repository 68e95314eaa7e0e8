"""What the ear says of its own errors, against notes that players recorded.

Lines 500 were used to choose the figures; these are held against 501 to 503.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from heard_recordings import heard_once

from halfstep.instruments import INSTRUMENTS
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.known_errors import CERTAINTY_CLASSES, certainty_class, known_errors

LINES = Path(__file__).parents[3] / "shared" / "data" / "real-lines"
HELD_BACK = sorted(path for path in LINES.glob("*.flac") if "500" not in path.name)


def test_every_instrument_has_figures() -> None:
    for key in INSTRUMENTS:
        errors = known_errors(key)
        assert errors.onset_spread_ms > 0
        assert errors.cents > 0
        assert errors.swing_sd(100) < errors.swing_sd(240)


def test_the_figures_of_a_family_are_those_of_its_members() -> None:
    assert known_errors("alto-sax") == known_errors("baritone-sax") == known_errors("saxophone")
    assert known_errors("oboe") == known_errors("bassoon") == known_errors()


def test_certainty_has_three_classes_in_order() -> None:
    assert [name for name, _ in CERTAINTY_CLASSES] == ["sure", "likely", "unsure"]
    assert [certainty_class(c) for c in (1.0, 0.98, 0.97, 0.8, 0.79, 0.0)] == [
        "sure", "sure", "likely", "likely", "unsure", "unsure",
    ]  # fmt: skip


@pytest.fixture(scope="module")
def heard_lines() -> list[tuple[str, list[dict[str, float]], HeardTake]]:
    if not HELD_BACK:
        pytest.skip("the real lines are not here")
    return [
        (
            path.stem.partition("-")[0],
            json.loads(path.with_suffix(".json").read_text()),
            heard_once(path),
        )
        for path in HELD_BACK
    ]


@pytest.mark.slow
def test_stated_onsets_hold_on_lines_that_nothing_was_chosen_on(
    heard_lines: list[tuple[str, list[dict[str, float]], HeardTake]],
) -> None:
    for instrument, truth, take in heard_lines:
        errors = known_errors(instrument)
        late_ms = [
            1000 * (note.onset_s - true["onset_s"])
            for true in truth
            for note in take.notes
            if abs(note.onset_s - true["onset_s"]) < 0.1
            and abs(note.pitch_midi - true["midi"]) < 0.6
        ]
        assert len(late_ms) > 0.9 * len(truth)
        assert abs(np.median(late_ms) - errors.onset_bias_ms) < 8, instrument
        inside = np.abs(np.array(late_ms) - errors.onset_bias_ms) <= errors.onset_spread_ms
        assert inside.mean() > 0.85, instrument


@pytest.mark.slow
def test_sure_notes_are_right(
    heard_lines: list[tuple[str, list[dict[str, float]], HeardTake]],
) -> None:
    rights = [
        any(
            abs(note.onset_s - true["onset_s"]) < 0.1 and abs(note.pitch_midi - true["midi"]) < 0.6
            for true in truth
        )
        for _, truth, take in heard_lines
        for note in take.notes
        if certainty_class(note.certainty) == "sure"
    ]
    assert len(rights) > 60
    assert np.mean(rights) >= 0.95
