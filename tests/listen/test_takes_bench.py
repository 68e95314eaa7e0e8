"""The lines of the bench have the notes, tuning, noise and delay that they say they have.

The checks ask the sound itself, by spectrum, power and correlation.
"""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest


@pytest.fixture(scope="module")
def line(takes: ModuleType, bank: Path):
    return takes.take(bank, "alto-sax", 3)


def power(sound) -> float:
    return float(np.mean(np.square(sound)))


def test_a_line_is_the_same_each_time(takes, bank, line) -> None:
    again = takes.take(bank, "alto-sax", 3)
    assert again.notes == line.notes
    assert np.array_equal(again.sound, line.sound)


def test_notes_follow_one_another(line) -> None:
    onsets = [note.onset_s for note in line.notes]
    assert len(onsets) > 20
    assert min(np.diff(onsets)) > 0.04


@pytest.mark.parametrize("cents", [0.0, 45.0, -45.0])
def test_the_longest_note_sounds_at_its_pitch(takes, bank, cents) -> None:
    """Energy lies on the harmonics of the true pitch, more than on those of its neighbours."""
    detuned = takes.take(bank, "alto-sax", 3, cents=cents)
    note = max(detuned.notes, key=lambda n: n.offset_s - n.onset_s)
    begin, end = (round(s * takes.RATE) for s in (note.onset_s, note.offset_s))
    piece = detuned.sound[begin:end] * np.hanning(end - begin)
    spectrum = np.abs(np.fft.rfft(piece, 1 << 17))

    def on_harmonics(midi: float) -> float:
        hertz = 440 * 2 ** ((midi - 69) / 12) * np.arange(1, 5)
        return float(spectrum[np.round(hertz * (1 << 17) / takes.RATE).astype(int)].sum())

    around = np.arange(-60, 61, 5)
    best = around[np.argmax([on_harmonics(note.midi + c / 100) for c in around])]
    assert abs(best) <= 15


def test_before_the_first_note_there_is_silence(takes, line) -> None:
    first = round((line.notes[0].onset_s - 0.05) * takes.RATE)
    assert power(line.sound[:first]) < 1e-8


def test_noise_lies_as_far_under_the_line_as_asked(takes, line) -> None:
    noise = takes.with_noise(line, 20, 1).sound - line.sound
    assert 10 * np.log10(power(line.sound) / power(noise)) == pytest.approx(20, abs=0.1)


def test_the_backing_is_as_late_and_as_loud_as_asked(takes, line) -> None:
    backing = np.random.default_rng(1).normal(size=30 * takes.RATE)
    under = takes.with_backing(line, backing, -15, 0.25).sound - line.sound
    late = round(0.25 * takes.RATE)
    assert not under[:late].any()
    assert np.corrcoef(under[late:], backing[: len(under) - late])[0, 1] > 0.999
    level_db = 10 * np.log10(power(under[late:]) / power(line.sound))
    assert level_db == pytest.approx(-15, abs=0.2)


def test_a_room_dies_by_sixty_decibels_in_its_time(takes) -> None:
    """Decay between 5 and 25 dB, three times over: RT60 by T20 (ISO 3382, from memory)."""
    click = np.zeros(2 * takes.RATE)
    click[0] = 1
    tail = takes.in_room(takes.Take("", "", click, ()), 0.6, 3, 1).sound[1:]
    left_db = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2) + 1e-12)
    five, twenty_five = (np.argmax(left_db < -db) / takes.RATE for db in (5, 25))
    assert 3 * (twenty_five - five) == pytest.approx(0.6, rel=0.08)
    assert 10 * np.log10(np.sum(tail**2)) == pytest.approx(-3, abs=0.01)
