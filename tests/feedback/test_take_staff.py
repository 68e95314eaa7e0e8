"""How does a take stand on its player's staff?"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from feedback.played_takes import CHARTS, PlayedTone, line_of, played, take_of
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import laid_take
from halfstep.feedback.note_roles import note_roles
from halfstep.feedback.take_staff import TakeStaff, take_staff
from halfstep.notation import NOTE_VALUES, plain_beats, sounding_beats, tuplet_groups
from halfstep.score import Mark
from told_takes import a_take

F = Fraction


def struck(staff: TakeStaff) -> list[tuple[Fraction, int]]:
    """Where each note begins, and what it is, ties left out."""
    notes, tied = [], False
    for start, bar in zip(staff.starts, staff.score.bars, strict=True):
        at = start
        for note in bar.notes:
            if note.pitch and not tied:
                notes.append((at, note.pitch.midi))
            tied = Mark.TIE in note.marks
            at += note.beats
    return notes


def staff_of(take: JudgedTake) -> TakeStaff:
    pitches = [roled.pitch for roled in note_roles(laid_take(take))]
    return take_staff(take, pitches, title="take")


def at_places(places: list[Fraction], beats: float = 0.3, chart: str = "waltz") -> JudgedTake:
    """A take with a note at each of some places."""
    analysis, _ = line_of("scale", chart)
    take = take_of([PlayedTone(float(at), beats, 67) for at in places], analysis)
    notes = zip(take.notes, places, strict=True)
    return replace(take, notes=tuple(replace(note, place=at) for note, at in notes))


@pytest.mark.parametrize("chart", CHARTS)
def test_every_note_stands_where_it_was_meant_in_written_pitch(chart: str) -> None:
    take = a_take("alto-sax", chart)
    meant = [(note.place, note.midi + 9) for note in take.notes]
    assert struck(staff_of(take)) == meant


@pytest.mark.parametrize("chart", CHARTS)
def test_every_bar_that_is_played_in_is_there_and_is_full(chart: str) -> None:
    take = a_take("trombone", chart, passes=2)
    staff = staff_of(take)
    form = len(take.chart.form)
    assert [bar.number for bar in staff.score.bars] == [*range(1, form + 1)] * 2
    for bar in staff.score.bars:
        assert sounding_beats(bar) == bar.meter.bar_beats
    assert [bar.road.section for bar in staff.score.bars if bar.number == 1] == [
        "1st time", "2nd time",
    ]  # fmt: skip


def lengths(staff: TakeStaff, bar: int) -> list[str]:
    return [str(note.beats) for note in staff.score.bars[bar].notes]


THIRDS = ["2/3"] * 3


@pytest.mark.parametrize(
    ("places", "written"),
    [
        ([F(0), F(2, 3), F(4, 3), F(2), F(3)], [*THIRDS, "1", "1"]),
        ([F(0), F(1), F(2), F(8, 3), F(10, 3)], ["1", "1", *THIRDS]),
        ([F(0), F(1), F(5, 3), F(7, 3), F(3)], ["1", *THIRDS, "1"]),
        ([F(0), F(4, 3), F(2), F(3)], ["4/3", "2/3", "1", "1"]),
        ([F(0), F(1), F(8, 3), F(10, 3)], ["1", "1", *THIRDS]),
        ([F(0), F(1, 3), F(2, 3), F(4, 3), F(2), F(3)],
         ["1/3", "1/3", "1/3", "1/3", "2/3", "1", "1"]),
    ],
)  # fmt: skip
def test_a_triplet_of_quarters_is_three_quarters(places: list[F], written: list[str]) -> None:
    """Over two beats, wherever in the bar they are; a beat with a triplet of its own is none."""
    staff = staff_of(at_places(places, 1.4, chart="evening class"))
    assert lengths(staff, 0)[: len(written)] == written
    assert all(len(group) in {2, 3} for group in tuplet_groups(staff.score.bars[0]))


@pytest.mark.slow
def test_any_rhythm_is_written_in_lengths_that_there_are() -> None:
    """Seeds of a random hand: sixteenths, triplets and sextuplets in any order."""
    for seed in range(20):
        rng = random.Random(seed)
        units = [rng.choice([F(1, 4), F(1, 3), F(1, 6), F(1, 2), F(1)]) for _ in range(12)]
        places = sorted(
            {beat + rng.randrange(int(1 / unit)) * unit for beat, unit in enumerate(units)}
        )
        staff = staff_of(at_places(places, rng.uniform(0.1, 1.6)))
        for bar in staff.score.bars:
            assert sounding_beats(bar) == 3
            assert all(plain_beats(note.beats) in NOTE_VALUES for note in bar.notes), (seed, bar)
            in_tuplets = {place for group in tuplet_groups(bar) for place in group}
            thirds = {n for n, note in enumerate(bar.notes) if note.beats.denominator % 3 == 0}
            assert in_tuplets == thirds
        assert len(struck(staff)) == len(places)


def test_notes_too_close_to_be_written_are_counted() -> None:
    staff = staff_of(at_places([F(0), F(1, 8), F(1, 4), F(3, 8)]))
    assert staff.lost == 1
    assert len(struck(staff)) == 3


def test_what_comes_before_bar_1_stands_before_it() -> None:
    staff = staff_of(at_places([F(-1, 2), F(0)]))
    assert (staff.starts[0], staff.score.bars[0].number) == (F(-3), 0)
    assert struck(staff) == [(F(-1, 2), 76), (F(0), 76)]


def test_a_take_without_a_note_is_a_bar_of_rest() -> None:
    analysis, _ = line_of("scale", "waltz")
    staff = staff_of(take_of([], analysis))
    assert all(note.pitch is None for bar in staff.score.bars for note in bar.notes)


def test_passes_of_rest_before_the_first_note_are_left_out() -> None:
    analysis, line = line_of("scale", "waltz")
    form = float(analysis.chart.beats)
    tones = [replace(tone, onset=tone.onset + form) for tone in played(analysis, line)]
    staff = staff_of(take_of(tones, analysis))
    assert staff.starts[0] == analysis.chart.beats
    assert staff.score.bars[0].road.section == "2nd time"
