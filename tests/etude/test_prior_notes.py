"""What was written before is recognised bar by bar; a bar may come twice and not three times."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typed_lines import typed

from halfstep.etude.prior_notes import (
    IN_VAIN,
    MOST_REDRAWN,
    ROUNDS,
    TWICE,
    Note,
    PriorNotes,
    never_thrice,
    third_times,
)
from halfstep.etude.slots import Slot

BARS = [Fraction(4 * n) for n in range(32)]
CHART = "key: F\n| C7 | F7 | C7 | F7 |"


def bars_of_one_note(midis: Sequence[int]) -> list[Note]:
    return [(Fraction(4 * n), Fraction(4), midi) for n, midi in enumerate(midis)]


def slot(onset: int, beats: int) -> Slot:
    return Slot(Fraction(onset), Fraction(beats), None, strong=True, entry=0)


def test_a_note_is_known_by_where_it_is_how_long_and_how_high() -> None:
    prior = PriorNotes([(Fraction(0), Fraction(1), 60), (Fraction(1), Fraction(1), 62)])
    assert prior.has([(Fraction(0), Fraction(1), 60)])
    assert not prior.has([(Fraction(0), Fraction(1), 61)])
    assert not prior.has([(Fraction(0), Fraction(2), 60)])
    assert not prior.has([(Fraction(0), Fraction(1), 60), (Fraction(2), Fraction(1), 62)])
    assert prior.has([])


@pytest.mark.parametrize(
    ("places", "midis"),
    [([(0, 1), (1, 1)], [60, 62]), ([(1, 1)], [62]), ([(0, 2)], None), ([(0, 1), (2, 1)], None)],
)
def test_prior_notes_are_asked_for_by_their_places(
    places: list[tuple[int, int]], midis: list[int] | None
) -> None:
    prior = PriorNotes([(Fraction(0), Fraction(1), 60), (Fraction(1), Fraction(1), 62)])
    assert prior.midis([slot(*place) for place in places]) == midis


def test_where_an_etude_rests_nothing_is_asked_for() -> None:
    etude, slots = typed("one-line", CHART, "C5-- r-- | A4----, | C5-- E5-- | F5----")
    prior = PriorNotes((n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch)
    sounds = [n for n, place in enumerate(slots) if place.palette]
    assert prior.midis([slots[n] for n in sounds]) == [72, 69, 72, 76, 77]
    assert prior.midis(slots) is None


@settings(max_examples=40)
@given(st.lists(st.integers(60, 62), min_size=1, max_size=8))
def test_the_third_bar_of_its_kind_and_every_later_one_is_told(midis: list[int]) -> None:
    again = [bar[0][0] for bar in third_times(bars_of_one_note(midis), BARS)]
    late = [4 * n for n, midi in enumerate(midis) if midis[:n].count(midi) >= TWICE]
    assert again == late


def test_bars_are_alike_when_their_notes_are_wherever_the_bar_lies() -> None:
    moved = [(Fraction(4 * n + 1, 1), Fraction(1), 60) for n in range(3)]
    assert len(list(third_times(moved, BARS))) == 1
    moved[2] = (Fraction(10), Fraction(1), 60)  # a beat later in its bar
    assert list(third_times(moved, BARS)) == []


def drawing(lines: list[list[int]]) -> tuple[list[int], list[int]]:
    """The line that is taken, and how many priors each drawing was given."""
    given_priors: list[int] = []

    def draw(priors: Sequence[PriorNotes]) -> list[int]:
        given_priors.append(len(priors))
        return lines[min(len(given_priors), len(lines)) - 1]

    return never_thrice(draw(()), draw, unchanged, bars_of_one_note, BARS), given_priors


def unchanged(line: list[int], _priors: Sequence[PriorNotes]) -> list[int]:
    return line


def test_a_line_without_a_third_time_is_taken_at_once() -> None:
    assert drawing([[60, 60, 61, 61]]) == ([60, 60, 61, 61], [0])


def test_what_stands_three_times_is_held_against_the_next_line() -> None:
    assert drawing([[60, 60, 60, 61], [60, 60, 61, 61]]) == ([60, 60, 61, 61], [0, 1])


def test_of_lines_that_all_have_it_the_one_with_the_fewest_stands() -> None:
    line, priors = drawing([[60] * 6, [60, 60, 60, 61, 61, 62], [60] * 6])
    assert line == [60, 60, 60, 61, 61, 62]
    assert priors == list(range(1 + IN_VAIN))
    _, priors = drawing([[60] * count for count in range(2 * ROUNDS, TWICE, -1)])
    assert priors == list(range(ROUNDS))


def test_where_other_notes_for_those_bars_are_enough_no_line_is_drawn() -> None:
    """They are asked for until there are none, or no fewer."""
    asked: list[list[bool]] = []

    def redraw(line: list[int], priors: Sequence[PriorNotes]) -> list[int]:
        again = [priors[-1].has([note]) for note in bars_of_one_note(line)]
        asked.append(again)
        late = [n for n, stands in enumerate(again) if stands]
        return [midi + 1 if n == late[-1] else midi for n, midi in enumerate(line)]

    def draw(_priors: Sequence[PriorNotes]) -> list[int]:
        pytest.fail("a whole line is drawn")

    line = never_thrice([60, 60, 60, 60, 62], draw, redraw, bars_of_one_note, BARS)
    assert line == [60, 60, 61, 61, 62]
    assert asked == [[False, False, True, True, False], [False, False, True, False, False]]


def test_of_a_line_with_very_many_such_bars_none_is_drawn_anew() -> None:
    """Else the time would grow with what cannot be helped."""
    bars = [Fraction(4 * n) for n in range(MOST_REDRAWN + TWICE + 1)]
    line = [60] * len(bars)

    def redraw(_line: list[int], _priors: Sequence[PriorNotes]) -> list[int]:
        pytest.fail("bars are drawn anew")

    assert never_thrice(line, lambda _: line, redraw, bars_of_one_note, bars) == line
