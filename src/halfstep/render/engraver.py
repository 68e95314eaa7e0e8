"""What did the engraver library draw? Its SVG read back as shapes with their boxes.

The library places notes, stems, beams and ties; here its drawing becomes a `DrawnLine` of
`DrawnShape` values, text left out, so that more can be set around them without touching.

Conventions
-----------
- Sizes are tenths of the engraver's unit, y pointing down: a staff space is `SPACE`.
- Each thread has its own engraver, which finds its fonts anew.

Sources: MEI 5.0 for what goes in, SVG 1.1 for what comes out.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from halfstep.render.glyphs import glyph_path, music_box, music_glyph
from halfstep.render.mei import BREAK

SPACE = 180.0
"""A staff space, in tenths of the engraver's unit."""

STAFF_LINE = 0.1 * SPACE
"""Thickness of a staff line."""

_STEP = 1.0  # beyond what is touched, so that rounding cannot hold a shape in place
_SEED = 7
_SVG = "{http://www.w3.org/2000/svg}"
_GROUP, _USE, _PATH = f"{_SVG}g", f"{_SVG}use", f"{_SVG}path"
_XLINK = "{http://www.w3.org/1999/xlink}href"
_NAMED = re.compile(r'xml:id="([bn]-[^"]+)"')
"""The bars and notes that a drawing must have."""
_DRAWN = re.compile(r'<g id="([bn]-[^"]+)"')
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_NUMBER_PAIR = re.compile(rf"{_NUMBER.pattern}[ ,]+{_NUMBER.pattern}")
_OPTIONS = {
    "breaks": "encoded", "pageHeight": 60000, "adjustPageHeight": True, "header": "none",
    "footer": "none", "minLastJustification": 0.0, "staffLineWidth": STAFF_LINE / (SPACE / 2),
    "spacingLinear": 0.12, "spacingNonLinear": 0.72, "leftMarginAccid": 1.0, "pageMarginLeft": 0,
    "pageMarginRight": 0, "pageMarginTop": 0, "pageMarginBottom": 0, "xmlIdSeed": _SEED,
    "svgFormatRaw": True,
}  # fmt: skip
"""Of the engraver, for every drawing."""
ALL_LINES = slice(None)
_STRIPS = 8  # of a slur
_CURVE_WEIGHTS = tuple(
    ((1 - part) ** 3, 3 * (1 - part) ** 2 * part, 3 * (1 - part) * part**2, part**3)
    for part in (step / _STRIPS for step in range(_STRIPS + 1))
)
_HEAD_BRACKETS = frozenset({0xE26A, 0xE26B})
HEAD_BRACKET = "headBracket"
"""What a parenthesis around a head is called: the head alone says where its note stands."""
_OPENING = frozenset({"clef", "keySig", "meterSig"})
_local = threading.local()


class EngravingFault(Exception):
    """A fault of this program: what was given to the engraver is not what it drew."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in picture units, y pointing down."""

    left: float
    top: float
    right: float
    bottom: float

    def lower(self, by: float) -> Box:
        """The box so much lower, or higher where that is below zero."""
        return Box(self.left, self.top + by, self.right, self.bottom + by)

    def meets(self, other: Box, *, gap: float = 0.0) -> bool:
        """True when the two come nearer than ``gap``."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )


@dataclass(frozen=True, slots=True)
class DrawnShape:
    """Something drawn: its SVG, its box, what it is, and whose (an id, or nothing)."""

    svg: str
    box: Box
    kind: str
    owner: str = ""


@dataclass(slots=True)
class DrawnLine:
    """One line of music as shapes."""

    shapes: list[DrawnShape] = field(default_factory=list)
    chord_lefts: dict[str, float] = field(default_factory=dict)
    staff: Box = Box(0, 0, 0, 0)
    bars: dict[str, Box] = field(default_factory=dict)

    def of(self, owner: str, kind: str) -> Box | None:
        """The box of one kind of shape of a note, if it has one."""
        boxes = [s.box for s in self.shapes if s.kind == kind and s.owner == owner]
        return hull(boxes) if boxes else None

    def add(self, svg: str, box: Box, kind: str, owner: str = "") -> None:
        """Draw something more."""
        self.shapes.append(DrawnShape(svg, box, kind, owner))

    def touched(self, box: Box, *, gap: float) -> list[Box]:
        """What a box comes too near to, the staff's own lines and bar lines left out."""
        left, top = box.left - gap, box.top - gap
        right, bottom = box.right + gap, box.bottom + gap
        return [
            other
            for shape in self.shapes
            if (other := shape.box).left < right
            and left < other.right
            and other.top < bottom
            and top < other.bottom
            and shape.kind not in {"line", "barLine"}
        ]

    def cleared(self, box: Box, *, down: bool, gap: float) -> Box:
        """The box moved outwards until it touches nothing."""
        while obstacles := self.touched(box, gap=gap):
            high = box.bottom - box.top
            if down:
                top = max(obstacle.bottom for obstacle in obstacles) + gap + _STEP
            else:
                top = min(obstacle.top for obstacle in obstacles) - gap - high - _STEP
            box = Box(box.left, top, box.right, top + high)
        return box

    def way_out(self, boxes: Sequence[Box], *, down: bool, gap: float) -> float:
        """How far several boxes go outwards together until none touches anything; up is negative.

        What one of them was clear of may be touched once another has moved them all.
        """
        way, before = 0.0, 1.0
        while way != before:
            before = way
            for box in boxes:
                moved = box.lower(way)
                way += self.cleared(moved, down=down, gap=gap).top - moved.top
        return way


def _toolkit() -> Any:
    """The engraver of the thread; its fonts are found anew in each thread."""
    import verovio

    if not hasattr(_local, "toolkit"):
        verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
        verovio.enableLog(verovio.LOG_OFF)
        _local.toolkit = verovio.toolkit()
    return _local.toolkit


def engraved(
    mei: str,
    width: float,
    *,
    stretch: bool = True,
    even: bool = False,
    wanted: slice = ALL_LINES,
) -> list[ElementTree.Element]:
    """The lines of music of an MEI text, each as a group of SVG.

    Parameters
    ----------
    width : float
        Of a line, in picture units.
    stretch : bool
        Spread each line over the whole width.
    even : bool
        Notes equally far apart, whatever they last.
    wanted : slice
        The lines to give; all unless it is given.

    Raises
    ------
    EngravingFault
        When the text is not well-formed, a bar or note of it is not in the drawing, or a line of
        music was broken in two.
    """
    toolkit = _toolkit()
    toolkit.setOptions(
        _OPTIONS
        | {
            "pageWidth": min(100000, round(width / 10)),
            "noJustification": not stretch,
            "evenNoteSpacing": even,
        }
    )
    toolkit.resetXmlIdSeed(_SEED)
    if not toolkit.loadData(mei):
        raise EngravingFault(f"the engraver refused the score{_misshapen(mei)}")
    svg = toolkit.renderToSVG(1)
    missing = set(_NAMED.findall(mei)).difference(_DRAWN.findall(svg))
    if missing:
        raise EngravingFault(f"the engraver left out {', '.join(sorted(missing)[:6])}")
    page = ElementTree.fromstring(svg)
    systems = [group for group in page.iter(_GROUP) if group.get("class") == "system"]
    if len(systems) != (mei.count(BREAK) or 1):
        raise EngravingFault("the engraver broke a line of music in two")
    return systems[wanted]


def _misshapen(mei: str) -> str:
    """Where a text is not well-formed, for a message; nothing where it is."""
    try:
        ElementTree.fromstring(mei)
    except ElementTree.ParseError as error:
        return f", which is not well-formed: {error}"
    return ""


def read_line(system: ElementTree.Element) -> DrawnLine:
    """The shapes of one line of music, without what is not printed; its staff begins at y = 0."""
    line = DrawnLine()
    top: float | None = None
    for group in system:
        if group.get("class") == "measure" and group.get("id", "").startswith("b-"):
            top = _staff_of(group).top if top is None else top
            _read_measure(line, group, top)
    for group in system:
        if "spanning" in (classes := group.get("class", "").split()):  # from the line before
            _read(line, group, "slur" if "slur" in classes else "tie", "", top=top or 0.0)
    line.staff = hull(shape.box for shape in line.shapes if shape.kind == "line")
    return line


def read_rooms(system: ElementTree.Element) -> tuple[float, dict[str, Box]]:
    """What clef and signatures take at the start of a line, and the staff of each bar."""
    measures = [m for m in system if m.get("class") == "measure"]
    line = DrawnLine()
    _read_measure(line, measures[0], 0.0)
    head = max(shape.box.right for shape in line.shapes if shape.kind in _OPENING)
    return head, {m.get("id", ""): _staff_of(m) for m in measures}


def _staff_of(measure: ElementTree.Element) -> Box:
    """The staff lines of a bar, and nothing of what stands on them."""
    staff = next(child for child in measure if child.get("class") == "staff")
    lines = (child for child in staff if child.tag == _PATH)
    return hull(_points_box(_numbers(child.get("d"))) for child in lines)


def _read_measure(line: DrawnLine, measure: ElementTree.Element, top: float) -> None:
    """The shapes of a bar; its y is counted from ``top``."""
    name = measure.get("id", "")
    staves = [child for child in measure if child.get("class") == "staff"]
    before = len(line.shapes)
    _read(line, staves[0], "line", name, top=top)
    staff = hull(shape.box for shape in line.shapes[before:] if shape.kind == "line")
    line.bars[name] = staff
    for silent in staves[1:]:
        _read_chord_places(line, silent)
    for child in measure:
        if child.get("class") != "staff":
            kind, lowest = str(child.get("class")), staff.bottom + 4 * SPACE
            _read(line, child, kind, name, top=top, lowest=lowest)


def _read_chord_places(line: DrawnLine, staff: ElementTree.Element) -> None:
    for note in staff.iter(_GROUP):
        if note.get("id", "").startswith("c-"):
            use = next(note.iter(_USE))
            line.chord_lefts[note.get("id", "")] = _numbers(use.get("transform"))[0]


def _read(
    line: DrawnLine,
    element: ElementTree.Element,
    kind: str,
    owner: str,
    *,
    top: float,
    lowest: float = 1e9,
) -> None:
    for child in element:
        if child.tag == _GROUP:
            name = child.get("class", "")
            if name == "verse" or child.get("visibility") == "hidden":
                continue
            identity = child.get("id", "")
            inner = identity if identity.startswith("n-") else owner
            _read(line, child, _kind(name, kind), inner, top=top, lowest=lowest)
        elif kind == "slur" and child.tag == _PATH:
            line.shapes += _slur_strips(child, owner, top)
        else:
            shape = _shape(child, kind, owner, top=top)
            if shape and not (kind == "barLine" and shape.box.top > lowest - 4 * SPACE):
                line.shapes.append(shape)


def _kind(name: str, outer: str) -> str:
    """What a group's shapes are called; layers and notes leave it to their parts."""
    return outer if name in {"layer", "keyAccid"} else name


def _numbers(text: str | None) -> list[float]:
    return list(map(float, _NUMBER.findall(text or "")))


def _shape(
    element: ElementTree.Element, kind: str, owner: str, *, top: float = 0.0
) -> DrawnShape | None:
    """An element as a shape whose y is counted from ``top``; None where it draws nothing."""
    if element.tag == _USE:
        return _glyph(element, kind, owner, top)
    if element.tag == _PATH:
        return _path(element, kind, owner, top)
    tag = element.tag.removeprefix(_SVG)
    if tag == "polygon":
        numbers = _numbers_below(element.get("points"), top)
        svg = f'<polygon points="{_points(numbers)}"/>'
        return DrawnShape(svg, _points_box(numbers), kind, owner)
    if tag == "polyline":
        numbers = _numbers_below(element.get("points"), top)
        wide = float(element.get("stroke-width", "0"))
        svg = (
            f'<polyline points="{_points(numbers)}" fill="none" stroke="#000" '
            f'stroke-width="{wide:g}"/>'
        )
        return DrawnShape(svg, _points_box(numbers, pad=wide / 2), kind, owner)
    if tag == "rect":
        x, y, wide, high = (float(element.get(k, "0")) for k in ("x", "y", "width", "height"))
        y -= top
        svg = f'<rect x="{x:g}" y="{y:g}" width="{wide:g}" height="{high:g}"/>'
        return DrawnShape(svg, Box(x, y, x + wide, y + high), kind, owner)
    if tag == "ellipse":
        x, y, rx, ry = (float(element.get(k, "0")) for k in ("cx", "cy", "rx", "ry"))
        y -= top
        svg = f'<ellipse cx="{x:g}" cy="{y:g}" rx="{rx:g}" ry="{ry:g}"/>'
        return DrawnShape(svg, Box(x - rx, y - ry, x + rx, y + ry), kind, owner)
    return None


def _glyph(use: ElementTree.Element, kind: str, owner: str, top: float) -> DrawnShape:
    code = int(use.get(_XLINK, "")[1:].split("-")[0], 16)
    x, y, scale, _ = _numbers(use.get("transform"))
    y -= top
    left, low, wide, high = music_box(code)
    box = Box(
        x + left * scale, y - (low + high) * scale, x + (left + wide) * scale, y - low * scale
    )
    if kind == "notehead" and code in _HEAD_BRACKETS:
        kind = HEAD_BRACKET
    return DrawnShape(glyph_path(music_glyph(code), x, y, scale), box, kind, owner)


def _path(path: ElementTree.Element, kind: str, owner: str, top: float) -> DrawnShape:
    """A straight line, or curves, which are filled."""
    return _path_of(path, _numbers_below(path.get("d"), top), kind, owner)


def _path_of(path: ElementTree.Element, numbers: list[float], kind: str, owner: str) -> DrawnShape:
    """The same, by its points."""
    drawing = path.get("d", "")
    wide = float(path.get("stroke-width", "0"))
    box = _points_box(numbers, pad=wide / 2 if kind != "line" else 0.0)
    if "C" in drawing:
        words = iter(_points(numbers).split())
        drawing = _NUMBER_PAIR.sub(lambda _: next(words), drawing)
        svg = f'<path d="{drawing}" stroke="#000" stroke-width="{wide:g}"/>'
    else:
        svg = f'<path d="M{_points(numbers)}" fill="none" stroke="#000" stroke-width="{wide:g}"/>'
    return DrawnShape(svg, box, kind, owner)


def _slur_strips(path: ElementTree.Element, owner: str, top: float) -> Iterator[DrawnShape]:
    """A slur as one drawing, and boxes along it: around all of it would be room for other signs.

    Its path is a curve from left to right and another one back.
    """
    numbers = _numbers_below(path.get("d"), top)
    svg = _path_of(path, numbers, "slur", owner).svg
    pad = float(path.get("stroke-width", "0")) / 2
    there, back = _on_curve(*numbers[:8]), _on_curve(*numbers[6:14])[::-1]
    edges = [(*one, *other) for one, other in zip(there, back, strict=True)]
    for left, right in pairwise(edges):
        yield DrawnShape(svg, _points_box([*left, *right], pad=pad), "slur", owner)
        svg = ""


def _on_curve(
    x0: float, y0: float, x1: float, y1: float, x2: float, y2: float, x3: float, y3: float
) -> list[tuple[float, float]]:
    """Points along a cubic curve, which is given by its ends and what bends it."""
    return [
        (a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3)
        for a, b, c, d in _CURVE_WEIGHTS
    ]


def _numbers_below(text: str | None, top: float) -> list[float]:
    """Points as x and y in turn, y counted from ``top``."""
    numbers = _numbers(text)
    numbers[1::2] = [y - top for y in numbers[1::2]]
    return numbers


def _points(numbers: list[float]) -> str:
    """Points as SVG writes them: ``0,540 232,540``."""
    pairs = zip(numbers[::2], numbers[1::2], strict=True)
    return " ".join(f"{x:g},{y:g}" for x, y in pairs)


def _points_box(numbers: Sequence[float], *, pad: float = 0.0) -> Box:
    xs, ys = numbers[::2], numbers[1::2]
    return Box(min(xs) - pad, min(ys) - pad, max(xs) + pad, max(ys) + pad)


def hull(boxes: Iterable[Box]) -> Box:
    """The box around several boxes."""
    whole = list(boxes)
    if len(whole) == 1:
        return whole[0]
    lefts, tops, rights, bottoms = zip(
        *((box.left, box.top, box.right, box.bottom) for box in whole), strict=True
    )
    return Box(min(lefts), min(tops), max(rights), max(bottoms))
