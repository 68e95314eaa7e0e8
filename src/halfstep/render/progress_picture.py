"""How does a student's way look at once? One page: weeks, a wheel of keys, tempi, units.

Four panels: how many skills were met and known over time; minutes of the last weeks; the keys
laid out by fifths, each a wedge as long as the share of its skills that are known; and for what
was played last, where its tempo stands between start and goal. Below, a row for each unit that
was begun, a disc for each of its skills.

Conventions
-----------
- The page is A4, in hundredths of a millimetre, y pointing down.
- All text is outlines; every number stands in the picture's description, too.
- Nothing is told by colour or tint alone, so that any copier keeps it.

Sizes: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from halfstep.render.course_map import UnitMark, draw_disc
from halfstep.render.drawn_line import Box
from halfstep.render.drawn_page import drawn_page
from halfstep.render.glyphs import printable, settable, text_width
from halfstep.render.vector_page import (
    A4_HIGH,
    A4_WIDE,
    INK,
    SOFT_INK,
    VectorPage,
    fitted_size,
)

_SIDE, _TOP = 1300.0, 1000.0
_MIDDLE = A4_WIDE / 2
_HEAD, _LABEL, _SMALL = 340.0, 270.0, 230.0
_LINE = 24.0
_MOST_UNITS, _MOST_DISCS = 14, 36


@dataclass(frozen=True, slots=True)
class TimePoint:
    """A day of the curve: what is printed under it, and two counts."""

    label: str
    met: int
    known: int


@dataclass(frozen=True, slots=True)
class TimeBar:
    """A bar: what is printed under it, and how high it is."""

    label: str
    minutes: float


@dataclass(frozen=True, slots=True)
class KeyWedge:
    """A key of the wheel: its name, its skills met and known.

    Attributes
    ----------
    label : str
    place : int
        On the cycle of fifths, 0 at the top, clockwise by sharps.
    skills, met, known : int
    """

    label: str
    place: int
    skills: int
    met: int
    known: int


@dataclass(frozen=True, slots=True)
class TempoRow:
    """Where a tempo stands: its start, the one it stands at, its goal, in pulses a minute."""

    label: str
    start_bpm: float
    now_bpm: float
    goal_bpm: float


@dataclass(frozen=True, slots=True)
class UnitRow:
    """A unit that was begun: a disc for each skill, and the count in words."""

    label: str
    discs: tuple[UnitMark, ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressPicture:
    """Everything on the page.

    Attributes
    ----------
    title, facts : str
    points : tuple of TimePoint
    bars : tuple of TimeBar
    wedges : tuple of KeyWedge
    tempi : tuple of TempoRow
    units : tuple of UnitRow
    legend : tuple of (UnitMark, str)
    more : str
        What has no room; empty for nothing.
    description : str
        The page in words, with all its numbers.
    """

    title: str
    facts: str
    points: tuple[TimePoint, ...]
    bars: tuple[TimeBar, ...]
    wedges: tuple[KeyWedge, ...]
    tempi: tuple[TempoRow, ...]
    units: tuple[UnitRow, ...]
    legend: tuple[tuple[UnitMark, str], ...]
    more: str
    description: str


def progress_file(picture: ProgressPicture, suffix: str) -> bytes:
    """The page as a file that ends in ``.svg`` or ``.pdf``."""
    page = set_progress(picture)
    return drawn_page(page, suffix, title=picture.title, description=picture.description)


def set_progress(picture: ProgressPicture) -> VectorPage:
    """The page."""
    page = VectorPage()
    _fitted(page, picture.title, _SIDE, _TOP + 600, 700.0, A4_WIDE - 2 * _SIDE)
    _fitted(page, picture.facts, _SIDE, _TOP + 1150, 330.0, A4_WIDE - 2 * _SIDE, fill=SOFT_INK)
    left, right = _SIDE, A4_WIDE - _SIDE
    _draw_curve(page, picture.points, Box(left, 2900, _MIDDLE - 600, 7600))
    _draw_bars(page, picture.bars, Box(left, 8900, _MIDDLE - 600, 12600))
    _draw_wheel(page, picture.wedges, Box(_MIDDLE + 200, 2900, right, 12600))
    _draw_tempi(page, picture.tempi, Box(left, 13900, right, 18300))
    _draw_units(page, picture, Box(left, 19300, right, A4_HIGH - 1300))
    return page


def _fitted(
    page: VectorPage,
    text: str,
    x: float,
    y: float,
    size: float,
    room: float,
    *,
    fill: str = INK,
    bold: bool = False,
) -> None:
    shown = settable(printable(text))
    page.text(shown, x, y, fitted_size(shown, size, room), fill=fill, bold=bold)


def _centred(
    page: VectorPage, text: str, x: float, y: float, size: float, *, fill: str = INK
) -> None:
    shown = settable(printable(text))
    page.text(shown, x - text_width(shown, size) / 2, y, size, fill=fill)


def _path(page: VectorPage, path: str, *, fill: str = "none", wide: float = _LINE) -> None:
    page.drawing(
        f'<path d="{path}" fill="{fill}" stroke="{INK}" stroke-width="{wide:.0f}"/>', 0, 0, 1
    )


# Over time


def _draw_curve(page: VectorPage, points: tuple[TimePoint, ...], box: Box) -> None:
    """Two curves: what was met as a thin line, what is known as a thick one."""
    _fitted(page, "Skills over time", box.left, box.top, _HEAD, 9000, bold=True)
    top, bottom = box.top + 900, box.bottom - 700
    most = max((point.met for point in points), default=0) or 1
    right = box.right - 1500
    wide = (right - box.left) / max(1, len(points) - 1)

    def place(number: int, count: int) -> tuple[float, float]:
        return box.left + number * wide, bottom - (bottom - top) * count / most

    _path(page, f"M{box.left:.0f} {bottom:.0f}H{right:.0f}", wide=14)
    for counts, thick in (
        ([point.met for point in points], 20.0),
        ([point.known for point in points], 60.0),
    ):
        spots = [place(number, count) for number, count in enumerate(counts)]
        _path(page, "M" + "L".join(f"{x:.0f} {y:.0f}" for x, y in spots), wide=thick)
    met, known = points[-1].met, points[-1].known
    y = place(0, met)[1] + 90
    page.text(f"{met} met", right + 140, y, _LABEL)
    y = max(place(0, known)[1] + 90, y + 1.3 * _LABEL)
    page.text(f"{known} known", right + 140, y, _LABEL, bold=True)
    _ends(page, [point.label for point in points], box.left, right, bottom + 420)


def _ends(page: VectorPage, labels: list[str], left: float, right: float, y: float) -> None:
    """The first and the last label under a panel."""
    page.text(labels[0], left, y, _SMALL, fill=SOFT_INK)
    if len(labels) > 1:
        page.text(labels[-1], right - text_width(labels[-1], _SMALL), y, _SMALL, fill=SOFT_INK)


def _draw_bars(page: VectorPage, bars: tuple[TimeBar, ...], box: Box) -> None:
    """A bar for each week with its minutes over it."""
    _fitted(page, "Minutes a week", box.left, box.top, _HEAD, 9000, bold=True)
    top, bottom = box.top + 900, box.bottom - 700
    most = max((bar.minutes for bar in bars), default=0.0) or 1.0
    room = (box.right - box.left) / len(bars)
    for number, bar in enumerate(bars):
        left = box.left + number * room
        high = (bottom - top) * bar.minutes / most
        if high:
            page.rectangle(Box(left + 80, bottom - high, left + room - 80, bottom), SOFT_INK)
        _centred(page, f"{bar.minutes:.0f}", left + room / 2, bottom - high - 90, _SMALL)
    _path(page, f"M{box.left:.0f} {bottom:.0f}H{box.right:.0f}", wide=14)
    _ends(page, [bar.label for bar in bars], box.left, box.right, bottom + 420)


# Keys


def _draw_wheel(page: VectorPage, wedges: tuple[KeyWedge, ...], box: Box) -> None:
    """Twelve wedges by fifths: ink as far as skills are known, a frame as far as all go."""
    _fitted(page, "Keys, by fifths", box.left, box.top, _HEAD, 9000, bold=True)
    x, y = (box.left + box.right) / 2, (box.top + box.bottom) / 2 + 300
    inner, outer = 900.0, min(box.right - box.left, box.bottom - box.top) / 2 - 1150
    for wedge in wedges:
        middle = wedge.place * pi / 6
        ends = (middle - 0.235, middle + 0.235)
        _path(page, _sector(x, y, inner, outer, ends), wide=14 if wedge.met else 8)
        share = wedge.known / wedge.skills if wedge.skills else 0.0
        if share:
            reach = inner + (outer - inner) * share
            _path(page, _sector(x, y, inner, reach, ends), fill=SOFT_INK, wide=8)
        away = outer + 560
        at_x, at_y = x + away * sin(middle), y - away * cos(middle)
        _centred(page, wedge.label, at_x, at_y, _HEAD)
        count = f"{wedge.known} of {wedge.skills}" if wedge.skills else "later"
        _centred(page, count, at_x, at_y + 330, _SMALL, fill=SOFT_INK)


def _sector(x: float, y: float, inner: float, outer: float, ends: tuple[float, float]) -> str:
    """The outline of a piece of a ring, between two angles clockwise from the top."""
    (x0, y0), (x1, y1) = ((x + outer * sin(angle), y - outer * cos(angle)) for angle in ends)
    (x2, y2), (x3, y3) = (
        (x + inner * sin(angle), y - inner * cos(angle)) for angle in reversed(ends)
    )
    return (
        f"M{x0:.0f} {y0:.0f}A{outer:.0f} {outer:.0f} 0 0 1 {x1:.0f} {y1:.0f}L{x2:.0f} {y2:.0f}"
        f"A{inner:.0f} {inner:.0f} 0 0 0 {x3:.0f} {y3:.0f}Z"
    )


# Tempi


def _draw_tempi(page: VectorPage, rows: tuple[TempoRow, ...], box: Box) -> None:
    """A line for each from start to goal, with a mark where it stands."""
    _fitted(page, "Tempo, from start to goal", box.left, box.top, _HEAD, 9000, bold=True)
    if not rows:
        _fitted(page, "nothing was played yet", box.left, box.top + 700, _LABEL, 9000)
    lefts = box.left + 8200
    for number, row in enumerate(rows):
        y = box.top + 750 + 560 * number
        _fitted(page, row.label, box.left, y, _LABEL, 7300)
        start, goal = sorted((row.start_bpm, row.goal_bpm))
        low, high = min(start, row.now_bpm), max(goal, row.now_bpm)
        left, right = lefts, box.right - 1900

        def place(bpm: float, *, low: float = low, high: float = high) -> float:
            return lefts + (box.right - 1900 - lefts) * (bpm - low) / max(1.0, high - low)

        _path(page, f"M{left:.0f} {y - 90:.0f}H{right:.0f}", wide=12)
        for bpm in (row.start_bpm, row.goal_bpm):
            _path(page, f"M{place(bpm):.0f} {y - 190:.0f}V{y + 10:.0f}", wide=20)
        now = place(row.now_bpm)
        _path(page, f"M{now:.0f} {y - 230:.0f}l140 140l-140 140l-140 -140Z", fill=INK)
        _number_left(page, f"{row.start_bpm:.0f} to {row.goal_bpm:.0f}", box.right, y)
        _centred(page, f"{row.now_bpm:.0f}", now, y - 300, _SMALL)


def _number_left(page: VectorPage, text: str, right: float, y: float) -> None:
    page.text(text, right - text_width(text, _SMALL), y, _SMALL, fill=SOFT_INK)


# Units


def _draw_units(page: VectorPage, picture: ProgressPicture, box: Box) -> None:
    """A row for each unit that was begun."""
    _fitted(page, "Skills, by unit", box.left, box.top, _HEAD, 9000, bold=True)
    step = min(520.0, (box.bottom - box.top - 1300) / max(1, len(picture.units)))
    radius = min(130.0, 0.3 * step)
    for number, row in enumerate(picture.units):
        y = box.top + 750 + step * number
        _fitted(page, row.label, box.left, y, _LABEL, 5600)
        for place, mark in enumerate(row.discs):
            draw_disc(page, mark, box.left + 6100 + place * 2.5 * radius, y - 90, radius)
        _number_left(page, row.words, box.right, y)
    x, y = box.left, box.bottom
    for mark, words in picture.legend:
        draw_disc(page, mark, x + 120, y - 80, 120)
        x += 700 + page.text(words, x + 320, y, _SMALL, fill=SOFT_INK)
    page.text(picture.more, x + 200, y, _SMALL, fill=SOFT_INK)
