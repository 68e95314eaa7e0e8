"""Whatever stands on a line of music, and however large it is printed: nothing touches."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from crowded_scores import SIZES, PrintedSize, faults, faults_of, part_of

from halfstep.render.score_pictures import STAFF_MM, draw_systems, fitted_lines, score_svg
from halfstep.score import PlaceSign, Road, ScoreBar, SignShape
from written_scores import COMMON, line, part, rhythm

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


SIXTEENTHS = " ".join(("F##5", "Ebb5", "C##6", "Abb4") * 4)
WIDE = part(ScoreBar(1, COMMON, line(SIXTEENTHS, "1/4 " * 16)), rhythm("4", number=2), fifths=-7)
SIGNS = tuple(PlaceSign(Fraction(at, 2), SignShape.HALF, "wrong note") for at in range(8))
ONCE = {
    "a long name over the last bar": part(
        *(rhythm("4", number=number) for number in (1, 2, 3)),
        replace(rhythm("4", number=4), road=Road(section="Solos on A, then the melody")),
    ),
    "squares with words beside each other": part(replace(rhythm("1/2 " * 8), signs=SIGNS)),
    "a segno after a name in a narrow bar": part(
        rhythm("1/4 " * 16),
        replace(rhythm("4", number=2), road=Road(section="Bridge", signs=("segno", "coda"))),
    ),
    "a bar of sixteenths with double signs": WIDE,
}


@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
@pytest.mark.parametrize("name", ONCE)
def test_what_once_touched_stands_apart(name: str, size: PrintedSize):
    assert faults_of(replace(ONCE[name], bars_a_system=size.bars_a_line), size) == []


def test_a_bar_too_wide_for_the_largest_staff_has_all_its_lines_on_a_lower_one():
    size = SIZES[-1]
    score = replace(WIDE, bars_a_system=1)
    lines, scale = fitted_lines(score, size.width_mm, size.staff_mm / STAFF_MM)
    assert 0.4 * size.staff_mm < scale * STAFF_MM < size.staff_mm
    assert len(lines) == 2
    assert len({line.staff.bottom - line.staff.top for line in lines}) == 1


@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
def test_no_picture_is_wider_than_its_room(size: PrintedSize):
    pictures = draw_systems(part_of(9, size), width_mm=size.width_mm, staff_mm=size.staff_mm)
    assert all(picture.width_mm <= size.width_mm + 0.01 for picture in pictures)


def test_a_whole_picture_is_as_wide_as_it_says():
    svg = score_svg(WIDE, width_mm=60.0)
    assert float(re.search(r'width="([\d.]+)mm"', svg)[1]) < 75.0
