"""Cells: 1 2 3 5 and its mirror forms through the changes; common practice, no source."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest
from briefs_over_charts import brief_over, midis_of
from hypothesis import given
from hypothesis import strategies as st
from step_lines import CADENCE, CHARTS, HALVES, broken_rules, line_of, midi, notes_of, words_on

from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.steps.cells import (
    CELL,
    FOLDED,
    FORMS,
    LATER,
    TURNED,
    _in_form,
    _is_turned,
    _lowered,
    _shapes,
    _spans,
    _whole_cells,
    cell_forms,
    cell_roots,
)  # fmt: skip
from halfstep.etude.written_etude import Etude

FALLING = "key: F\n| C7 | F7 |"
MIRROR = "every cell is 1 2 3 5 or a mirror form of it"
TURNS = "two cells of one chord do not go the same way in a row"
C_CELL = [0, 2, 4, 7]


def test_the_forms_are_four_and_each_is_another_backwards() -> None:
    assert len(set(FORMS)) == 4
    assert all(sorted(form) == [0, 1, 2, 3] for form in FORMS)
    assert FORMS[1] == FORMS[0][::-1]
    mirrors = [tuple(3 - step for step in form) for form in FORMS]
    assert mirrors[0] == FORMS[1]


@pytest.mark.parametrize("form", [*permutations(range(4))])
def test_of_all_orders_of_the_cell_only_the_forms_pass(form: tuple[int, ...]) -> None:
    """C D E G in the octave from middle C."""
    cell = midis_of("C4 D4 E4 G4")
    assert _in_form([cell[step] for step in form], C_CELL, folded=False) is (form in FORMS)


@pytest.mark.parametrize(
    ("notes", "whole", "folded"),
    [
        ("C4 D4 E4 G4", True, True),
        ("G4 E4 D4 C4", True, True),
        ("D4 E4 G4 C5", False, True),  # built on the second
        ("C4 D4 E4 D4", False, True),  # without its fifth
        ("C4 D4 E4 F4", False, False),
        ("C4 D4", True, True),
        ("C4 E4", False, False),
        ("C4", True, True),
    ],
)
def test_a_small_range_may_turn_a_cell_and_leave_out_its_fifth(
    notes: str, whole: bool, folded: bool
) -> None:
    assert _in_form(midis_of(notes), C_CELL, folded=False) is whole
    assert _in_form(midis_of(notes), C_CELL, folded=True) is folded


@pytest.mark.parametrize(
    ("chart", "spans"),
    [
        ("| C7 |", [(0, 2), (2, 4)]), ("| C7 F7 |", [(0, 2)]), ("meter: 3/4\n| C7 |", [(0, 3)]),
        ("meter: 5/4\n| C7 |", [(0, 2), (2, 5)]), ("meter: 7/4\n| C7 |", [(0, 2), (2, 4), (4, 7)]),
    ],
)  # fmt: skip
def test_every_two_beats_have_a_cell_and_what_is_left_joins_the_last(
    chart: str, spans: list[tuple[int, int]]
) -> None:
    assert list(_spans(brief_over(chart).cut[0])) == spans


@given(st.permutations(range(4)), st.integers(1, 4), st.booleans())
def test_the_form_that_is_drawn_first_is_the_cheapest_of_its_kind(
    forms: list[int], count: int, folded: bool
) -> None:
    shapes = list(_shapes(forms, count, folded=folded))
    assert len(shapes) == (8 if folded else 4)
    plain = shapes[::2] if folded else shapes
    for rank, (form, shape) in enumerate(zip(forms, plain, strict=True)):
        assert shape.offsets == FORMS[form][:count]
        assert shape.cost == LATER * rank + TURNED * (form in {2, 3})
        assert shape.offsets[shape.base] == min(shape.offsets)
    for whole, short in zip(shapes[::2], shapes[1::2], strict=True):
        if folded:
            assert short.cost == whole.cost + FOLDED
            assert max(short.offsets) <= 2


def test_roots_are_counted_that_have_a_whole_cell_above_them() -> None:
    brief = brief_over("| C7 |").brief
    ladder = midis_of("C4 D4 E4 G4 C5 D5 E5 G5")
    assert _whole_cells(0, ladder, brief) == 2
    assert _whole_cells(0, ladder[:-1], brief) == 1
    assert _whole_cells(0, ladder[1:4], brief) == 0
    few = brief_over("| C7 |", known="C4 D4 E4 G4 C5").brief
    assert _whole_cells(0, ladder, few) == 1


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C4 D4 E4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,", set()),
        ("G4 C4 D4 E4 E4 D4 C4 G4 | F4 G4 A4 C5 A4 G4 F4-,", set()),  # turned inside
        ("G4 D4 C4 E4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,", {MIRROR}),
        ("G4 C4 D4 E4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,", set()),
        ("C4 D4 E4 G4 C4 D4 E4 G4 | F4 G4 A4 C5 A4 G4 F4-,", {TURNS}),
        ("G4 E4 D4 C4 C4 D4 E4 G4 | C5 A4 G4 F4 F4 G4 A4-,", set()),
        ("C4 D4 E4 G4 E4 D4 C4 G4 | F4 G4 A4 C5 A4 G4 F4-,", set()),
        ("C4 D4 E4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 D5 A4 F4-,",
         {MIRROR, "only the root, second, third and fifth"}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("cells", FALLING, line) == broken


def begun(etude: Etude, note: EtudeNote) -> Fraction:
    """Where a note stands among those of its chord: with it, where it comes early."""
    return max(note.onset, etude.analysis.chords[note.chord].span.start)


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_written_cells_are_forms_of_1_2_3_5(chart: str, seed: int) -> None:
    request = brief_over(chart, seed=seed, level="advanced")
    etude = line_of("cells", request)
    for piece in request.cut:
        for start, stop in _spans(piece):
            cell = [n for n in etude.notes if start <= begun(etude, n) < stop and n.degree]
            if len(cell) == CELL:
                numbers = tuple(n.degree.number for n in cell if n.degree)
                assert set(numbers) == {1, 2, 3, 5}
                order = np.argsort(np.argsort([midi(note) for note in cell]))
                assert tuple(order.tolist()) in FORMS


def test_a_half_bar_has_one_cell_in_eighths() -> None:
    notes = notes_of("cells", HALVES, level="beginner")
    assert [note.chord for note in notes] == [n // 4 for n in range(28)] + [7] * 3
    assert [note.beats for note in notes] == [Fraction(1, 2)] * 30 + [1]


def test_roots_and_forms_are_told() -> None:
    line = "C4 D4 E4 G4 G4 E4 D4 C4 | C5 A4 G4 F4 F4 G4 A4-,"
    assert words_on(cell_roots, "cells", FALLING, line) == "The cells are built on C and F."
    assert words_on(cell_forms, "cells", FALLING, line) == (
        "The cell goes up in bar 1 (C D E G) and comes down in bar 2 (C A G F)."
    )
    turned = "G4 C4 D4 E4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,"
    assert words_on(cell_forms, "cells", FALLING, turned) == (
        "The cell is mixed in bar 1 (G C D E) and goes up in bar 2 (F G A C)."
    )


@given(st.lists(st.integers(-3, 9), min_size=1, max_size=6))
def test_a_shape_is_lowered_to_0(offsets: list[int]) -> None:
    lowered = _lowered(offsets)
    assert min(lowered) == 0
    assert np.diff(lowered).tolist() == np.diff(offsets).tolist()


def test_a_cell_that_has_no_room_is_turned_and_said_so() -> None:
    etude = line_of("cells", brief_over(CADENCE, low="E4", high="D5"))
    assert any("in another order" in notice.text for notice in etude.notices)
    assert line_of("cells", brief_over(CADENCE, level="advanced")).notices == ()


@pytest.mark.parametrize(
    ("names", "turned"),
    [
        ("C4 D4 E4 G4", False),
        ("G4 E4 D4 C4", False),
        ("D4 E4 G4 C5", True),  # the root is not below
        ("C4 D4 E4 D4", True),  # one note twice
        ("D4 E4 D4 E4", True),
        ("C4 D4 E4", False),  # no whole cell
    ],
)
def test_a_teacher_is_told_of_cells_that_are_not_four_notes_from_the_root_up(
    names: str, turned: bool
) -> None:
    """Over C7, whatever their order."""
    palette = brief_over("key: F\n| C7 |").palette(0)
    notes = [
        EtudeNote(
            Fraction(n, 2), Fraction(1, 2), palette.pitch(midi), 0, palette.degrees[midi % 12]
        )
        for n, midi in enumerate(midis_of(names))
    ]
    assert _is_turned(notes) is turned
    assert not _is_turned(notes[1:4])  # no whole cell
