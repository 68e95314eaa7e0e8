"""When the band plays: swing, lag and spread, held against what was counted on recordings.

Sources: the ride's medians and quartiles, bass and piano medians, and bass after drums were
counted on 34 trios annotated by hand (Cheston et al., MIT licence), see the table in
`halfstep.backing.swing_tables`; the figures are written out here once more.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import mean, median, quantiles, stdev

import pytest

from halfstep.backing.band_time import EVEN_TIME, SWING_TIME, SWUNG_SIXTEENTHS_TIME, in_time
from halfstep.meter import Clock
from halfstep.played import PlayedNote, PlayedPart

RIDES = {60: 2.37, 100: 2.37, 140: 2.55, 180: 1.95, 220: 1.45, 280: 1.45}
QUARTILES = {100: (2.05, 2.84), 160: (2.24, 2.87), 200: (1.67, 2.22), 250: (1.19, 1.85)}
BASSES = {100: 2.46, 160: 2.12, 200: 1.80, 250: 1.51}
PIANOS = {100: 1.71, 160: 1.56, 200: 1.41, 250: 1.17}


def eighths(name: str, beats: int = 2000, *, part: Fraction = Fraction(1, 2)) -> PlayedPart:
    notes = (PlayedNote(part * n, part, 51, 80) for n in range(int(beats / part)))
    return PlayedPart(name, 0, name == "drums", tuple(notes))


def times(part: PlayedPart, bpm: float, *, swings: bool = True, seed: int = 0) -> list[float]:
    """Seconds of the notes where the player puts them; the clock of the lesson swings too."""
    clock = Clock(bpm, 1.6)
    time = SWING_TIME.of(part.name)
    placed = in_time(part, time=time, clock=clock, swings=swings, random=Random(seed))
    return [clock.seconds(note.onset) + note.late_s for note in placed.notes]


def ratios(part: PlayedPart, bpm: float) -> list[float]:
    """Long to short of each beat."""
    starts = times(part, bpm)
    pairs = zip(starts[::2], starts[1::2], starts[2::2], strict=False)
    return [(middle - start) / (end - middle) for start, middle, end in pairs]


@pytest.mark.sampled
@pytest.mark.parametrize(("bpm", "counted"), RIDES.items())
def test_the_ride_swings_as_it_was_counted(bpm: int, counted: float) -> None:
    assert median(ratios(eighths("drums"), bpm)) == pytest.approx(counted, abs=0.1)


@pytest.mark.parametrize(("bpm", "counted"), QUARTILES.items())
def test_the_ride_keeps_its_spread(bpm: int, counted: tuple[float, float]) -> None:
    lower, _, upper = quantiles(ratios(eighths("drums"), bpm), n=4)
    assert (lower, upper) == pytest.approx(counted, abs=0.2)


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("name", "bpm", "counted"),
    [("bass", *row) for row in BASSES.items()] + [("chords", *row) for row in PIANOS.items()],
)
def test_bass_and_chords_swing_by_tables_of_their_own(name: str, bpm: int, counted: float) -> None:
    assert median(ratios(eighths(name), bpm)) == pytest.approx(counted, abs=0.15)


@pytest.mark.sampled
@pytest.mark.parametrize("bpm", RIDES)
def test_the_bass_is_behind_the_drums_by_three_milliseconds(bpm: int) -> None:
    bass = times(eighths("bass", 800), bpm, seed=5)[2::2]
    drums = times(eighths("drums", 800), bpm, seed=6)[2::2]
    behind_ms = [1000 * (low - stroke) for low, stroke in zip(bass, drums, strict=True)]
    assert 0 <= mean(behind_ms) <= 6
    assert 10 <= stdev(behind_ms) <= 20


def test_a_metre_without_pairs_does_not_swing() -> None:
    starts = times(eighths("drums"), 120, swings=False)
    assert [start - n * 0.25 for n, start in enumerate(starts)] == pytest.approx(
        [0] * len(starts), abs=0.02
    )


def test_triplets_stay_thirds() -> None:
    starts = times(eighths("drums", 400, part=Fraction(1, 3)), 120)
    gaps = [(b - a) / 0.5 for a, b in pairwise(starts)]
    assert mean(gaps[::3]) == pytest.approx(1 / 3, abs=0.005)
    assert mean(gaps[1::3]) == pytest.approx(1 / 3, abs=0.005)


def test_sixteenths_swing_inside_even_eighths() -> None:
    part = eighths("drums", 400, part=Fraction(1, 4))
    clock = Clock(100)
    time = SWUNG_SIXTEENTHS_TIME.drums
    placed = in_time(part, time=time, clock=clock, swings=True, random=Random(2))
    places = [(clock.seconds(n.onset) + n.late_s) / 0.6 % 1 for n in placed.notes[1:]]
    assert median(places[0::4]) == pytest.approx(0.5 * 1.4 / 2.4, abs=0.01)
    assert median(places[1::4]) == pytest.approx(0.5, abs=0.01)


def test_what_is_struck_together_stays_together() -> None:
    """No two notes of a chord are heard apart: the ear parts bass and guitar from 31 ms on."""
    onsets = (Fraction(n) for n in range(300))
    notes = tuple(PlayedNote(o, Fraction(1), m, 70) for o in onsets for m in (52, 59, 62, 67))
    part = PlayedPart("chords", 0, False, notes)
    placed = in_time(part, time=EVEN_TIME.chords, clock=Clock(90), swings=True, random=Random(1))
    lates = [note.late_s for note in placed.notes]
    rolls = [max(lates[n : n + 4]) - min(lates[n : n + 4]) for n in range(0, len(lates), 4)]
    assert 0.001 < median(rolls) < 0.015
    assert max(rolls) < 0.031


@pytest.mark.parametrize("name", ["drums", "bass", "chords"])
def test_nothing_begins_before_the_first_beat_and_the_seed_decides(name: str) -> None:
    part = eighths(name, 8)
    runs = [times(part, 100, seed=seed) for seed in range(60)]
    assert min(run[0] for run in runs) >= 0
    assert times(part, 100, seed=3) == runs[3] != runs[4]
