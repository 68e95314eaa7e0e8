"""The signs at notes: told apart without colour, in the box they say they fill.

Sizes are common practice, no source; SVG 1.1 for the polygons.
"""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.render.engraver import SPACE
from halfstep.render.note_signs import SIGNS, NoteSign
from halfstep.render.score_pictures import MM, draw_sign
from halfstep.score import LEADING, Mark

places = st.integers(-5000, 5000).map(float)


def polygons(svg: str) -> list[list[tuple[float, float]]]:
    root = ElementTree.fromstring(f"<svg>{svg}</svg>")
    return [
        [tuple(map(float, point.split(","))) for point in child.get("points", "").split()]
        for child in root
    ]


def test_every_mark_that_leads_and_the_changing_note_have_a_sign() -> None:
    """A breath is set from the music font, a tie is the engraver's."""
    signs = Mark.NONE
    for mark in SIGNS:
        signs |= mark
    assert signs == LEADING | Mark.CHANGING


@given(st.sampled_from(list(SIGNS)), places, places)
def test_a_sign_lies_in_its_box_around_its_middle(mark: Mark, x: float, y: float) -> None:
    sign = SIGNS[mark]
    box = sign.box(x, y)
    assert (box.left + box.right) / 2 == pytest.approx(x)
    assert (box.top + box.bottom) / 2 == pytest.approx(y)
    for across, down in (point for polygon in polygons(sign.svg(x, y)) for point in polygon):
        assert box.left < across < box.right
        assert box.top < down < box.bottom


@given(st.sampled_from(list(SIGNS)), places, places)
def test_a_sign_is_the_same_wherever_it_stands(mark: Mark, x: float, y: float) -> None:
    home, moved = (polygons(SIGNS[mark].svg(*place)) for place in ((0.0, 0.0), (x, y)))
    shifted = [[(a + x, b + y) for a, b in polygon] for polygon in home]
    assert [[pytest.approx(point, abs=0.11) for point in p] for p in shifted] == moved


@pytest.mark.parametrize(("one", "other"), list(combinations(SIGNS, 2)), ids=str)
def test_no_two_signs_are_alike_without_colour(one: Mark, other: Mark) -> None:
    first, second = SIGNS[one], SIGNS[other]
    assert (first.polygons, first.filled) != (second.polygons, second.filled)


def test_the_chromatic_flag_is_the_other_one_filled() -> None:
    scale, chromatic = SIGNS[Mark.LEADS], SIGNS[Mark.LEADS_CHROMATIC]
    assert scale.polygons == chromatic.polygons
    assert (scale.filled, chromatic.filled) == (False, True)
    assert 'fill="none"' in scale.svg(0, 0)
    assert 'fill="#000"' in chromatic.svg(0, 0)


def test_a_flag_points_to_the_right() -> None:
    """To the note it leads to: one tip on the right, two corners on the left."""
    ((*_, flag),) = [SIGNS[Mark.LEADS].polygons]
    tips = [across for across, _ in flag]
    assert sum(across == max(tips) for across in tips) == 1
    assert sum(across == min(tips) for across in tips) == 2


def test_an_enclosure_is_two_flags_that_meet() -> None:
    left, right = SIGNS[Mark.ENCLOSES].polygons
    assert [(-across, down) for across, down in left] == list(right)
    assert max(across for across, _ in left) == min(across for across, _ in right) == 0


def test_a_lozenge_has_four_corners_and_is_higher_than_wide() -> None:
    (lozenge,) = SIGNS[Mark.CHANGING].polygons
    assert len(lozenge) == 4
    wide = max(across for across, _ in lozenge) - min(across for across, _ in lozenge)
    high = max(down for _, down in lozenge) - min(down for _, down in lozenge)
    assert high > wide > SPACE / SPACE


def test_a_stroke_is_seen_in_any_print() -> None:
    """A fifth of a space, a third of a millimetre and more on our staff."""
    for sign in SIGNS.values():
        strokes = {float(s) for s in re.findall(r'stroke-width="([\d.]+)"', sign.svg(0, 0))}
        assert strokes == {0.2 * SPACE}
    assert 0.2 * SPACE * MM > 0.3


@pytest.mark.parametrize("mark", SIGNS, ids=str)
def test_the_picture_of_a_sign_is_as_large_as_its_box(mark: Mark) -> None:
    box = SIGNS[mark].box(0, 0)
    picture = draw_sign(mark)
    assert picture.height_mm == pytest.approx((box.bottom - box.top) * MM, abs=0.6)
    assert picture.width_mm == pytest.approx((box.right - box.left) * MM, abs=0.6)


def test_a_sign_of_many_polygons_has_one_box_around_all() -> None:
    far = NoteSign((((-1.0, 0.0), (0.0, 1.0), (0.0, 0.0)), ((0.0, 0.0), (2.0, 0.5), (2.0, 0.0))))
    box = far.box(0, 0)
    assert box.right == -box.left > 2 * SPACE
    assert box.bottom == -box.top > SPACE
