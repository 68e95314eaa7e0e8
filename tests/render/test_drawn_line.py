"""Boxes, and what a line of music knows of its shapes.

Geometry by construction and by brute force.
"""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from halfstep.render.drawn_line import Box, DrawnLine, hull

sides = st.integers(-50, 50)
boxes = st.builds(
    lambda x, y, wide, high: Box(x, y, x + wide, y + high),
    sides, sides, st.integers(1, 40), st.integers(1, 40),
)  # fmt: skip


# Boxes


@given(boxes, boxes)
def test_boxes_meet_where_they_share_a_point_inside_both(one: Box, other: Box) -> None:
    """By brute force over the half units of a grid."""
    grid = [n + 0.5 for n in range(-50, 90)]
    across = any(max(one.left, other.left) < x < min(one.right, other.right) for x in grid)
    down = any(max(one.top, other.top) < y < min(one.bottom, other.bottom) for y in grid)
    assert one.meets(other) == (across and down)


@given(boxes, boxes, st.integers(0, 20))
def test_meeting_goes_both_ways_and_a_gap_makes_it_likelier(one: Box, other: Box, gap: int) -> None:
    assert one.meets(other, gap=gap) == other.meets(one, gap=gap)
    assert one.meets(other, gap=gap) >= one.meets(other)


def test_boxes_side_by_side_do_not_meet_but_with_a_gap() -> None:
    left, right = Box(0, 0, 10, 10), Box(10, 0, 20, 10)
    assert not left.meets(right)
    assert left.meets(right, gap=0.1)
    assert not Box(0, 0, 11, 10).meets(right, gap=-2)


@given(st.lists(boxes, min_size=1, max_size=6))
def test_a_hull_holds_every_box_and_is_no_larger(several: list[Box]) -> None:
    around = hull(several)
    assert around.left == min(box.left for box in several)
    assert around.top == min(box.top for box in several)
    assert around.right == max(box.right for box in several)
    assert around.bottom == max(box.bottom for box in several)


# Lines of shapes


def test_a_line_knows_what_belongs_to_a_note() -> None:
    drawn = DrawnLine()
    drawn.add("<a/>", Box(0, 0, 10, 10), "notehead", "n-0-0")
    drawn.add("<b/>", Box(5, 5, 20, 30), "notehead", "n-0-0")
    drawn.add("<c/>", Box(50, 0, 60, 10), "stem", "n-0-0")
    drawn.add("<d/>", Box(70, 0, 80, 10), "notehead", "n-0-1")
    assert drawn.of("n-0-0", "notehead") == Box(0, 0, 20, 30)
    assert drawn.of("n-0-0", "stem") == Box(50, 0, 60, 10)
    assert drawn.of("n-0-1", "stem") is None


def test_a_box_touches_what_is_near_but_no_staff_or_bar_line() -> None:
    drawn = DrawnLine()
    for kind in ("line", "barLine", "notehead"):
        drawn.add("", Box(0, 0, 10, 10), kind)
    drawn.add("", Box(15, 0, 20, 10), "stem")
    assert drawn.touched(Box(5, 5, 12, 12), gap=0) == [Box(0, 0, 10, 10)]
    assert len(drawn.touched(Box(5, 5, 12, 12), gap=5)) == 2


@given(st.lists(st.tuples(boxes, st.booleans()), max_size=12), boxes, st.integers(0, 9))
def test_what_is_touched_is_all_that_is_near(
    several: list[tuple[Box, bool]], box: Box, gap: int
) -> None:
    """By brute force, with questions between the shapes; a column is nine of these units wide."""
    drawn = DrawnLine()
    near = set()
    for small, asks_first in several:
        other = Box(*(40.0 * side for side in small))
        drawn.add("", other, "stem")
        if asks_first:
            drawn.touched(other, gap=0.0)
        if Box(*(40.0 * side for side in box)).meets(other, gap=gap):
            near.add(other)
    assert set(drawn.touched(Box(*(40.0 * side for side in box)), gap=gap)) == near
