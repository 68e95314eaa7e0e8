"""How do several pieces of music stand on one page? Lead sheets, patterns and takes.

A page has a title, who reads it and facts, and under them blocks of music: each a score,
with a heading of its own where there are several. Music is set as large as one page allows
and shared over several pages where it would be too small to read.

Conventions
-----------
- The page is A4, in hundredths of a millimetre, y pointing down.
- All text is outlines; the title and description are said to a screen reader.
- Lines of music are spread over the page, but never further apart than is read with ease.

Sources: ISO 216 (A4), SVG 1.1. Sizes and distances: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from halfstep.render.drawn_line import SPACE, Box, DrawnLine, hull
from halfstep.render.glyphs import missing_glyphs, printable, settable, text_run, text_width
from halfstep.render.page_file import pages_pdf, png_bytes
from halfstep.render.picture_words import line_words
from halfstep.render.print_setting import TINTS, USUAL, PrintSetting
from halfstep.render.score_pictures import MM, STAFF_MM, fitted_lines
from halfstep.render.vector_page import (
    A4_HIGH,
    A4_WIDE,
    SOFT_INK,
    VectorPage,
    fitted_size,
)
from halfstep.score import Score
from halfstep.score_words import signs_in_words

_SIDE, _TOP, _BOTTOM = 1400.0, 1200.0, 1200.0
_TITLE, _FACT, _NUMBER = 760.0, 370.0, 300.0
_SCALES = (1.1, 1.0, 0.93, 0.86, 0.8, 0.74, 0.68)
"""Of the music, the largest first; a staff of 6.6 mm is 1."""
_SHARED = 0.86
"""Of music that needs several pages."""
_BARS_A_LINE = (4, 6, 8)
_HOPELESS = 1.4
"""Music so much too high for a page does not fit with more bars on a line either."""
_LEAST_GAP, _MOST_GAP = 230.0, 900.0
_HEADING_EM = 2.5 * SPACE
_OVER_NOTES = 500.0
"""Between the last line of a picture that is cut and the lines at its foot."""


@dataclass(frozen=True, slots=True)
class StaffBlock:
    """A piece of music on a page, with a heading over its first line or none."""

    score: Score
    heading: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffPage:
    """Everything on the page.

    Attributes
    ----------
    title : str
    reader : str
        Who reads it, top left.
    facts : tuple of str
        At the right under the title, such as the key.
    manner : str
        Feel and tempo, over the first line of music.
    blocks : tuple of StaffBlock
    description : str
        The page in words.
    notes : tuple of str
        Lines at the foot of the first page, such as what its signs mean.
    is_cut : bool
        A picture for a screen: where one page is enough, it ends below its music.
    setting : PrintSetting
        A staff that it names is kept, on as many pages as that takes.
    """

    title: str
    reader: str
    facts: tuple[str, ...]
    manner: str
    blocks: tuple[StaffBlock, ...]
    description: str = ""
    notes: tuple[str, ...] = ()
    is_cut: bool = False
    setting: PrintSetting = USUAL


def staff_page_files(page: StaffPage, suffix: str) -> tuple[tuple[bytes, ...], tuple[str, ...]]:
    """The page as files that end in ``.pdf``, ``.svg`` or ``.png``, and what should be said.

    A PDF is one file; of the others each page is one.
    """
    notices = tuple(_notices(page))
    if suffix == ".pdf":
        pages = [
            drawn.spoken(_page_words(page, number), title=page.title)
            for number, drawn in enumerate(set_staff_page(page), 1)
        ]
        return (pages_pdf(pages, title=page.title),), notices
    svgs = staff_page_svgs(page)
    if suffix == ".png":
        return tuple(map(png_bytes, svgs)), notices
    return tuple(svg.encode() for svg in svgs), notices


def _notices(page: StaffPage) -> Iterator[str]:
    missing = "".join(missing_glyphs(dict.fromkeys(printable(page.title))))
    if missing:
        yield f"no font here has {missing}; the page has ? in its place"


def _page_words(page: StaffPage, number: int) -> str:
    """What is said of a page before its music: of the first one what it is."""
    if number > 1:
        return f"{page.title}, {page.reader}, page {number}."
    heads = ", ".join(filter(None, (page.title, page.reader, *page.facts, page.manner)))
    return signs_in_words(" ".join(filter(None, (f"{heads}.", page.description, *page.notes))))


def staff_page_svgs(page: StaffPage) -> tuple[str, ...]:
    """Each page as an SVG picture that needs nothing from outside."""
    return tuple(
        drawn.svg(title=page.title, description=page.description, high=drawn.high)
        for drawn in set_staff_page(page)
    )


def set_staff_page(page: StaffPage) -> tuple[VectorPage, ...]:
    """One page where the music can be read there, otherwise as many as it needs."""
    setting = page.setting
    if setting.staff_mm or setting.bars:
        scale = (setting.staff_mm or _SHARED * STAFF_MM) / STAFF_MM
        return tuple(_shared(page, scale, setting.bars_a_line or _BARS_A_LINE[0]))
    room = A4_HIGH - _BOTTOM - _header_high(page) - _notes_high(page)
    for bars_a_line in _BARS_A_LINE:
        least = _lines(page, _SCALES[-1], bars_a_line)
        if _high(least) <= room:
            return (_drawn(page, _largest(page, least, bars_a_line, room), number=0),)
        if _high(least) > _HOPELESS * room:
            break
    return tuple(_shared(page, _SHARED, _BARS_A_LINE[0]))


def _largest(
    page: StaffPage, least: Sequence[_SetLine], bars_a_line: int, room: float
) -> Sequence[_SetLine]:
    """The lines as large as there is room for; ``least`` are the smallest."""
    for scale in _SCALES[:-1]:
        lines = _lines(page, scale, bars_a_line)
        if _high(lines) <= room:
            return lines
    return least


# Lines of music


@dataclass(frozen=True)
class _SetBlock:
    """A piece of music in its lines."""

    block: StaffBlock
    lines: Sequence[DrawnLine]

    @cached_property
    def words(self) -> list[str]:
        """Each line in words."""
        lines = [[int(name.removeprefix("b-")) for name in line.bars] for line in self.lines]
        return line_words(self.block.score, lines, signs_in_words(self.block.heading) or "Music")


@dataclass(frozen=True, slots=True)
class _SetLine:
    """A line of music, how high it is on the page, its scale, and which line of which piece."""

    line: DrawnLine
    box: Box
    scale: float
    block: _SetBlock
    number: int

    @property
    def words(self) -> str:
        """What a screen reader says for it."""
        return self.block.words[self.number]

    @property
    def high(self) -> float:
        return (self.box.bottom - self.box.top) * self.scale


def _lines(page: StaffPage, scale: float, bars_a_line: int) -> list[_SetLine]:
    width_mm = (A4_WIDE - 2 * _SIDE) / 100
    lines = []
    for block in page.blocks:
        score = replace(block.score, bars_a_system=bars_a_line)
        drawn, fitting = fitted_lines(score, width_mm, scale)
        if block.heading and drawn:
            _draw_heading(drawn[0], settable(block.heading))
        piece = _SetBlock(block, drawn)
        for number, line in enumerate(drawn):
            box = hull(shape.box for shape in line.shapes)
            lines.append(_SetLine(line, box, fitting * 100 * MM, piece, number))
    return lines


def _draw_heading(line: DrawnLine, text: str) -> None:
    """A heading at the left, over clef and signature where there is room."""
    wide = text_width(text, _HEADING_EM)
    bottom = line.staff.top - 1.2 * SPACE
    box = Box(0.0, bottom - 0.8 * _HEADING_EM, wide, bottom)
    box = line.cleared(box, down=False, gap=0.3 * SPACE)
    line.add(text_run(text, _HEADING_EM, y=box.bottom).svg, box, "heading")


def _high(lines: Sequence[_SetLine]) -> float:
    return sum(line.high for line in lines) + _LEAST_GAP * (len(lines) - 1)


# Pages


def _shared(page: StaffPage, scale: float, bars_a_line: int) -> Iterator[VectorPage]:
    """The music over several pages, each as full as the next."""
    lines = _lines(page, scale, bars_a_line)
    number = 0
    while lines:
        top = _header_high(page) + _notes_high(page) if number == 0 else 2 * _TOP
        count = len(lines)
        while count > 1 and _high(lines[:count]) > A4_HIGH - _BOTTOM - top:
            count -= 1
        yield _drawn(page, lines[:count], number=number)
        lines = lines[count:]
        number += 1


def _drawn(page: StaffPage, lines: Sequence[_SetLine], *, number: int) -> VectorPage:
    drawn = VectorPage(high=_page_high(page, lines))
    if page.setting.tint:
        _tint(drawn, TINTS[page.setting.tint])
    top = 2 * _TOP
    bottom = drawn.high - _BOTTOM
    if number == 0:
        _header(drawn, page)
        top = _header_high(page)
        bottom -= _notes_high(page)
        _foot(drawn, page, bottom)
        bottom -= _OVER_NOTES if page.is_cut else 0
    else:
        _running_head(drawn, page, number)
    spare = bottom - top - _high(lines)
    gap = _LEAST_GAP + min(_MOST_GAP - _LEAST_GAP, spare / max(1, len(lines) - 1))
    for line in lines:
        shapes = "".join(shape.svg for shape in line.line.shapes)
        drawn.figure(line.words)
        drawn.drawing(shapes, _SIDE, top - line.box.top * line.scale, line.scale)
        top += line.high + gap
    return drawn


def _tint(drawn: VectorPage, colour: str) -> None:
    """A colour behind all that stands on a page."""
    svg = f'<rect width="{A4_WIDE:g}" height="{drawn.high:g}" fill="{colour}"/>'
    drawn.drawing(svg, 0.0, 0.0, 1.0)


def _page_high(page: StaffPage, lines: Sequence[_SetLine]) -> float:
    """How high a page is: as paper is, or no higher than its music needs."""
    around = _header_high(page) + _OVER_NOTES + _notes_high(page) + _BOTTOM
    music = _high(lines) + _LEAST_GAP * (len(lines) - 1)
    return min(around + music, A4_HIGH) if page.is_cut else A4_HIGH


# Around the music


def _header_high(page: StaffPage) -> float:
    return _TOP + page.setting.text_scale * (1900.0 + (450.0 if page.manner else 0.0))


def _header(drawn: VectorPage, page: StaffPage) -> None:
    room, large = A4_WIDE - 2 * _SIDE, page.setting.text_scale
    soft = "#000" if page.setting.is_large else SOFT_INK
    title = settable(page.title)
    size = fitted_size(title, large * _TITLE, room)
    drawn.text(title, (A4_WIDE - text_width(title, size)) / 2, _TOP + 650 * large, size)
    facts = settable(" · ".join(page.facts))
    reader = settable(page.reader)
    fact = large * _FACT
    both = text_width(reader, fact) + text_width(facts, fact) + 2 * fact
    size = fact * min(1.0, room / both)
    drawn.text(reader, _SIDE, _TOP + 1350 * large, size)
    right = A4_WIDE - _SIDE - text_width(facts, size)
    drawn.text(facts, right, _TOP + 1350 * large, size, fill=soft)
    if page.manner:
        drawn.text(settable(page.manner), _SIDE, _TOP + 2050 * large, 1.1 * fact)


def _running_head(drawn: VectorPage, page: StaffPage, number: int) -> None:
    text = settable(f"{page.title} · {page.reader} · {number + 1}")
    drawn.text(text, _SIDE, _TOP + 300, _number_size(text, page))


def _notes_high(page: StaffPage) -> float:
    return 500.0 * page.setting.text_scale * len(page.notes)


def _number_size(text: str, page: StaffPage) -> float:
    """The size of the smallest text, which fits on a line."""
    return fitted_size(text, page.setting.text_scale * _NUMBER, A4_WIDE - 2 * _SIDE)


def _foot(drawn: VectorPage, page: StaffPage, top: float) -> None:
    row = 500.0 * page.setting.text_scale
    soft = "#000" if page.setting.is_large else SOFT_INK
    for place, note in enumerate(map(settable, page.notes)):
        drawn.text(note, _SIDE, top + row * (place + 0.8), _number_size(note, page), fill=soft)
