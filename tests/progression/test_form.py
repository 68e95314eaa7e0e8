"""Repeats, endings and jumps, in the order of playing; pickups and odd bars."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Meter
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import play_order, played_bars
from halfstep.progression.notations.musicxml_reader import read_musicxml
from halfstep.progression.sheet import LeadSheet, Marks, WrittenBar
from halfstep.progression.symbol import parse_symbol

M = Marks
FIRST = M(ending=(1,), ending_stops=True, backward=2)
SECOND = M(ending=(2,), ending_stops=True)
FOUR = Meter(4, 4)


def played(*marks: Marks) -> list[int]:
    return [place + 1 for place in play_order(marks)[0]]


# the unofficial MusicXML test suite (MIT) gives the files; the order is worked out by hand
# from its descriptions and from the rules in the module's docstring
SUITE = {
    "45a-SimpleRepeat.xml": [1, 1, 1, 1, 1, 2],
    "45b-RepeatWithAlternatives.xml": [1, 2, 1, 3, 4],
    "45c-RepeatMultipleTimes.xml": [1, *[2, 3] * 5, *[4, 5, 6, 7] * 3, 8],
    "45d-Repeats-Nested-Alternatives.xml": [1, 2, 1, 3, 4, 5, 1, 6, 7, 8, 9, 1, 10, 1, 11, 12],
    "45e-Repeats-Nested-Alternatives.xml": [1, 2, 1, 3, 4, 5, 5, 6, 7, 6, 8, 9, 8, 9, 10],
    "45f-Repeats-InvalidEndings.xml": [1, 2, 4, 1, 2, 3, 4, 5],
    "45g-Repeats-NotEnded.xml": [1, 2],
}


def suite_sheet(path: Path) -> LeadSheet:
    """A file that need not have chords."""
    return read_musicxml(path.read_bytes(), melody_will_do=True)


@pytest.mark.parametrize("name", SUITE)
def test_suite_files_unroll(name: str, reference_data: Path) -> None:
    sheet = suite_sheet(reference_data / "musicxml-test-suite" / name)
    assert played(*(bar.marks for bar in sheet.bars)) == SUITE[name]


@pytest.mark.parametrize("name", ["45f-Repeats-InvalidEndings.xml", "45g-Repeats-NotEnded.xml"])
def test_a_broken_repeat_carries_a_notice(name: str, reference_data: Path) -> None:
    sheet = suite_sheet(reference_data / "musicxml-test-suite" / name)
    assert play_order([bar.marks for bar in sheet.bars])[1]


def test_a_repeat_never_opened_goes_back_to_just_after_the_last_one() -> None:
    marks = [M(), M(forward=True), M(backward=5), M(), M(), M(), M(backward=3), M()]
    order = played(*marks)
    assert order == [1, *[2, 3] * 5, *[4, 5, 6, 7] * 3, 8]
    assert len(order) == 24


def test_a_repeat_inside_a_repeat_is_played_again_each_time() -> None:
    marks = [M(forward=True), M(forward=True), M(backward=2), M(backward=2), M()]
    assert played(*marks) == [1, 2, 3, 2, 3, 4, 1, 2, 3, 2, 3, 4, 5]


def test_a_first_ending_alone_is_left_out_the_second_time() -> None:
    assert played(M(), FIRST, M()) == [1, 2, 1, 3]


def test_one_ending_for_two_passes_is_left_out_on_the_third() -> None:
    both = M(ending=(1, 2), ending_stops=True, backward=2)
    assert played(M(), both, M()) == [1, 2, 1, 2, 1, 3]


def test_after_a_second_ending_a_new_repeat_starts_there() -> None:
    assert played(M(), FIRST, SECOND, M(), M(backward=2)) == [1, 2, 1, 3, 4, 5, 4, 5]


def test_endings_are_obeyed_before_and_after_a_jump_to_the_sign() -> None:
    marks = [
        M(),
        M(forward=True, segno=True, to_coda=True),
        FIRST,
        M(ending=(2,), ending_stops=True, dal_segno=True),
        M(coda=True),
    ]
    assert played(*marks) == [1, 2, 3, 2, 4, 2, 5]


def test_da_capo_al_fine_takes_no_repeats_and_stops_at_fine() -> None:
    marks = [M(forward=True), M(backward=2), M(fine=True), M(da_capo=True)]
    assert played(*marks) == [1, 2, 1, 2, 3, 4, 1, 2, 3]


def test_after_da_capo_the_ending_with_fine_is_played() -> None:
    first = M(ending=(1,), ending_stops=True, backward=2, fine=True)
    assert played(M(), first, SECOND, M(da_capo=True)) == [1, 2, 1, 3, 4, 1, 2]


def test_a_jump_without_its_goal_goes_straight_on_and_says_so() -> None:
    order, notices = play_order([M(), M(dal_segno=True), M()])
    assert order == (0, 1, 2)
    assert "without a segno" in notices[0]


def test_endless_playing_is_refused() -> None:
    marks = [M(forward=True)] * 12 + [M(backward=100)] * 12
    with pytest.raises(ReadError, match="more than 2000 bars"):
        play_order(marks)


MARKS = st.builds(
    Marks,
    forward=st.booleans(),
    backward=st.sampled_from([0, 0, 2, 3]),
    ending=st.sampled_from([(), (), (1,), (2,), (1, 2), (3,)]),
    ending_stops=st.booleans(),
    segno=st.booleans(),
    coda=st.booleans(),
    to_coda=st.booleans(),
    fine=st.booleans(),
    da_capo=st.booleans(),
    dal_segno=st.booleans(),
)


def order_or_refusal(marks: list[Marks]) -> tuple[int, ...]:
    try:
        return play_order(marks)[0]
    except ReadError:
        return ()


@pytest.mark.slow
@settings(max_examples=500)
@given(st.lists(MARKS, min_size=1, max_size=12))
def test_any_marks_come_to_an_end_or_are_refused(marks: list[Marks]) -> None:
    order = order_or_refusal(marks)
    assert len(order) <= 2000
    assert set(order) <= set(range(len(marks)))


@given(st.integers(1, 30))
def test_a_page_without_marks_is_played_once_through(count: int) -> None:
    assert play_order([M()] * count) == (tuple(range(count)), ())


def bar(number: str, beats: int, chord: str = "", *, irregular: bool = False) -> WrittenBar:
    chords = (ChordAt(parse_symbol(chord), Fraction(0)),) if chord else ()
    return WrittenBar(number, FOUR, Fraction(beats), chords, irregular=irregular)


def test_a_short_first_bar_is_a_pickup_though_the_page_numbers_it_one() -> None:
    bars, notices = played_bars([bar("1", 1), bar("2", 4, "C"), bar("3", 4, "F")])
    assert [(b.number, b.beats, b.written) for b in bars] == [(0, 1, 1), (1, 4, 2), (2, 4, 3)]
    assert "read as a pickup" in notices[0]


def test_a_last_bar_that_makes_up_for_the_pickup_is_whole() -> None:
    bars, notices = played_bars([bar("0", 1), bar("1", 4, "C"), bar("2", 3, "F")])
    assert [b.beats for b in bars] == [1, 4, 4]
    assert "counted as a whole bar" in notices[-1]


def test_a_pickup_inside_the_repeat_is_played_once() -> None:
    order, _ = play_order([M(forward=True), M(), M(backward=2)], first=1)
    assert order == (0, 1, 2, 1, 2)


def test_the_chord_of_the_pickup_ends_the_bar_that_goes_back() -> None:
    back = bar("2", 3, "F")._replace(marks=M(backward=2))
    bars, _ = played_bars([bar("0", 1, "G"), bar("1", 4, "C"), back])
    assert [[str(c.symbol) for c in b.chords] for b in bars[1:]] == [
        ["C"],
        ["F", "G"],
        ["C"],
        ["F"],
    ]


def test_two_halves_of_a_bar_become_one() -> None:
    halves = [bar("1", 4, "C"), bar("2", 2, "F"), bar("X1", 2, "G", irregular=True)]
    bars, _ = played_bars(halves)
    assert [b.beats for b in bars] == [4, 4]
    assert [(str(c.symbol), c.at) for c in bars[1].chords] == [("F", 0), ("G", 2)]


def test_an_overlong_bar_gets_a_metre_of_its_own() -> None:
    bars, notices = played_bars([bar("1", 4, "C"), bar("2", 5, "F")])
    assert bars[1].meter == Meter(5, 4)
    assert "read as a bar of 5/4" in notices[0]


@given(st.lists(st.integers(0, 7), min_size=1, max_size=8), st.booleans())
def test_every_bar_of_the_form_is_as_long_as_its_metre_says(
    lengths: list[int], irregular: bool
) -> None:
    written = [bar(str(n), b, "C", irregular=irregular) for n, b in enumerate(lengths, 1)]
    bars, _ = played_bars(written)
    assert all(b.beats == b.meter.bar_beats for b in bars if b.number >= 1)
    assert all(0 <= c.at < b.beats for b in bars for c in b.chords)
