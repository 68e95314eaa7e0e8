"""How a soloist places a line: behind the beat, tongued and slurred.

Sources: counted on 12,619 pairs of eighths of published solo tables (MIT licence), see the
module; Hofmann & Goebl 2014 for the tongue.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import mean, median, stdev

import pytest

from halfstep.backing.line_time import EVEN_LINE, LEGATO_LINE, SWUNG_LINE, LineTime, line_in_time
from halfstep.meter import Clock
from halfstep.played import PlayedNote, PlayedPart, Slur

LAGS_MS = {100: 60, 145: 41, 175: 35, 205: 29, 240: 16, 280: 7}
HALF = Fraction(1, 2)


def line(beats: int = 1200, *, part: Fraction = HALF) -> PlayedPart:
    """Steps up and down, so that nothing but the place decides what is tongued."""
    keys = (60, 62, 64, 65, 67, 65, 64, 62)
    notes = (PlayedNote(part * n, part, keys[n % 8], 88) for n in range(int(beats / part)))
    return PlayedPart("line", 65, False, tuple(notes))


def spans(
    part: PlayedPart, bpm: float, time: LineTime = SWUNG_LINE, *, swings: bool = True
) -> list[tuple[float, float]]:
    """Start and end of each note in seconds."""
    clock = Clock(bpm, 1.7)
    placed = line_in_time(part, time=time, clock=clock, swings=swings, random=Random(4))
    return [
        (
            clock.seconds(note.onset) + note.late_s,
            clock.seconds(note.onset + note.beats) + note.late_s + note.longer_s,
        )
        for note in placed.notes
    ]


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(("bpm", "lag_ms"), LAGS_MS.items())
def test_notes_on_the_beat_come_late_as_they_were_counted(bpm: int, lag_ms: int) -> None:
    starts = [start for start, _ in spans(line(), bpm)][::2]
    late_ms = [1000 * (start - n * 60 / bpm) for n, start in enumerate(starts)]
    assert mean(late_ms) == pytest.approx(lag_ms, abs=4)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("bpm", [100, 140, 180, 210, 240, 280])
def test_notes_off_the_beat_lie_at_three_fifths(bpm: int) -> None:
    starts = [start for start, _ in spans(line(), bpm)][1::2]
    places = [start * bpm / 60 - n for n, start in enumerate(starts)]
    low, high = (0.60, 0.64) if bpm < 220 else (0.56, 0.60)
    assert low <= median(places) <= high


def gaps(bpm: float, time: LineTime = SWUNG_LINE) -> tuple[list[float], list[float]]:
    """Silence after notes on the beat, and after those off it, in seconds."""
    played = spans(line(), bpm, time)
    silences = [after[0] - before[1] for before, after in pairwise(played)]
    return silences[::2], silences[1::2]


@pytest.mark.slow
@pytest.mark.parametrize("bpm", [80, 140, 200])
def test_the_tongue_lies_on_the_reed_for_35_milliseconds(bpm: int) -> None:
    """Off-beats are tongued and on-beats slurred to (common practice, no source)."""
    before_off_beats, before_beats = gaps(bpm)
    assert 1000 * median(before_off_beats) == pytest.approx(34.5, abs=2)
    tongued_ms = [1000 * gap for gap in before_off_beats if gap < 0.055]
    assert 4 <= stdev(tongued_ms) <= 8
    assert median(before_beats) == pytest.approx(0, abs=1e-9)


@pytest.mark.slow
def test_a_fifth_of_the_off_beats_is_short() -> None:
    played = spans(line(4000), 160)
    gaps_s = [after[0] - before[0] for before, after in pairwise(played)]
    shares = [(end - start) / gap for (start, end), gap in zip(played, gaps_s, strict=False)]
    short = [share < 0.7 for share in shares]
    assert mean(short[1::2]) == pytest.approx(0.191, abs=0.01)
    assert mean(short[::2]) == pytest.approx(0.079, abs=0.01)
    assert 0.15 < mean(short[1:129:2]) < 0.24, "in sixteen bars, too"


def test_repeated_notes_and_leaps_are_tongued_everywhere() -> None:
    keys = (60, 60, 72, 60)
    part = PlayedPart(
        "line", 65, False, tuple(PlayedNote(HALF * n, HALF, k, 88) for n, k in enumerate(keys))
    )
    played = spans(part, 100, LEGATO_LINE)
    assert all(after[0] - before[1] > 0.015 for before, after in pairwise(played))


def test_a_note_sounds_however_fast_it_is() -> None:
    sixteenths = spans(line(400, part=Fraction(1, 4)), 300)
    assert min(end - start for start, end in sixteenths) > 0.01


@pytest.mark.slow
def test_even_eighths_stay_even_and_legato_has_no_gaps() -> None:
    starts = [start for start, _ in spans(line(), 120, EVEN_LINE)]
    assert [start - n / 4 for n, start in enumerate(starts)] == pytest.approx(
        [0.008] * len(starts), abs=0.02
    )
    assert max(map(max, gaps(100, LEGATO_LINE))) < 1e-9


@pytest.mark.slow
def test_a_metre_without_pairs_does_not_swing() -> None:
    starts = [start for start, _ in spans(line(), 120, swings=False)]
    assert [start - n / 4 for n, start in enumerate(starts)] == pytest.approx(
        [0] * len(starts), abs=0.02
    )


def test_rests_and_breaths_stay_as_long_as_they_are() -> None:
    notes = (PlayedNote(Fraction(0), Fraction(3, 4), 60, 88), PlayedNote(Fraction(1), HALF, 62, 88))
    clock = Clock(100)
    placed = line_in_time(
        PlayedPart("line", 65, False, notes),
        time=SWUNG_LINE, clock=clock, swings=True, random=Random(0),
    )  # fmt: skip
    assert [note.longer_s for note in placed.notes] == pytest.approx([0, 0], abs=1e-9)


def test_a_line_that_says_what_is_slurred_is_tongued_as_it_says() -> None:
    """In every manner: notes marked as slurred meet, the others have a gap before them."""
    slurs = (Slur.INTO, Slur.FROM, Slur.NONE, Slur.INTO, Slur.FROM | Slur.INTO, Slur.FROM)
    keys = (60, 72, 71, 69, 67, 67)
    notes = tuple(
        PlayedNote(Fraction(n), Fraction(1), key, 88, slur=slur)
        for n, (key, slur) in enumerate(zip(keys, slurs, strict=True))
    )
    for time in (SWUNG_LINE, EVEN_LINE, LEGATO_LINE):
        played = spans(PlayedPart("line", 65, False, notes), 100, time)
        gaps_s = [after[0] - before[1] for before, after in pairwise(played)]
        assert [gap > 0.01 for gap in gaps_s] == [False, True, True, False, False]


@pytest.mark.slow
def test_of_slurred_lines_as_many_eighths_are_short_where_that_can_be() -> None:
    """What is slurred on is not cut; the next of its kind is, so that the counted share stays."""
    slurs = (Slur.FROM, Slur.INTO, Slur.FROM, Slur.NONE)
    notes = tuple(replace(n, slur=slurs[k % 4]) for k, n in enumerate(line(4000).notes))
    played = spans(PlayedPart("line", 65, False, notes), 160)
    rooms = [after[0] - before[0] for before, after in pairwise(played)]
    shares = [(end - start) / room for (start, end), room in zip(played, rooms, strict=False)]
    assert max(shares[1::4]) == pytest.approx(1.0)
    assert mean(share < 0.7 for share in shares[1::2]) == pytest.approx(0.191, abs=0.01)
