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
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from string import ascii_letters
from typing import Any
from xml.etree import ElementTree

from halfstep.render.drawn_line import SPACE, Box, DrawnLine, DrawnShape, hull
from halfstep.render.glyphs import glyph_path, music_box, music_glyph
from halfstep.render.mei import BREAK

STAFF_LINE = 0.1 * SPACE
"""Thickness of a staff line."""

_SEED = 7
_SVG = "{http://www.w3.org/2000/svg}"
_GROUP, _USE, _PATH = f"{_SVG}g", f"{_SVG}use", f"{_SVG}path"
_XLINK = "{http://www.w3.org/1999/xlink}href"
_NAMED = re.compile(r'xml:id="([bn]-[^"]+)"')
"""The bars and notes that a drawing must have."""
_DRAWN = re.compile(r'<g id="([bn]-[^"]+)"')
_NUMBER = r"-?\d+(?:\.\d+)?"
_NUMBER_PAIR = re.compile(rf"{_NUMBER}[ ,]+{_NUMBER}")
_BETWEEN_NUMBERS = str.maketrans(dict.fromkeys(ascii_letters + ",()", " "))
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
    """The numbers of a path, of points or of a transformation.

    >>> _numbers("translate(88, -7.5) scale(0.72, 0.72)")
    [88.0, -7.5, 0.72, 0.72]
    """
    return list(map(float, (text or "").translate(_BETWEEN_NUMBERS).split()))


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
    drawing, width = path.get("d", ""), path.get("stroke-width", "0")
    numbers = _numbers_below(drawing, top)
    pad = float(width) / 2 if kind != "line" else 0.0
    if len(numbers) == 4:  # staff lines and stems: half of all that is drawn
        x0, y0, x1, y1 = numbers
        points = f"{x0:g},{y0:g} {x1:g},{y1:g}"
        box = Box(min(x0, x1) - pad, min(y0, y1) - pad, max(x0, x1) + pad, max(y0, y1) + pad)
    else:
        points, box = _points(numbers), _points_box(numbers, pad=pad)
    if "C" in drawing:
        svg = _curve_svg(drawing, numbers, width)
    else:
        svg = f'<path d="M{points}" fill="none" stroke="#000" stroke-width="{width}"/>'
    return DrawnShape(svg, box, kind, owner)


def _curve_svg(drawing: str, numbers: list[float], width: str) -> str:
    """Curves with other points."""
    points = iter(_points(numbers).split())
    moved = _NUMBER_PAIR.sub(lambda _: next(points), drawing)
    return f'<path d="{moved}" stroke="#000" stroke-width="{width}"/>'


def _slur_strips(path: ElementTree.Element, owner: str, top: float) -> Iterator[DrawnShape]:
    """A slur as one drawing, and boxes along it: around all of it would be room for other signs.

    Its path is a curve from left to right and another one back.
    """
    drawing, width = path.get("d", ""), path.get("stroke-width", "0")
    numbers = _numbers_below(drawing, top)
    svg, pad = _curve_svg(drawing, numbers, width), float(width) / 2
    there, back = _on_curve(*numbers[:8]), _on_curve(*numbers[6:14])[::-1]
    edges = [
        (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
        for (x0, y0), (x1, y1) in zip(there, back, strict=True)
    ]
    for (x0, y0, x1, y1), (x2, y2, x3, y3) in pairwise(edges):
        box = Box(min(x0, x2) - pad, min(y0, y2) - pad, max(x1, x3) + pad, max(y1, y3) + pad)
        yield DrawnShape(svg, box, "slur", owner)
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
    if top:
        numbers[1::2] = [y - top for y in numbers[1::2]]
    return numbers


def _points(numbers: list[float]) -> str:
    """Points as SVG writes them: ``0,540 232,540``."""
    return " ".join(map("{:g},{:g}".format, numbers[::2], numbers[1::2]))


def _points_box(numbers: Sequence[float], *, pad: float = 0.0) -> Box:
    xs, ys = numbers[::2], numbers[1::2]
    return Box(min(xs) - pad, min(ys) - pad, max(xs) + pad, max(ys) + pad)
