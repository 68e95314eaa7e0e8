"""Real players: notes of an orchestra joined into lines, and phrases of a saxophonist.

The lines carry their truth. Phrases are labelled by their level and their period, with no part
of the ear, where their notes stand apart at one pulse. No network was trained on any of them; a
constant of the ear was read off the lines numbered 500, so that the others are the test.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from heard_recordings import heard_once

from outside_scripts import BENCH, script


@pytest.fixture(scope="module")
def players(takes: ModuleType) -> ModuleType:
    pytest.importorskip("mir_eval")
    assert takes.RATE
    sys.modules["listening"] = script(BENCH / "listening.py")
    return script(BENCH / "players.py")


def tallied(players: ModuleType, takes_heard: Iterator[tuple[str, Path, list]]) -> dict:
    """What was heard of each group, without the lines that a constant was read off."""
    found: dict = defaultdict(players.Tally)
    for group, path, notes in takes_heard:
        if not path.stem.endswith("-500"):
            heard = heard_once(path).notes
            found[group].add(notes, [(n.onset_s, n.offset_s, n.pitch_midi) for n in heard])
    return found


@pytest.fixture(scope="module")
def of_lines(players: ModuleType, reference_data: Path) -> dict:
    """What was heard of each instrument's lines from 501 on."""
    if not (reference_data / "real-lines").is_dir():
        pytest.skip("no lines of real players are beside the repository")
    return tallied(players, players.lines(reference_data))


@pytest.fixture(scope="module")
def of_phrases(players: ModuleType, reference_data: Path) -> dict:
    """What was heard of each kind of phrase."""
    if not (reference_data / "sax-phrases").is_dir():
        pytest.skip("no phrases of a saxophonist are beside the repository")
    return tallied(players, players.phrases(reference_data))


@pytest.mark.slow
@pytest.mark.parametrize("group", ["saxophone", "clarinet", "trombone"])
def test_lines_of_real_notes_are_heard(of_lines: dict, group: str) -> None:
    """F1 of at least 97 within 50 ms, 96 within 25."""
    tally = of_lines[group]
    notes = tally.true + tally.answered
    assert 200 * tally.right / notes >= 97
    assert 200 * tally.nearly / notes >= 96


@pytest.mark.slow
@pytest.mark.parametrize("group", ["saxophone", "clarinet", "trombone"])
def test_beginnings_are_heard_neither_early_nor_late(of_lines: dict, group: str) -> None:
    """In the middle within 6 ms, and nine of ten within 20."""
    errors = np.array(of_lines[group].onsets_ms)
    assert abs(np.median(errors)) < 6
    assert np.abs(np.percentile(errors, [5, 95])).max() < 20


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["staccato", "staccatissimo", "nonlegato"])
def test_phrases_whose_pattern_is_plain_are_heard(of_phrases: dict, kind: str) -> None:
    """At least 97 of a hundred notes are found, and as many of what is heard are notes."""
    tally = of_phrases[f"phrase, {kind}"]
    assert tally.true >= 40
    assert tally.right >= 0.97 * max(tally.true, tally.answered)


@pytest.mark.parametrize("midi", [46.0, 58.3, 69.0, 81.6])
def test_a_period_is_its_pitch(players: ModuleType, midi: float) -> None:
    """By arithmetic, from 440 Hz; a tenth of a semitone where a period is a dozen samples."""
    time = np.arange(1024) / players.RATE
    hertz = 440 * 2 ** ((midi - 69) / 12)
    waves = [np.sin(2 * np.pi * number * hertz * time) / number for number in (1, 2, 3)]
    assert players.period_midi(np.sum(waves, axis=0)) == pytest.approx(midi, abs=0.1)


def test_a_phrase_at_no_pulse_is_not_labelled(players: ModuleType, tmp_path: Path) -> None:
    """Eighteen tones apart at one pulse are a plain phrase; at chance times they are not."""
    import soundfile

    rng = np.random.default_rng(1)
    even = np.arange(18) * 0.45 + 0.2
    for name, onsets in (("even", even), ("free", np.cumsum(rng.uniform(0.3, 0.9, 18)))):
        sound = np.zeros(16 * players.RATE)
        for onset in onsets:
            time = np.arange(3200) / players.RATE
            first = round(onset * players.RATE)
            sound[first : first + 3200] += 0.3 * np.sin(880 * np.pi * time) * np.hanning(3200)
        soundfile.write(tmp_path / f"{name}.wav", sound, players.RATE)
    assert len(players.labelled(tmp_path / "even.wav")) == 18
    assert players.labelled(tmp_path / "free.wav") == []
