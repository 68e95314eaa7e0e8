"""Whatever stands on a line of music, and however large it is printed: nothing touches."""

from __future__ import annotations

import re

import pytest
from crowded_scores import SIZES, PrintedSize, faults, part_of

from halfstep.render.score_pictures import STAFF_MM, draw_systems, fitted_lines, score_svg

FEW, MANY = range(4), 30


@pytest.mark.sampled
@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
@pytest.mark.parametrize("seed", FEW)
def test_nothing_touches_or_sticks_out_at_any_size(seed: int, size: PrintedSize):
    assert faults(seed, size) == []


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
def test_nothing_touches_in_hundreds_of_parts(size: PrintedSize):
    """Each size has parts of its own; `bench/collisions.py` draws all of them in every size."""
    first = 1000 + MANY * SIZES.index(size)
    assert [fault for seed in range(first, first + MANY) for fault in faults(seed, size)] == []


@pytest.mark.parametrize("seed", [9, 47, 49, 53, 110])
def test_what_once_touched_stands_apart(seed: int):
    """Long names of sections, squares with words, chords under a high sharp, a bar too wide."""
    assert [fault for size in SIZES for fault in faults(seed, size)] == []


def test_a_bar_too_wide_for_the_largest_staff_has_all_its_lines_on_a_lower_one():
    """Part 49 has a bar of sixteenths with double accidentals."""
    size = SIZES[-1]
    lines, scale = fitted_lines(part_of(49, size), size.width_mm, size.staff_mm / STAFF_MM)
    assert 0.5 * size.staff_mm < scale * STAFF_MM < size.staff_mm
    assert len({line.staff.bottom - line.staff.top for line in lines}) == 1


@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
def test_no_picture_is_wider_than_its_room(size: PrintedSize):
    pictures = draw_systems(part_of(9, size), width_mm=size.width_mm, staff_mm=size.staff_mm)
    assert all(picture.width_mm <= size.width_mm + 0.01 for picture in pictures)


def test_a_whole_picture_is_as_wide_as_it_says():
    svg = score_svg(part_of(49, SIZES[-1]), width_mm=60.0)
    assert float(re.search(r'width="([\d.]+)mm"', svg)[1]) < 75.0
