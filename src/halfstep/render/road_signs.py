"""How does a page show the order of playing? Section letters, endings, signs and words.

They stand over the chord symbols of a line of music: the brackets of endings nearest, over
them the boxed letters of sections and the signs, each moved up until it touches nothing.
Repeats are bar lines and the engraver's.

Sources: SMuFL 1.4 for the signs; sizes and places: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from halfstep.render.drawn_line import SPACE, Box, DrawnLine
from halfstep.render.glyphs import glyph_path, music_box, music_glyph, settable, text_run
from halfstep.road_words import LAST_TIME, sign_words
from halfstep.score import Score

_SEGNO, _CODA = 0xE047, 0xE048
_SIGN_SCALE = 0.72
_EM = 2.0 * SPACE
_SECTION_EM = 2.3 * SPACE
_PAD = 0.35 * SPACE
_LINE = 0.13 * SPACE
_ROW = 1.05  # from a row of text to the next, in its ems
_GAP = 0.3 * SPACE
_AT_START = {"segno": _SEGNO, "coda": _CODA}


@dataclass(frozen=True, slots=True)
class EndingBracket:
    """An ending as it is drawn: its first and last bar, its passes, and whether it is shut."""

    first: int
    last: int
    passes: tuple[int, ...]
    shut: bool

    @property
    def text(self) -> str:
        """As printed: ``1.``, ``1. 2.``, ``1.–3.``"""
        first, *_, last = (*self.passes, self.passes[-1])
        if len(self.passes) > 2 and self.passes == tuple(range(first, last + 1)):
            return f"{first}.–{last}."
        return " ".join(f"{number}." for number in self.passes)


def draw_road(line: DrawnLine, score: Score, bars: range) -> None:
    """Draw over a line of music what its bars say about the order of playing."""
    _draw_endings(line, score, bars)
    for place in bars:
        _draw_starts(line, score, place)
        _draw_ends(line, score, place)


def ending_brackets(score: Score) -> Iterator[EndingBracket]:
    """The endings of a score; one that nothing stops ends where the next begins."""
    begins = [place for place, bar in enumerate(score.bars) if bar.road.ending]
    for first, following in pairwise([*begins, len(score.bars)]):
        stops = [n for n in range(first, following) if score.bars[n].road.ending_stops]
        last = stops[0] if stops else following - 1
        shut = bool(stops) and bool(score.bars[last].road.backward)
        yield EndingBracket(first, last, score.bars[first].road.ending, shut)


# Endings


def _draw_endings(line: DrawnLine, score: Score, bars: range) -> None:
    """The brackets of a line at one height, with a hook where an ending begins or is shut."""
    brackets = [b for b in ending_brackets(score) if b.first in bars or b.last in bars]
    if not brackets:
        return
    bottom = line.staff.top - 1.2 * SPACE
    boxes = []
    for bracket in brackets:
        left = line.bars[f"b-{max(bracket.first, bars[0])}"].left + _LINE
        right = line.bars[f"b-{min(bracket.last, bars[-1])}"].right - 2 * _LINE
        boxes.append(Box(left, bottom - 1.1 * _EM, right, bottom))
    way = line.way_out(boxes, down=False, gap=_GAP)
    for bracket, box in zip(brackets, boxes, strict=True):
        box = box.lower(way)
        begins, ends = bracket.first in bars, bracket.last in bars and bracket.shut
        line.add(_bracket_svg(box, bracket.text if begins else "", ends), box, "ending")


def _bracket_svg(box: Box, text: str, ends: bool) -> str:
    start = f"M{box.left:.1f} {box.bottom:.1f}V" if text else f"M{box.left:.1f} "
    hook = f"V{box.bottom:.1f}" if ends else ""
    words = text_run(text, _EM, x=box.left + _PAD, y=box.bottom - 0.15 * _EM).svg
    return (
        f'<path d="{start}{box.top:.1f}H{box.right:.1f}{hook}" fill="none" stroke="#000" '
        f'stroke-width="{_LINE:.1f}"/>{words}'
    )


# Letters, signs and words


def _draw_starts(line: DrawnLine, score: Score, place: int) -> None:
    """Where a bar begins: its section's letter, segno and coda, and that it ends the last time."""
    road = score.bars[place].road
    left = _free_left(line, place)
    if road.section:
        left = _draw_section(line, settable(road.section), left) + 2 * _GAP
    for sign, code in _AT_START.items():
        if sign in road.signs:
            left = _draw_glyph(line, code, left) + _GAP
    if LAST_TIME in road.signs:
        text = settable(sign_words(LAST_TIME))
        left = max(left, line.chord_lefts.get(f"c-{place}-0", left))
        _draw_words(line, text, left + text_run(text, _EM).width + _PAD)


def _free_left(line: DrawnLine, place: int) -> float:
    """Where a bar begins, after the bar number at the start of a line."""
    left = line.bars[f"b-{place}"].left
    numbers = [shape.box.right for shape in line.shapes if shape.kind == "number"]
    return max([left, *(right + 2 * _GAP for right in numbers if left < right)])


def _draw_section(line: DrawnLine, text: str, left: float) -> float:
    """A letter or a name in a box; returns its right edge."""
    room = line.staff.right - left - 2 * _PAD
    rows = _rows(text, _SECTION_EM, room)
    wide = max(text_run(row, _SECTION_EM).width for row in rows) + 2 * _PAD
    high = (0.72 + _ROW * (len(rows) - 1)) * _SECTION_EM + 2 * _PAD
    left, bottom = _inside(line, left, wide), line.staff.top - 1.2 * SPACE
    box = line.cleared(Box(left, bottom - high, left + wide, bottom), down=False, gap=_GAP)
    words = _rows_svg(rows, _SECTION_EM, left + _PAD, box.bottom - _PAD)
    frame = (
        f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{wide:.1f}" '
        f'height="{high:.1f}" fill="none" stroke="#000" stroke-width="{_LINE:.1f}"/>'
    )
    line.add(frame + words, box, "section")
    return box.right


def _inside(line: DrawnLine, left: float, wide: float) -> float:
    """The left edge from which something as wide ends with the staff at the latest."""
    return max(line.staff.left, min(left, line.staff.right - wide))


def _rows(text: str, em: float, room: float) -> list[str]:
    """A text in rows that have room, as far as its words do."""
    first, *words = text.split(" ")
    rows = [first]
    for word in words:
        longer = f"{rows[-1]} {word}"
        if text_run(longer, em).width <= room:
            rows[-1] = longer
        else:
            rows.append(word)
    return rows


def _rows_svg(rows: Sequence[str], em: float, left: float, baseline: float) -> str:
    """Rows of text, the last of them on a baseline."""
    lines = (
        text_run(row, em, x=left, y=baseline - _ROW * em * below)
        for below, row in enumerate(reversed(rows))
    )
    return "".join(run.svg for run in lines)


def _draw_glyph(line: DrawnLine, code: int, left: float) -> float:
    x, low, wide, high = (size * _SIGN_SCALE for size in music_box(code))
    left, bottom = _inside(line, left, wide), line.staff.top - 1.2 * SPACE
    box = Box(left, bottom - high, left + wide, bottom)
    box = line.cleared(box, down=False, gap=_GAP)
    svg = glyph_path(music_glyph(code), left - x, box.bottom + low, _SIGN_SCALE)
    line.add(svg, box, "sign")
    return box.right


def _draw_ends(line: DrawnLine, score: Score, place: int) -> None:
    """Where a bar ends: how often it is repeated, to the coda, the end, back to the start."""
    road = score.bars[place].road
    right = line.bars[f"b-{place}"].right
    texts = [sign_words(sign) for sign in road.signs if sign not in (*_AT_START, LAST_TIME)]
    if road.backward > 2:
        texts.insert(0, f"{road.backward} times")
    if texts:
        _draw_words(line, settable(", ".join(texts)), right)


def _draw_words(line: DrawnLine, text: str, right: float) -> None:
    rows = _rows(text, _EM, line.staff.right - line.staff.left)
    wide = max(text_run(row, _EM).width for row in rows)
    left, bottom = _inside(line, right - wide - _PAD, wide), line.staff.top - 1.2 * SPACE
    top = bottom - (0.8 + _ROW * (len(rows) - 1)) * _EM
    box = Box(left, top, left + wide, bottom + 0.1 * _EM)
    box = line.cleared(box, down=False, gap=_GAP)
    svg = _rows_svg(rows, _EM, box.left, box.bottom - 0.1 * _EM)
    line.add(svg, box, "words")
