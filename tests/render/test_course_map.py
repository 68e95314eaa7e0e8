"""The map of a course: every text in its place, no line behind a box, nothing told by colour."""

from __future__ import annotations

import re
from itertools import combinations, product

import pypdfium2
import pytest

from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, course_skills
from halfstep.course.skill_map import Standing
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.course_page import course_map
from halfstep.render.course_map import (
    CourseMap,
    MapLane,
    MapUnit,
    UnitMark,
    course_map_file,
    set_course_map,
)
from halfstep.render.drawn_line import Box
from halfstep.render.vector_page import A4_HIGH, A4_WIDE, VectorPage
from halfstep.services.show_course import ShowCourse, show_course

SKILLS = course_skills(our_course(), CoursePlayer(INSTRUMENTS["alto-sax"]))
STANDINGS = dict(zip(SKILLS, (list(Standing)[1:] * len(SKILLS))[: len(SKILLS)], strict=True))


def unit(number: int, *after: int, mark: UnitMark | None = None, title: str = "") -> MapUnit:
    return MapUnit(
        number=number,
        title=title or f"Unit {number}",
        after=after,
        keys="C G F",
        tempo="60–90",
        standing=mark.value if mark else "",
        mark=mark,
    )


def our_map(*, student: bool) -> VectorPage:
    reply = show_course(
        ShowCourse(instrument="alto-sax"), standings=STANDINGS if student else None, student="Mila"
    )
    return set_course_map(course_map(reply.course, reply.player, reply.standings, reply.student))


def overlap(first: Box, second: Box) -> bool:
    wide = min(first.right, second.right) - max(first.left, second.left)
    return wide > 1 and min(first.bottom, second.bottom) - max(first.top, second.top) > 1


@pytest.mark.parametrize("student", [False, True])
def test_no_text_lies_on_another_or_off_the_page(student: bool) -> None:
    texts = our_map(student=student).texts
    assert len(texts) > 90
    slim = [
        Box(t.box.left, t.box.top + 0.25 * t.size, t.box.right, t.box.bottom - 0.2 * t.size)
        for t in texts
    ]
    assert not any(overlap(*pair) for pair in combinations(slim, 2))
    assert all(box.left >= 0 and box.right <= A4_WIDE for box in slim)
    assert all(box.top >= 0 and box.bottom <= A4_HIGH for box in slim)


def test_all_of_it_can_be_read() -> None:
    assert our_map(student=True).smallest_mm >= 1.7


def boxes_and_lines(page: VectorPage) -> tuple[list[Box], list[tuple[float, ...]]]:
    """The frames of the units, and the ends of all lines."""
    drawing = "".join(page.shapes)
    number = r"(-?[\d.]+)"
    frames = re.findall(
        f'<rect x="{number}" y="{number}" width="{number}" height="{number}" fill="#111"', drawing
    )
    boxes = [Box(x, y, x + w, y + h) for x, y, w, h in (map(float, row) for row in frames)]
    curves = re.findall(
        f'd="M{number} {number}C{number} {number} {number} {number} {number} {number}"', drawing
    )
    return boxes, [tuple(map(float, curve)) for curve in curves]


def on_curve(curve: tuple[float, ...], t: float) -> tuple[float, float]:
    """A point of a cubic, by its Bernstein form (from memory)."""
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
    x = sum(w * p for w, p in zip(weights, curve[0::2], strict=True))
    return x, sum(w * p for w, p in zip(weights, curve[1::2], strict=True))


def test_no_line_goes_behind_a_box() -> None:
    boxes, curves = boxes_and_lines(our_map(student=True))
    assert len(boxes) == len(our_course().units)
    assert len(curves) > len(boxes)
    points = [on_curve(curve, step / 20) for curve in curves for step in range(21)]
    inside = [
        (x, y)
        for (x, y), box in product(points, boxes)
        if box.left + 1 < x < box.right - 1 and box.top + 1 < y < box.bottom - 1
    ]
    assert inside == []


def test_a_line_past_a_row_goes_through_its_lane() -> None:
    rows = ((unit(1),), (unit(2, 1), MapLane(1)), (unit(3, 1, 2),))
    boxes, curves = boxes_and_lines(set_course_map(CourseMap(title="T", facts="", rows=rows)))
    assert len(boxes) == 3
    assert len(curves) == 5  # 1–2, 1–lane, the lane, lane–3, 2–3


def test_marks_differ_in_shape_and_have_no_colour() -> None:
    drawings = set()
    for mark in UnitMark:
        rows = ((unit(1, mark=mark),),)
        page = set_course_map(CourseMap(title="T", facts="", rows=rows))
        drawings.add("".join(shape for shape in page.shapes if "<circle" in shape))
        for fill in re.findall(r'(?:fill|stroke)="#([0-9a-f]+)"', "".join(page.shapes)):
            channels = [fill[n : n + len(fill) // 3] for n in range(0, len(fill), len(fill) // 3)]
            assert len(set(channels)) == 1
    assert len(drawings) == len(UnitMark)


@pytest.mark.slow
def test_the_page_is_one_in_either_form() -> None:
    course = CourseMap(title="A <course>", facts="2 units", rows=((unit(1),), (unit(2, 1),)))
    svg, notices = course_map_file(course, ".svg")
    assert notices == ()
    assert b"<title>A &lt;course&gt;</title>" in svg
    pdf, _ = course_map_file(course, ".pdf")
    assert len(pypdfium2.PdfDocument(pdf)) == 1


def test_a_course_that_is_too_long_for_a_page_is_said_to_be_hard_to_read() -> None:
    rows = tuple((unit(n, n - 1),) for n in range(1, 60))
    _, notices = course_map_file(CourseMap(title="Long", facts="", rows=rows), ".svg")
    assert len(notices) == 1
    assert "hard to read" in notices[0]


def test_a_sign_that_no_font_has_is_told() -> None:
    course = CourseMap(title="T", facts="", rows=((unit(1, title="Two 龍"),),))
    assert "no font here has" in course_map_file(course, ".svg")[1][0]
