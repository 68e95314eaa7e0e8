"""Of several lines the first that tells its chords is taken, or else the best."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.line_choice import (
    MOST_DRAWN,
    MOST_OF_LAYOUT,
    Work,
    first_that_tells,
    outline_of_lines,
)
from halfstep.etude.prior_notes import Line, Note, PriorNotes, never_thrice
from halfstep.etude.slots import Slot
from halfstep.progression.chart import Chart
from typed_charts import read_chart_text

CHART = read_chart_text("| Dm7 | G7 | Cmaj7 | Cmaj7 |")
SHARED: Line = [62, 64, 67, 69] * 4
ROOTS: Line = [62, 65, 69, 72, 67, 71, 74, 77, 60, 64, 67, 71, 60, 64, 67, 71]
HALF: Line = [*ROOTS[:8], *SHARED[8:]]


def quarters(count: int) -> list[Slot]:
    return [Slot(Fraction(n), Fraction(1), None, strong=False, entry=0) for n in range(count)]


def drawn(lines: Sequence[Line], least: float, chart: Chart = CHART) -> tuple[Line, int]:
    """The line that is taken, and how many were drawn."""
    found: list[Line] = []

    def draw() -> Line:
        found.append(lines[len(found) % len(lines)])
        return found[-1]

    slots = quarters(len(lines[0]))
    return first_that_tells(least, draw, outline_of_lines(slots, chart), Work()), len(found)


def test_the_plain_arpeggio_tells_all_that_the_measure_asks() -> None:
    """1 3 5 7, up in each bar and not down in every other: about 1 by the measure's own words."""
    tell = outline_of_lines(quarters(16), CHART)
    told = [tell(line) or 0.0 for line in (SHARED, HALF, ROOTS)]
    assert told == sorted(told)
    assert told[0] < 0.4 < 0.8 < told[2]


def test_the_first_line_that_suffices_is_taken_and_no_other_drawn() -> None:
    assert drawn([ROOTS, SHARED], 0.5) == (ROOTS, 1)
    assert drawn([SHARED, SHARED, ROOTS, HALF], 0.8) == (ROOTS, 3)


def test_the_best_is_taken_where_none_suffices() -> None:
    line, count = drawn([SHARED, HALF, SHARED], 9.0)
    assert line == HALF
    assert count == ceil(MOST_DRAWN / len(SHARED))


@pytest.mark.parametrize("text", ["| Dm7 | % | % | % |", "| N.C. | % | % | % |"])
def test_a_chart_that_cannot_be_judged_has_the_first_line(text: str) -> None:
    assert drawn([SHARED, ROOTS], 0.5, read_chart_text(text)) == (SHARED, 1)


def test_a_line_of_rests_is_left_alone() -> None:
    assert drawn([[None] * 16, ROOTS], 0.5) == ([None] * 16, 1)


@pytest.mark.slow
@given(st.integers(1, 3 * MOST_DRAWN))
def test_no_line_is_drawn_after_as_many_notes_as_the_bound(count: int) -> None:
    _, lines = drawn([[62] * count], 9.0)
    assert lines == 1 or (lines - 1) * count < MOST_DRAWN


def test_of_one_of_several_layouts_fewer_are_drawn_and_none_after_all_of_the_work() -> None:
    work, tell, counts = Work(MOST_OF_LAYOUT), outline_of_lines(quarters(100), CHART), []
    while not work.is_done:
        count = 0

        def draw() -> Line:
            nonlocal count
            count += 1
            return [62] * 100

        work.begin_layout()
        first_that_tells(9.0, draw, tell, work)
        counts.append(100 * count)
    assert counts == [MOST_OF_LAYOUT, MOST_DRAWN - MOST_OF_LAYOUT]


def unchanged(line: list[Note], _priors: Sequence[PriorNotes]) -> list[Note]:
    return line


def test_a_bar_that_would_stand_three_times_is_drawn_again() -> None:
    """What is drawn again hears the third bar and all after it."""
    asked: list[Sequence[PriorNotes]] = []

    def draw(heard: Sequence[PriorNotes]) -> list[Note]:
        asked.append(list(heard))
        return [
            (Fraction(4 * bar), Fraction(4), 60 + (bar > 1 and bool(heard))) for bar in range(4)
        ]

    bars = [Fraction(4 * bar) for bar in range(4)]
    line = never_thrice(draw([]), draw, unchanged, lambda notes: notes, bars)
    assert [midi for _, _, midi in line] == [60, 60, 61, 61]
    assert len(asked) == 2
    assert asked[1][0].has([(Fraction(8), Fraction(4), 60), (Fraction(12), Fraction(4), 60)])
    assert not asked[1][0].has([(Fraction(4), Fraction(4), 60)])


def test_where_nothing_else_is_allowed_the_bar_stands() -> None:
    """The search for another ends."""
    notes = [(Fraction(4 * bar), Fraction(4), 60) for bar in range(3)]
    bars = [note[0] for note in notes]
    assert never_thrice(notes, lambda _: notes, unchanged, lambda each: each, bars) == notes
