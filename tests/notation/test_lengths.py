"""How a length is written: in values that one note can have, cut so that the beat is seen.

The tables are common practice of engraving, no source, but where a check names one.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.meter import Meter
from halfstep.notation import (
    NOTATED_LENGTHS,
    NOTE_VALUES,
    NoteValue,
    is_whole_rest,
    lengths_at,
    notated_lengths,
    note_value,
    onsets,
    sounding_beats,
)
from halfstep.score import ScoreBar, ScoreNote
from strategies import GROUPED, meters
from written_scores import COMMON, THIRD, line, rhythm

WALTZ, FIVE, SIX, SEVEN, TWELVE = (Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(7, 8), Meter(12, 8))


# Values


@pytest.mark.parametrize(
    ("beats", "value"),
    [
        ("4", NoteValue(1)),
        ("3", NoteValue(2, 1)),
        ("2", NoteValue(2)),
        ("3/2", NoteValue(4, 1)),
        ("1", NoteValue(4)),
        ("3/4", NoteValue(8, 1)),
        ("1/2", NoteValue(8)),
        ("1/4", NoteValue(16)),
    ],
)
def test_a_length_has_its_value(beats: str, value: NoteValue) -> None:
    """MusicXML 4.0: a quarter is one quarter note, and a dot adds half of it."""
    bar = rhythm(beats)
    assert note_value(bar, bar.notes[0]) == value
    plain = Fraction(4, value.divisor)
    assert Fraction(beats) == plain * Fraction(2 ** (value.dots + 1) - 1, 2**value.dots)


def test_the_values_go_from_long_to_short() -> None:
    assert list(NOTATED_LENGTHS) == sorted(NOTATED_LENGTHS, reverse=True)
    assert set(NOTATED_LENGTHS) == set(NOTE_VALUES)


@pytest.mark.parametrize(("beats", "divisor"), [("1/3", 8), ("2/3", 4), ("1/6", 16), ("4/3", 2)])
def test_a_note_of_a_triplet_has_the_value_it_has_outside(beats: str, divisor: int) -> None:
    """Three eighths in the time of two: each is an eighth and lasts a third of a beat."""
    bar = rhythm(beats)
    assert note_value(bar, bar.notes[0]) == NoteValue(divisor)


@pytest.mark.parametrize(("beats", "number"), [("5/2", 3), ("5", 12), ("1/8", 1), ("5/3", 7)])
def test_a_length_that_no_note_has_names_its_bar(beats: str, number: int) -> None:
    bar = rhythm(beats, number=number)
    with pytest.raises(
        ValueError, match=f"bar {number}: no single note lasts {beats} beats; tie two"
    ):
        note_value(bar, bar.notes[0])


# Bars


def test_a_bar_of_one_rest_is_a_whole_rest_whatever_its_length() -> None:
    assert is_whole_rest(rhythm("(4)"))
    assert is_whole_rest(rhythm("(3)", WALTZ))


@pytest.mark.parametrize("bar", [rhythm("4"), rhythm("(2) (2)"), rhythm("(2)", number=0)])
def test_a_note_two_rests_and_a_pickup_are_none(bar: ScoreBar) -> None:
    assert not is_whole_rest(bar)


def test_onsets_add_up_the_lengths() -> None:
    bar = rhythm("1 1/3 1/3 1/3 2")
    assert onsets(bar) == (0, 1, 1 + THIRD, 1 + 2 * THIRD, 2)
    assert sounding_beats(bar) == 4


def test_a_bar_of_nothing_lasts_nothing() -> None:
    assert sounding_beats(ScoreBar(1, COMMON, ())) == 0


def test_a_pickup_lasts_as_long_as_its_notes() -> None:
    assert sounding_beats(ScoreBar(0, COMMON, line("C5 D5 E5", Fraction(1, 2)))) == Fraction(3, 2)


# Lengths without a place


@pytest.mark.parametrize(
    ("beats", "written"),
    [
        ("5/2", "2 1/2"),
        ("7/2", "3 1/2"),
        ("5/4", "1 1/4"),
        ("7/4", "3/2 1/4"),
        ("5", "4 1"),
        ("13/2", "4 2 1/2"),
        ("9/4", "2 1/4"),
        ("7/3", "2 1/3"),
        ("4/3", "1 1/3"),
        ("5/3", "1 2/3"),
        ("10/3", "3 1/3"),
        ("1/8", "1/8"),
        ("3/8", "1/4 1/8"),
        ("1/16", "1/16"),
        ("1/32", "1/32"),
        ("5/32", "1/8 1/32"),
        ("3/64", "1/32 1/64"),
        ("1/5", "1/5"),
        ("6/5", "1 1/5"),
    ],
)
def test_a_length_is_written_in_values_the_longest_first(beats: str, written: str) -> None:
    """A part of a tuplet comes last; thirty-seconds and shorter come from charts of others."""
    assert notated_lengths(Fraction(beats)) == [Fraction(word) for word in written.split()]


def test_no_length_is_written_as_nothing() -> None:
    assert notated_lengths(Fraction(0)) == []


@given(st.integers(1, 400), st.sampled_from((1, 2, 4, 8, 16, 32, 3, 6, 12)))
def test_what_is_written_lasts_as_long(count: int, divisor: int) -> None:
    beats = Fraction(count, divisor)
    written = notated_lengths(beats)
    assert sum(written) == beats
    whole = [length for length in written if length.denominator % 3]
    assert whole == sorted(whole, reverse=True)


# Lengths at a place


def written_at(meter: Meter, at: str, beats: str, *, rest: bool = False) -> str:
    return " ".join(map(str, lengths_at(meter, Fraction(at), Fraction(beats), rest=rest)))


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
        (COMMON, "0", "4", "4"),
        (COMMON, "0", "5/2", "2 1/2"),
        (COMMON, "0", "7/2", "3 1/2"),
        (COMMON, "1", "3/2", "1 1/2"),
        (COMMON, "1/2", "7/2", "1/2 1 2"),
        (COMMON, "1/2", "2", "1/2 1 1/2"),
        (COMMON, "2/3", "4/3", "1/3 1"),
        (COMMON, "1/3", "2/3", "2/3"),
        (COMMON, "1/4", "1/2", "1/2"),
        (COMMON, "1/4", "1", "3/4 1/4"),
        (COMMON, "3/4", "1/2", "1/4 1/4"),
        (COMMON, "5/2", "1", "1"),
        (COMMON, "5/2", "3/2", "3/2"),
        (COMMON, "2", "2", "2"),
        (COMMON, "3", "1", "1"),
        (COMMON, "3/2", "2", "1/2 3/2"),
        (COMMON, "3/2", "5/2", "1/2 2"),
        (WALTZ, "1/2", "5/2", "1/2 2"),
        (WALTZ, "1/2", "3/2", "3/2"),
        (WALTZ, "1/2", "2", "1/2 3/2"),
        (WALTZ, "0", "3", "3"),
        (WALTZ, "1", "2", "2"),
        (WALTZ, "0", "5/2", "2 1/2"),
        (FIVE, "2", "2", "1 1"),
        (FIVE, "0", "5", "3 2"),
        (FIVE, "0", "4", "3 1"),
        (FIVE, "3", "2", "2"),
        (Meter(5, 4, (2, 3)), "0", "5", "2 3"),
        (Meter(2, 2), "1", "2", "2"),
        (Meter(2, 2), "0", "4", "4"),
        (Meter(2, 2), "3/2", "1", "1/2 1/2"),
        (Meter(2, 2), "1", "3", "1 2"),
        (Meter(3, 2), "2", "4", "2 2"),
        (SIX, "0", "3", "3"),
        (SIX, "0", "2", "3/2 1/2"),
        (SIX, "1", "2", "1/2 3/2"),
        (SIX, "1/2", "1", "1"),
        (SIX, "3/2", "3/2", "3/2"),
        (SIX, "1", "1", "1/2 1/2"),
        (SEVEN, "1", "1", "1/2 1/2"),
        (SEVEN, "0", "7/2", "3/2 1 1"),
        (SEVEN, "3/2", "2", "2"),
        (SEVEN, "0", "3/2", "3/2"),
        (TWELVE, "3/2", "3/2", "3/2"),
        (TWELVE, "5/2", "2", "1/2 3/2"),
        (TWELVE, "0", "6", "3/2 3/2 3/2 3/2"),
        (TWELVE, "0", "3", "3"),
        (TWELVE, "3/2", "3", "3"),
        (Meter(9, 8), "0", "9/2", "3/2 3/2 3/2"),
        (Meter(8, 8, (3, 3, 2)), "0", "4", "4"),
        (Meter(8, 8, (3, 3, 2)), "1", "1", "1/2 1/2"),
        (Meter(3, 8), "0", "3/2", "3/2"),
    ],
    ids=str,
)
def test_a_length_is_cut_where_the_beat_must_show(
    meter: Meter, at: str, beats: str, written: str
) -> None:
    assert written_at(meter, at, beats) == written


@pytest.mark.parametrize(
    ("meter", "at", "beats", "written"),
    [
        (COMMON, "1", "2", "1 1"),
        (COMMON, "0", "3", "2 1"),
        (COMMON, "1/2", "1", "1/2 1/2"),
        (COMMON, "0", "3/2", "1 1/2"),
        (COMMON, "0", "2", "2"),
        (COMMON, "2", "2", "2"),
        (COMMON, "1/2", "7/2", "1/2 1 2"),
        (COMMON, "1/4", "3/4", "1/2 1/4"),
        (COMMON, "0", "3/4", "1/2 1/4"),
        (WALTZ, "0", "2", "2"),
        (WALTZ, "1", "2", "2"),
        (Meter(2, 2), "1", "2", "1 1"),
        (SIX, "0", "5/2", "3/2 1"),
        (SIX, "1/2", "1", "1/2 1/2"),
        (SIX, "0", "3/2", "3/2"),
        (SIX, "1", "2", "1/2 3/2"),
        (SIX, "0", "1", "1"),
        (SIX, "2", "1", "1/2 1/2"),
        (SEVEN, "0", "3/2", "1 1/2"),
        (SEVEN, "3/2", "2", "2"),
    ],
    ids=str,
)
def test_rests_show_more_of_the_beat(meter: Meter, at: str, beats: str, written: str) -> None:
    assert written_at(meter, at, beats, rest=True) == written


places = st.integers(0, 23).map(lambda n: Fraction(n, 4))
spans = st.integers(1, 24).map(lambda n: Fraction(n, 4))
any_meter = st.one_of(meters(), st.sampled_from((*GROUPED, Meter(3, 2))))


def cut(meter: Meter, at: Fraction, beats: Fraction, *, rest: bool) -> tuple[Fraction, list]:
    """The start brought into the bar, and the lengths of what fits behind it."""
    start = at % meter.bar_beats
    return start, lengths_at(meter, start, min(beats, meter.bar_beats - start), rest=rest)


@given(any_meter, places, spans, st.booleans())
def test_any_length_is_written_whole(
    meter: Meter, at: Fraction, beats: Fraction, rest: bool
) -> None:
    start, written = cut(meter, at, beats, rest=rest)
    assert sum(written) == min(beats, meter.bar_beats - start)
    assert all(length in NOTATED_LENGTHS for length in written)


@pytest.mark.slow
@given(any_meter, places, spans, st.booleans())
def test_in_grouped_metres_no_value_hides_the_next_group(
    meter: Meter, at: Fraction, beats: Fraction, rest: bool
) -> None:
    """But a note of whole groups."""
    start, written = cut(meter, at, beats, rest=rest)
    lines = {*meter.strong_beats, meter.bar_beats}
    if meter.unit < 8 and len(set(meter.groups)) == 1:
        return
    for length in written:
        hidden = [edge for edge in meter.strong_beats if start < edge < start + length]
        assert not hidden or {start, start + length} <= lines
        start += length


@given(places, spans)
def test_a_rest_in_a_simple_metre_has_no_dot_and_hides_no_group(
    at: Fraction, beats: Fraction
) -> None:
    start, written = cut(COMMON, at, beats, rest=True)
    assert not {Fraction(3), Fraction(3, 2), Fraction(3, 4)} & set(written)
    for length in written:
        assert not start < 2 < start + length or length == 4
        start += length


@given(any_meter, places, spans)
def test_a_rest_has_at_least_as_many_pieces_as_a_note(
    meter: Meter, at: Fraction, beats: Fraction
) -> None:
    _, note = cut(meter, at, beats, rest=False)
    _, rest = cut(meter, at, beats, rest=True)
    assert len(rest) >= len(note)


def test_what_is_written_is_what_note_value_can_write() -> None:
    for meter in (COMMON, WALTZ, FIVE, SIX, SEVEN, TWELVE):
        bar = ScoreBar(1, meter, ())
        for quarters in range(1, int(meter.bar_beats * 4) + 1):
            for length in lengths_at(meter, Fraction(0), Fraction(quarters, 4)):
                assert note_value(bar, ScoreNote(None, length)) == NOTE_VALUES[length]
