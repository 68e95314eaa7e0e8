"""How lengths are written: triplets are three in the time of two and one group to the
engraver, and a note that would hide the beat is cut and tied.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.meter import Meter
from halfstep.notation import (
    NOTATED_LENGTHS,
    NoteValue,
    beam_groups,
    lengths_at,
    notated_lengths,
    note_value,
    tuplet_groups,
)
from halfstep.pitch import parse_pitch
from halfstep.render.mei import _notes
from halfstep.score import Barline, ScoreBar, ScoreNote

THIRD = Fraction(1, 3)


def bar_of(*beats: Fraction | int) -> ScoreBar:
    notes = tuple(ScoreNote(parse_pitch("C5"), Fraction(each)) for each in beats)
    return ScoreBar(1, Meter(4, 4), notes, chords=(), barline=Barline.SINGLE)


def test_a_third_of_a_beat_is_an_eighth_of_a_triplet() -> None:
    bar = bar_of(THIRD, THIRD, THIRD, 3)
    assert note_value(bar, bar.notes[0]) == NoteValue(8)
    assert note_value(bar_of(2 * THIRD, THIRD, 3), ScoreNote(None, 2 * THIRD)) == NoteValue(4)


@pytest.mark.parametrize(
    ("beats", "groups"),
    [
        ((THIRD, THIRD, THIRD, 3), ((0, 1, 2),)),
        ((1, 2 * THIRD, THIRD, 2), ((1, 2),)),
        ((THIRD,) * 6 + (2,), ((0, 1, 2), (3, 4, 5))),
        ((1, 1, 2), ()),
    ],
)
def test_a_triplet_is_a_group_of_a_whole_beat(
    beats: tuple[Fraction, ...], groups: tuple[tuple[int, ...], ...]
) -> None:
    assert tuplet_groups(bar_of(*beats)) == groups


def test_the_engraver_is_told_of_three_in_the_time_of_two_under_one_beam() -> None:
    bar = bar_of(THIRD, THIRD, THIRD, 3)
    written = _notes(bar, (None,) * 4, "n")
    assert written.startswith('<tuplet num="3" numbase="2"')
    assert written.count("</beam></tuplet>") == 1
    assert beam_groups(bar)[0] == (0, 1, 2)


def test_a_length_ends_with_what_belongs_to_a_triplet() -> None:
    assert notated_lengths(Fraction(7, 3)) == [2, THIRD]
    assert notated_lengths(Fraction(4, 3)) == [1, THIRD]


COMMON, WALTZ, FIVE = Meter(4, 4), Meter(3, 4), Meter(5, 4)
SIX, SEVEN, TWELVE = Meter(6, 8), Meter(7, 8), Meter(12, 8)


@pytest.mark.parametrize(
    ("meter", "at", "beats", "written"),
    [
        (COMMON, "1/2", "1", "1"),
        (COMMON, "1/2", "3/2", "3/2"),
        (COMMON, "3/2", "1", "1/2 1/2"),
        (COMMON, "3/2", "3/2", "1/2 1"),
        (COMMON, "1", "2", "2"),
        (COMMON, "1", "3", "1 2"),
        (COMMON, "0", "3", "3"),
        (COMMON, "0", "5/2", "2 1/2"),
        (COMMON, "1", "3/2", "1 1/2"),
        (COMMON, "1/2", "7/2", "1/2 1 2"),
        (COMMON, "2/3", "4/3", "1/3 1"),
        (WALTZ, "1/2", "5/2", "1/2 2"),
        (WALTZ, "0", "3", "3"),
        (FIVE, "2", "2", "1 1"),
        (FIVE, "0", "5", "3 2"),
        (SIX, "0", "3", "3"),
        (SIX, "0", "2", "3/2 1/2"),
        (SIX, "1", "2", "1/2 3/2"),
        (SEVEN, "1", "1", "1/2 1/2"),
        (TWELVE, "3/2", "3/2", "3/2"),
        (TWELVE, "5/2", "2", "1/2 3/2"),
    ],
)
def test_a_length_is_cut_where_the_beat_must_show(
    meter: Meter, at: str, beats: str, written: str
) -> None:
    """Common practice of engraving, no source."""
    found = lengths_at(meter, Fraction(at), Fraction(beats))
    assert found == [Fraction(each) for each in written.split()]


@pytest.mark.parametrize(
    ("meter", "at", "beats", "written"),
    [
        (COMMON, "1", "2", "1 1"),
        (COMMON, "0", "3", "2 1"),
        (COMMON, "1/2", "1", "1/2 1/2"),
        (COMMON, "0", "3/2", "1 1/2"),
        (SIX, "0", "5/2", "3/2 1"),
        (SIX, "1/2", "1", "1/2 1/2"),
    ],
)
def test_rests_show_more_of_the_beat(meter: Meter, at: str, beats: str, written: str) -> None:
    """Common practice of engraving, no source."""
    found = lengths_at(meter, Fraction(at), Fraction(beats), rest=True)
    assert found == [Fraction(each) for each in written.split()]


@given(
    st.sampled_from([COMMON, WALTZ, FIVE, SIX, SEVEN, TWELVE, Meter(2, 2), Meter(3, 2)]),
    st.integers(0, 23),
    st.integers(1, 24),
    st.booleans(),
)
def test_any_length_is_written_whole(meter: Meter, at: int, count: int, rest: bool) -> None:
    """In values that one note can have; in grouped metres no value hides the next group."""
    start = Fraction(at, 4) % meter.bar_beats
    beats = min(Fraction(count, 4), meter.bar_beats - start)
    found = lengths_at(meter, start, beats, rest=rest)
    assert sum(found) == beats
    assert all(each in NOTATED_LENGTHS for each in found)
    if meter.unit >= 8 or meter is FIVE:
        for length in found:
            hidden = [edge for edge in meter.strong_beats if start < edge < start + length]
            lines = {*meter.strong_beats, meter.bar_beats}
            assert not hidden or {start, start + length} <= lines
            start += length
