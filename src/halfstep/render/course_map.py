"""How does a whole course look at once? One page: its units in rows, and what leads to what.

Every unit has a box: its number, its title, after which units it comes, its keys and its tempo.
A line leads down from each unit to those that need it, past what stands between. Where a student
is meant, a disc in the box is empty, half full, full, or full in a ring, and words say the same.

Conventions
-----------
- The page is A4, in hundredths of a millimetre, y pointing down; it is read from the top.
- All text is outlines, and stands as the picture's description, too.
- Nothing is told by colour or tint, so that any copier keeps it.

Sources: ISO 216 (A4), SVG 1.1, ISO 14289-1 (PDF/UA-1). Sizes: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from typing import NamedTuple

from halfstep.render.drawn_line import Box
from halfstep.render.drawn_page import drawing_notices, drawn_page
from halfstep.render.glyphs import printable, settable, text_width
from halfstep.render.vector_page import (
    A4_HIGH,
    A4_WIDE,
    INK,
    SOFT_INK,
    VectorPage,
    fitted_size,
)

_SIDE, _TOP, _BOTTOM = 1100.0, 1000.0, 1000.0
_HEAD_HIGH, _LEGEND_HIGH = 1900.0, 700.0
_WIDEST, _HIGHEST = 4600.0, 2300.0
_LANE = 0.36
"""The share of a row that is left for the lines."""
_GAP = 260.0
_SLIM = 0.12
"""How wide a lane is, in boxes."""
_FRAME, _LINE = 20.0, 24.0
_TITLE, _SMALL = 300.0, 215.0


class UnitMark(Enum):
    """The disc of a unit."""

    EMPTY = "empty"
    HALF = "half"
    FULL = "full"
    RINGED = "ringed"


@dataclass(frozen=True, slots=True, kw_only=True)
class MapUnit:
    """A unit as printed.

    Attributes
    ----------
    number : int
    title : str
    after : tuple of int
        The numbers of the units that it needs.
    keys, tempo : str
    standing : str
        Where the student stands, in words; empty for no student.
    mark : UnitMark or None
    """

    number: int
    title: str
    after: tuple[int, ...]
    keys: str
    tempo: str
    standing: str = ""
    mark: UnitMark | None = None


class MapLane(NamedTuple):
    """A way through a row for the line from the unit of that number."""

    need: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseMap:
    """Everything on the page.

    Attributes
    ----------
    title, facts : str
    rows : tuple of tuple of MapUnit or MapLane
        From the top, each from left to right; a line from a unit to one farther down than the
        next row has a lane in each row between.
    legend : tuple of (UnitMark, str)
        The discs with their words; empty where there are none.
    description : str
        The page in words.
    """

    title: str
    facts: str
    rows: tuple[tuple[MapUnit | MapLane, ...], ...]
    legend: tuple[tuple[UnitMark, str], ...] = ()
    description: str = ""

    @property
    def units(self) -> list[MapUnit]:
        """All units, row by row."""
        return [place for row in self.rows for place in row if isinstance(place, MapUnit)]


def course_map_file(course: CourseMap, suffix: str) -> tuple[bytes, tuple[str, ...]]:
    """The map as a file that ends in ``.svg`` or ``.pdf``, and what should be said of it."""
    page = set_course_map(course)
    names = printable("".join([course.title, *(unit.title for unit in course.units)]))
    notices = tuple(drawing_notices(page, names, f"{len(course.units)} units"))
    file = drawn_page(page, suffix, title=course.title, description=course.description)
    return file, notices


def set_course_map(course: CourseMap) -> VectorPage:
    """The page."""
    page = VectorPage()
    _draw_heading(page, course)
    rows = [
        _placed(row, top, high)
        for row, (top, high) in zip(course.rows, _heights(course), strict=True)
    ]
    for row in rows:
        for spot in row:
            if isinstance(spot.place, MapLane):
                _draw_line(page, spot.middle, spot.box.top - 1, spot.middle, spot.box.bottom + 1)
    for above, below in pairwise(rows):
        _draw_links(page, above, below)
    for row in rows:
        for spot in row:
            if isinstance(spot.place, MapUnit):
                _draw_unit(page, spot.place, spot.box)
    _draw_legend(page, course)
    return page


def _draw_heading(page: VectorPage, course: CourseMap) -> None:
    room = A4_WIDE - 2 * _SIDE
    title = settable(printable(course.title))
    page.text(title, _SIDE, _TOP + 600, fitted_size(title, 700.0, room))
    page.text(
        course.facts, _SIDE, _TOP + 1150, fitted_size(course.facts, 330.0, room), fill=SOFT_INK
    )


class _RowSpot(NamedTuple):
    """A place of a row on the page."""

    place: MapUnit | MapLane
    box: Box

    @property
    def middle(self) -> float:
        return (self.box.left + self.box.right) / 2

    @property
    def number(self) -> int:
        """Of the unit whose line leaves here."""
        return self.place.number if isinstance(self.place, MapUnit) else self.place.need

    def is_led_to_by(self, other: _RowSpot) -> bool:
        """True where a line comes here from a place of the row above."""
        if isinstance(self.place, MapUnit):
            return other.number in self.place.after
        return other.number == self.place.need


def _heights(course: CourseMap) -> Iterator[tuple[float, float]]:
    """The top and the height of the boxes of each row."""
    top, bottom = _TOP + _HEAD_HIGH, A4_HIGH - _BOTTOM - _LEGEND_HIGH
    step = min(_HIGHEST / (1 - _LANE), (bottom - top) / max(1, len(course.rows)))
    for number in range(len(course.rows)):
        yield top + number * step, (1 - _LANE) * step


def _placed(row: Sequence[MapUnit | MapLane], top: float, high: float) -> list[_RowSpot]:
    """A row from edge to edge of the page, lanes slim."""
    wides = [_SLIM if isinstance(place, MapLane) else 1.0 for place in row]
    room = (A4_WIDE - 2 * _SIDE) / sum(wides)
    spots = []
    left = _SIDE
    for place, wide in zip(row, wides, strict=True):
        middle, half = left + wide * room / 2, min(_WIDEST, room - _GAP) / 2
        half = half if isinstance(place, MapUnit) else 0.0
        spots.append(_RowSpot(place, Box(middle - half, top, middle + half, top + high)))
        left += wide * room
    return spots


# Lines


def _draw_links(page: VectorPage, above: Sequence[_RowSpot], below: Sequence[_RowSpot]) -> None:
    """The lines between two rows; those of one box stand side by side."""
    links = [(a, b) for a in range(len(above)) for b in range(len(below))]
    links = [(a, b) for a, b in links if below[b].is_led_to_by(above[a])]
    for a, b in links:
        heirs = [other for first, other in links if first == a]
        leads = [first for first, other in links if other == b]
        x = _spread(above[a].box, heirs.index(b), len(heirs))
        to_x = _spread(below[b].box, leads.index(a), len(leads))
        y, to_y = above[a].box.bottom, below[b].box.top
        if isinstance(below[b].place, MapUnit):
            _draw_line(page, x, y, to_x, to_y - 120)
            _draw_arrow(page, to_x, to_y)
        else:
            _draw_line(page, x, y, to_x, to_y)


def _spread(box: Box, place: int, count: int) -> float:
    """Where the line of that place leaves or meets a box."""
    return box.left + (box.right - box.left) * (place + 1) / (count + 1)


def _draw_line(page: VectorPage, x: float, y: float, to_x: float, to_y: float) -> None:
    """A line that leaves downwards and arrives downwards."""
    bend = 0.6 * (to_y - y)
    page.drawing(
        f'<path d="M{x:.0f} {y:.0f}C{x:.0f} {y + bend:.0f} {to_x:.0f} {to_y - bend:.0f} '
        f'{to_x:.0f} {to_y:.0f}" fill="none" stroke="{SOFT_INK}" stroke-width="{_LINE:.0f}"/>',
        0,
        0,
        1,
    )


def _draw_arrow(page: VectorPage, x: float, y: float) -> None:
    head = (
        f'<path d="M{x - 75:.0f} {y - 170:.0f}h150L{x:.0f} {y - _FRAME:.0f}z" fill="{SOFT_INK}"/>'
    )
    page.drawing(head, 0, 0, 1)


# A unit


def _draw_unit(page: VectorPage, unit: MapUnit, box: Box) -> None:
    page.rectangle(box, INK)
    page.rectangle(
        Box(box.left + _FRAME, box.top + _FRAME, box.right - _FRAME, box.bottom - _FRAME), "#fff"
    )
    edge = 120.0
    left, room = box.left + edge, box.right - box.left - 2 * edge
    lines = _unit_lines(unit)
    titles = _title_lines(unit, room - (_disc_wide(unit) if unit.mark else 0))
    high = (box.bottom - box.top - 2 * _FRAME) / (1.25 * len(titles) + len(lines) + 0.45)
    y = box.top + _FRAME
    for text in titles:
        y += 1.25 * high
        wide = room - (_disc_wide(unit) if unit.mark else 0)
        page.text(text, left, y, fitted_size(text, min(_TITLE, 1.1 * high), wide))
    for text in lines:
        y += high
        page.text(text, left, y, fitted_size(text, min(_SMALL, 0.9 * high), room), fill=SOFT_INK)
    if unit.mark:
        radius = min(170.0, 0.5 * high)
        draw_disc(page, unit.mark, box.right - edge - radius, box.top + edge + radius, radius)


def _disc_wide(unit: MapUnit) -> float:
    return 460.0 if unit.mark else 0.0


def _unit_lines(unit: MapUnit) -> list[str]:
    """What stands beneath the title."""
    after = f"after {', '.join(map(str, unit.after))}" if unit.after else "a beginning"
    lines = [f"{after} · {unit.tempo}", unit.keys]
    return [*lines, unit.standing] if unit.standing else lines


def _title_lines(unit: MapUnit, room: float) -> list[str]:
    """Number and title, in two lines where one would be small."""
    text = settable(printable(f"{unit.number}. {unit.title}"))
    words = text.split()
    if text_width(text, _TITLE) <= room or len(words) < 3:
        return [text]
    cuts = [(" ".join(words[:cut]), " ".join(words[cut:])) for cut in range(2, len(words))]
    return list(min(cuts, key=lambda cut: max(text_width(line, _TITLE) for line in cut)))


def draw_disc(page: VectorPage, mark: UnitMark, x: float, y: float, radius: float) -> None:
    """A disc that is empty, half full, full, or full in a ring."""
    fill = INK if mark in {UnitMark.FULL, UnitMark.RINGED} else "#fff"
    inner = 0.55 * radius if mark is UnitMark.RINGED else radius
    shapes = [
        f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{radius:.0f}" fill="#fff" stroke="{INK}" '
        'stroke-width="26"/>',
        f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{inner:.0f}" fill="{fill}"/>' if fill == INK else "",
        f'<path d="M{x:.0f} {y - radius:.0f}A{radius:.0f} {radius:.0f} 0 0 0 {x:.0f} '
        f'{y + radius:.0f}z" fill="{INK}"/>'
        if mark is UnitMark.HALF
        else "",
    ]
    page.drawing("".join(shapes), 0, 0, 1)


def _draw_legend(page: VectorPage, course: CourseMap) -> None:
    """The discs with their words, and what else is on the page."""
    y = A4_HIGH - _BOTTOM
    x = _SIDE
    for mark, words in course.legend:
        draw_disc(page, mark, x + 130, y - 90, 130)
        x += 380 + page.text(words, x + 340, y, 280.0, fill=SOFT_INK) + 420
    words = "a line leads to what comes next · in a box: after which units, pulses a minute, keys"
    page.text(words, x, y, fitted_size(words, 260.0, A4_WIDE - _SIDE - x), fill=SOFT_INK)
