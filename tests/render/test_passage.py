"""Notes laid out in the time of a file, before anyone balances them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from halfstep.instruments import INSTRUMENTS
from halfstep.meter import Clock
from halfstep.played import PlayedPart
from halfstep.render import sampler
from halfstep.render.known_banks import find_bank
from halfstep.render.passage import (
    FilePlan,
    LaidFile,
    PartLayout,
    PartNotes,
    faded,
    folded,
    frames_at,
    heard,
)
from halfstep.render.room import Bus
from halfstep.render.sampler import FRAME_RATE
from render.bands import line_of, note

EVEN = Clock(120.0)


def plan_of(beats: int, *, clock: Clock = EVEN, block: int = 1) -> FilePlan:
    return FilePlan(
        clock=clock,
        beats=Fraction(beats),
        count_in_frames=FRAME_RATE,
        starts=tuple(frames_at(clock, Fraction(beats * n)) for n in range(block + 1)),
        choruses=block,
    )


def block_of(part: PlayedPart, plan: FilePlan) -> np.ndarray:
    """Middle and side of a part's block, with its tail."""
    return PartLayout(PartNotes(part), plan, find_bank()).block()


def test_folding_adds_what_rings_past_the_end() -> None:
    sound = np.arange(14, dtype=np.float32).reshape(7, 2).T
    assert folded(sound, 3)[0].tolist() == [0 + 6 + 12, 2 + 8, 4 + 10]


@pytest.mark.parametrize("frames", [1, 3, 7, 100])
@pytest.mark.parametrize("length", [0, 1, 50, 99, 100, 101, 350])
def test_folding_loses_no_sound(frames: int, length: int) -> None:
    """The sum of all frames stays what it was, and each lands at its place in the chorus."""
    sound = np.random.default_rng(length).normal(size=(2, length)).astype(np.float32)
    chorus = folded(sound, frames)
    assert chorus.shape == (2, frames)
    assert np.allclose(chorus.sum(axis=1), sound.sum(axis=1), atol=1e-4)
    for place in range(0, frames, 13):
        assert np.allclose(chorus[:, place], sound[:, place::frames].sum(axis=1), atol=1e-4)


@pytest.fixture
def even_strokes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every stroke as it is written: their small differences go by their number."""
    monkeypatch.setattr(sampler, "STROKE_DB", 0.0)
    monkeypatch.setattr(sampler, "STROKE_TIMBRE", 0.0)


@pytest.mark.usefixtures("even_strokes")
def test_a_chorus_is_the_middle_of_many() -> None:
    """Three choruses played as one long part hold the folded chorus in their middle."""
    beats = Fraction(4)
    once = line_of(4, note(0, 1, 60), note(3.5, 0.5, 67))
    later = [replace(m, onset=m.onset + n * beats) for n in (1, 2) for m in once.notes]
    chorus = folded(block_of(once, plan_of(4)), 2 * FRAME_RATE)
    long = block_of(line_of(4, *once.notes, *later), plan_of(4, block=3))
    assert np.allclose(long[:, 2 * FRAME_RATE : 4 * FRAME_RATE], chorus, atol=1e-6)


@pytest.mark.usefixtures("even_strokes")
def test_what_follows_the_block_is_what_would_ring_into_the_next_one() -> None:
    """Played thrice and then no more, the tail is that of the long part."""
    beats = Fraction(4)
    once = line_of(4, note(0, 1, 60), note(3.5, 0.5, 67))
    later = [replace(m, onset=m.onset + n * beats) for n in (1, 2) for m in once.notes]
    layout = PartLayout(PartNotes(once), plan_of(4), find_bank())
    after = layout.after(layout.block())
    long = block_of(line_of(4, *once.notes, *later), plan_of(12))[:, 6 * FRAME_RATE :]
    ring = min(after.shape[1], long.shape[1])
    assert np.abs(after[:, :ring]).max() > 0.01
    assert np.allclose(after[:, :ring], long[:, :ring], atol=1e-5)


def test_notes_start_where_the_clock_says() -> None:
    """Swing of 2 puts the off-beat eighth at two thirds of the beat."""
    part = PlayedPart("drums", 0, True, (note(0.5, 0.25, 37), note(1, 0.25, 37)))
    sound = np.abs(block_of(part, plan_of(2, clock=Clock(120.0, 2.0)))).max(axis=0)
    first = np.flatnonzero(sound > 0.01 * sound.max())[0]
    assert first == pytest.approx(2 / 3 * FRAME_RATE / 2, abs=100)


@pytest.mark.parametrize("late_s", [-0.05, 0.0, 0.02])
def test_a_note_is_late_by_what_it_says_and_never_before_its_chorus(late_s: float) -> None:
    struck = replace(note(4, 0.25, 37), late_s=late_s)
    sound = block_of(PlayedPart("drums", 0, True, (struck,)), plan_of(4, block=2))
    first = np.flatnonzero(np.abs(sound).max(axis=0) > 1e-3)[0]
    assert first == pytest.approx(2 * FRAME_RATE + max(0, late_s) * FRAME_RATE, abs=100)


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda i: i.key)
def test_every_instrument_sounds_over_its_whole_range(instrument) -> None:
    widest = instrument.compasses[-1]
    for written in (widest.low, widest.high):
        midi = instrument.concert(written).midi
        sound = block_of(line_of(instrument.program, note(0, 1, midi)), plan_of(1))
        assert np.abs(sound[:, : FRAME_RATE // 2]).max() > 0.005


@pytest.mark.parametrize(
    ("beat", "swing", "frame"),
    [("0", 1.0, 0), ("1", 1.0, 22_050), ("1/2", 1.0, 11_025), ("1/2", 2.0, 14_700),
     ("-1", 1.0, -22_050), ("1/3", 1.0, 7_350), ("3/2", 2.0, 36_750)],
)  # fmt: skip
def test_a_beat_has_its_frame(beat: str, swing: float, frame: int) -> None:
    """120 beats a minute: half a second, 22 050 frames."""
    assert frames_at(Clock(120.0, swing), Fraction(beat)) == frame


def test_a_sound_fades_to_nothing_at_its_end_alone() -> None:
    sound = np.full((2, 4410), 0.25, np.float32)
    out = faded(sound, 0.03)
    fade = round(0.03 * FRAME_RATE)
    assert not out[:, -1].any()
    assert np.all(out[:, :-fade] == 0.25)
    assert np.all(np.diff(out[0, -fade:]) < 0)
    assert not faded(sound[:, :1], 0.03).any()


def test_the_count_in_ends_at_the_bar_line_and_the_block_has_none_of_it() -> None:
    """Whatever rings on from it, in the room too."""
    plan = plan_of(4)
    loud, silent = (
        Bus(np.full((2, frames), level, np.float32), np.full(frames, level, np.float32))
        for frames, level in ((FRAME_RATE, 0.25), (2 * FRAME_RATE, 0.0))
    )
    rest = Bus(silent.dry[:, : plan.after_frames], silent.send[: plan.after_frames])
    sound = heard(LaidFile(loud, silent, rest), plan)
    assert np.abs(sound[:, : FRAME_RATE // 2]).max() > 0.01
    assert not sound[:, FRAME_RATE - 1 :].any()


@pytest.mark.parametrize("program", [32, 65, 71])
def test_a_note_is_heard_on_its_beat_and_ends_where_it_should(program: int) -> None:
    """A beat lasts half a second; what is set going before it sounds so much longer."""
    start, end = (block_of(line_of(program, note(at, 1, 60)), plan_of(4)) for at in (1, 2))
    first, later = (int(np.flatnonzero(np.abs(s).max(0))[0]) for s in (start, end))
    assert later - first == FRAME_RATE // 2
    assert 0 < FRAME_RATE // 2 - first <= FRAME_RATE // 50 + 1
    at_once = block_of(line_of(program, note(0, 1, 60)), plan_of(4))
    last = [int(np.flatnonzero(np.abs(s).max(0) > 1e-5)[-1]) for s in (at_once, start)]
    assert last[1] - last[0] == pytest.approx(FRAME_RATE // 2, abs=FRAME_RATE // 50)
