"""How does a whole chart look at once? One page: its keys, its chords, what changes.

Over each line of bars runs a slim ribbon: a bracket for each key with its name, open at the
end of a line where the key goes on. Under it stand the chord symbols between bar lines, each
chord's tones with the guide tones bold, its scale where there is room, and at the line to
the next chord the notes that change there.

Conventions
-----------
- The page is A4, in hundredths of a millimetre, y pointing down.
- All text is outlines, so that no glyph is ever missing; the same text stands as the
  picture's description, for those who cannot see it.
- Every text has a box of its own and is set smaller until it fits there.
- The lines of bars fill the page: one bar a line, two, or four as long as that leaves no
  white; more where only so the bars can be read.
- Nothing is told by colour or tint, so that any copier keeps it.

Sources: ISO 216 (A4), SVG 1.1, ISO 14289-1 (PDF/UA-1). Sizes: common practice, no source.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from itertools import accumulate, groupby, pairwise
from math import ceil

from halfstep.render.chord_lettering import PIECE_GAP, chord_pieces
from halfstep.render.drawn_line import Box
from halfstep.render.drawn_page import READABLE_MM, drawing_notices, drawn_page
from halfstep.render.glyphs import printable, settable, text_width
from halfstep.render.vector_page import (
    A4_HIGH,
    A4_WIDE,
    INK,
    PALE_INK,
    SOFT_INK,
    TEXT_DOWN,
    TEXT_UP,
    VectorPage,
    fitted_size,
)
from halfstep.score import Barline, ChordText

_SIDE, _TOP, _BOTTOM = 1300.0, 1300.0, 1300.0
_GRID_TOP, _LEGEND_HIGH = 2950.0, 1150.0
_HIGHEST_LINE = 8300.0
_ROOMY = 4300.0
"""A line of bars this high has room for the scales."""
_GAP_SHARE = 0.05
"""Of a line's share of the page, white between it and the next."""
_BARS_A_LINE = (4, 2, 1)
_CROWDED = (2, 6, 8, 12, 16, 24, 32)
"""Bars a line where four cannot be read."""
_LEAST_PICKUP = 0.5
"""The least width of a pickup, in bars."""
_SYMBOL_UP = 0.87
"""How far the raised part of a chord symbol reaches above its baseline, in ems."""
_SMALLER = 0.94
_LEADING = 1.22
_THIN, _FAINT = 10.0, "#777"
_BRACKET = 26.0


@dataclass(frozen=True, slots=True)
class MapTone:
    """A tone of a chord as printed; strong for a guide tone."""

    name: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class MapMove:
    """A note that changes towards the next chord.

    Attributes
    ----------
    old, new : str
        As printed; ``old`` is empty for a new note, ``new`` for one that is left out.
    strong : bool
        True for a half step.
    """

    old: str
    new: str
    strong: bool = False

    @property
    def text(self) -> str:
        """As printed: ``C♯→C``, ``+E♭``, ``−F``."""
        if self.old and self.new:
            return f"{self.old}→{self.new}"
        return f"+{self.new}" if self.new else f"−{self.old}"


@dataclass(frozen=True, slots=True)
class MapChange:
    """What happens at the end of a chord: how many notes stay, and those that do not."""

    stays: int
    moves: tuple[MapMove, ...] = ()


@dataclass(frozen=True, slots=True)
class MapScale:
    """A scale as printed: its name, and the names of its notes."""

    name: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MapChord:
    """A chord, or the rest of one, in a bar.

    Attributes
    ----------
    at : Fraction
        Quarter notes from the start of the bar.
    symbol : ChordText or None
        None where the chord before holds on.
    region : int
        Place in `ChartMap.keys`.
    tones : tuple of MapTone
    scale : MapScale or None
        Where the chord begins.
    note : str
        Where in the bar it begins, when that is not at the start.
    change : MapChange or None
        Towards the next chord, where this one ends here.
    """

    at: Fraction
    _: KW_ONLY
    symbol: ChordText | None
    region: int
    tones: tuple[MapTone, ...] = ()
    scale: MapScale | None = None
    note: str = ""
    change: MapChange | None = None


@dataclass(frozen=True, slots=True)
class MapBar:
    """A bar: number as printed, length in quarter notes, chords, a new metre, a section."""

    number: str
    beats: Fraction
    chords: tuple[MapChord, ...]
    _: KW_ONLY
    note: str = ""
    section: str = ""
    barline: Barline = Barline.SINGLE


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartMap:
    """Everything on the page.

    Attributes
    ----------
    title, facts : str
    bars : tuple of MapBar
        From bar 1 on.
    keys : tuple of str
        The name of the key of each stretch of chords, in order.
    description : str
        The chords bar by bar, in words.
    details : str
        Tones, scales and changes, in words.
    pickup : MapBar or None
        What stands before bar 1, in no key; it may have no chords.
    """

    title: str
    facts: str
    bars: tuple[MapBar, ...]
    keys: tuple[str, ...]
    description: str = ""
    details: str = ""
    pickup: MapBar | None = None


def chart_map_file(chart: ChartMap, suffix: str) -> tuple[bytes, tuple[str, ...]]:
    """The map as a file that ends in ``.svg`` or ``.pdf``, and what should be said of it.

    Notices are of signs that no font has, and of text that is hard to read.
    """
    page = set_chart_map(chart)
    notices = tuple(drawing_notices(page, _title(chart), f"{len(chart.bars)} bars"))
    words = f"{chart.description} {chart.details}".strip()
    file = drawn_page(page, suffix, title=chart.title, description=words)
    return file, notices


# The page


def set_chart_map(chart: ChartMap) -> VectorPage:
    """The page with four bars a line, fewer where those leave white; else what reads best."""
    usual = next((n for n in _BARS_A_LINE if _line_high(chart, n) < _HIGHEST_LINE), 1)
    best = _page(chart, usual)
    for bars_a_line in (usual, *_CROWDED):
        if best.smallest_mm >= READABLE_MM:
            break
        page = _page(chart, bars_a_line)
        best = max(best, page, key=lambda page: page.smallest_mm)
    return best


def _line_high(chart: ChartMap, bars_a_line: int) -> float:
    """What each line of bars has of the page."""
    return (A4_HIGH - _BOTTOM - _LEGEND_HIGH - _GRID_TOP) / ceil(len(chart.bars) / bars_a_line)


def _page(chart: ChartMap, bars_a_line: int) -> VectorPage:
    page = VectorPage()
    _header(page, chart)
    step = min(_HIGHEST_LINE, _line_high(chart, bars_a_line))
    high = step * (1 - _GAP_SHARE)
    top = _GRID_TOP
    for start in range(0, len(chart.bars), bars_a_line):
        line = _MapLine(chart, range(start, min(start + bars_a_line, len(chart.bars))))
        wide = (A4_WIDE - 2 * _SIDE) / (bars_a_line + line.pickup_share)
        left = _SIDE + line.pickup_share * wide
        _draw_line(page, line, Box(left, top, left + wide, top + high))
        top += step
    _legend(page, A4_HIGH - _BOTTOM - _LEGEND_HIGH, scales=high > _ROOMY)
    return page


def _title(chart: ChartMap) -> str:
    return unicodedata.normalize("NFC", printable(chart.title))


def _header(page: VectorPage, chart: ChartMap) -> None:
    title = settable(_title(chart))
    room = A4_WIDE - 2 * _SIDE
    size = fitted_size(title, 800.0, room)
    page.text(title, _SIDE, _TOP + 700, size)
    page.text(chart.facts, _SIDE, _TOP + 1350, fitted_size(chart.facts, 360.0, room), fill=SOFT_INK)


_LEGEND = (
    ("B", "bold: guide tones", True),
    ("C♯→C", "a half step to the next chord", True),
    ("D→E", "a step", False),
    ("+E", "new", False),
    ("−F", "left out", False),
    ("5 stay", "notes that both scales have", False),
)


def _legend(page: VectorPage, top: float, *, scales: bool) -> None:
    """The signs of the map with their meaning."""
    size, gap = 300.0, 380.0
    right = A4_WIDE - _SIDE
    x, y = _SIDE, top + 500
    entries = [*_LEGEND, ("D Dorian", "the scale, with its notes", False)] if scales else _LEGEND
    for sign, meaning, bold in entries:
        wide = text_width(sign, size) + 100 + text_width(meaning, size)
        if x + wide > right:
            x, y = _SIDE, y + 1.6 * size
        x += page.text(sign, x, y, size, bold=bold) + 100
        x += page.text(meaning, x, y, size, fill=SOFT_INK) + gap


# A line of bars


@dataclass(frozen=True, slots=True)
class _MapLine:
    """The bars of one line, as places in the chart."""

    chart: ChartMap
    places: range

    @property
    def bars(self) -> tuple[MapBar, ...]:
        return self.chart.bars[self.places.start : self.places.stop]

    @property
    def pickup(self) -> MapBar | None:
        """What stands before the first bar of the first line."""
        return None if self.places.start else self.chart.pickup

    @property
    def pickup_share(self) -> float:
        """The width of the pickup against a bar's; 0 without one."""
        if self.pickup is None:
            return 0.0
        return max(_LEAST_PICKUP, float(self.pickup.beats / self.bars[0].beats))

    def region_before(self) -> int:
        """The key stretch at the end of the line before; -1 before the first."""
        start = self.places.start
        return self.chart.bars[start - 1].chords[-1].region if start else -1

    def region_after(self) -> int:
        """The key stretch that the next line begins in; -1 after the last."""
        stop = self.places.stop
        return self.chart.bars[stop].chords[0].region if stop < len(self.chart.bars) else -1


def _draw_line(page: VectorPage, line: _MapLine, first: Box) -> None:
    """A line of bars, of which ``first`` is the box of the first."""
    largest = _largest_symbol(line.chart, first)
    high, wide = first.bottom - first.top, first.right - first.left
    ribbon = min(520.0, 0.14 * high)
    if line.pickup:
        left = first.left - line.pickup_share * wide
        before = Box(left, first.top + ribbon, first.left, first.bottom)
        _bar(page, line.pickup, before, largest=largest)
    cells = []
    for place, bar in enumerate(line.bars):
        left = first.left + place * wide
        box = Box(left, first.top + ribbon, left + wide, first.bottom)
        cells += _cells(bar, box)
        _bar(page, bar, box, largest=largest)
    _ribbon(page, line, cells, Box(first.left, first.top, cells[-1][1].right, first.top + ribbon))


def _largest_symbol(chart: ChartMap, box: Box) -> float:
    """How large chord symbols are at most, so that those in narrow cells look alike."""
    rooms = [cell.right - cell.left for bar in chart.bars for _, cell in _cells(bar, box)]
    return min(1400.0, max(700.0, 0.42 * min(rooms)))


def _cells(bar: MapBar, box: Box) -> list[tuple[MapChord, Box]]:
    """Each chord with the part of the bar that it has: half by its length, half all alike."""
    count = len(bar.chords)
    ends = [*(chord.at for chord in bar.chords[1:]), bar.beats][:count]
    left, cells = box.left, []
    for chord, end in zip(bar.chords, ends, strict=True):
        share = float((end - chord.at) / bar.beats) / 2 + 1 / count / 2
        right = left + share * (box.right - box.left)
        cells.append((chord, Box(left, box.top, right, box.bottom)))
        left = right
    return cells


# The ribbon of keys


def _ribbon(
    page: VectorPage, line: _MapLine, cells: Sequence[tuple[MapChord, Box]], room: Box
) -> None:
    """A bracket for each key of a line, shut where the key begins and where it ends."""
    before, after = line.region_before(), line.region_after()
    for region, stretch in groupby(cells, key=lambda cell: cell[0].region):
        boxes = [box for _, box in stretch]
        box = Box(boxes[0].left + 40, room.top, boxes[-1].right - 40, room.bottom)
        name = line.chart.keys[region]
        _key_bracket(page, name, box, begins=region != before, ends=region != after)


def _key_bracket(page: VectorPage, name: str, box: Box, *, begins: bool, ends: bool) -> None:
    """A key's name in its bracket; paler where a line only goes on in it."""
    high = box.bottom - box.top
    y, foot = box.top + 0.4 * high, box.top + 0.86 * high
    stub = min(0.5 * high, 0.04 * (box.right - box.left))
    size = fitted_size(name, min(370.0, 0.83 * high), box.right - box.left - 3.2 * stub)
    left = box.left + 1.4 * stub
    right = left + page.text(
        name, left, y + 0.32 * size, size, fill=INK if begins else PALE_INK, bold=begins
    )
    half = _BRACKET / 2
    page.rectangle(Box(box.left, y - half, box.left + stub, y + half), INK)
    page.rectangle(Box(right + 0.4 * stub, y - half, box.right, y + half), INK)
    for edge, shut in ((box.left, begins), (box.right, ends)):
        if shut:
            page.rectangle(Box(edge - half, y - half, edge + half, foot), INK)


# A bar


def _bar(page: VectorPage, bar: MapBar, box: Box, *, largest: float) -> None:
    """Draw a bar: its lines, its number, and its chords."""
    strip = min(330.0, 0.146 * (box.bottom - box.top))
    left = _number(page, bar, box, strip)
    for chord, cell in _cells(bar, box):
        if cell.left > box.left:
            page.rectangle(
                Box(cell.left - _THIN / 2, box.top + strip, cell.left + _THIN / 2, box.bottom),
                _FAINT,
            )
            left = cell.left + min(110.0, 0.1 * (cell.right - cell.left))
        size = fitted_size(chord.note, _strip_size(strip), max(1.0, cell.right - left - 60))
        if chord.note and size >= 100 * READABLE_MM:
            page.text(chord.note, left, box.top + 0.78 * strip, size, fill=SOFT_INK)
        room = Box(cell.left, box.top + strip, cell.right, box.bottom)
        _chord(page, chord, room, largest=largest)
    _bar_line(page, bar, box)


def _number(page: VectorPage, bar: MapBar, box: Box, strip: float) -> float:
    """The bar's number, its section's letter and its new metre; returns where they end."""
    size = _strip_size(strip)
    x = box.left + 110
    y = box.top + 0.78 * strip
    section = settable(bar.section)
    for text, bold in ((section, True), (bar.number, False), (bar.note, True)):
        if text:
            room = 0.4 * (box.right - box.left)
            x += page.text(text, x, y, fitted_size(text, size, room), fill=SOFT_INK, bold=bold)
            x += 0.5 * size
    return x


def _strip_size(strip: float) -> float:
    return min(250.0, 0.92 * strip)


def _bar_line(page: VectorPage, bar: MapBar, box: Box) -> None:
    page.rectangle(Box(box.left - 8, box.top, box.left + 8, box.bottom), SOFT_INK)
    page.rectangle(Box(box.right - 8, box.top, box.right + 8, box.bottom), SOFT_INK)
    if bar.barline is not Barline.SINGLE:
        page.rectangle(Box(box.right - 70, box.top, box.right - 54, box.bottom), SOFT_INK)
    if bar.barline is Barline.FINAL:
        page.rectangle(Box(box.right - 30, box.top, box.right + 30, box.bottom), SOFT_INK)


# A chord


def _chord(page: VectorPage, chord: MapChord, box: Box, *, largest: float) -> None:
    """Symbol, tones, scale and changing notes, each in a band of its own."""
    high = box.bottom - box.top
    edge = min(130.0, 0.1 * (box.right - box.left))
    left, right = box.left + edge, box.right - edge
    roomy = high > _ROOMY - 850
    shares = (0.25, 0.18, 0.27, 0.27) if roomy else (0.32, 0.26, 0.0, 0.39)
    edges = [box.top + share * high for share in accumulate(shares, initial=0.0)]
    symbol, tones, scale, change = (
        Box(left, top, right, bottom) for top, bottom in pairwise(edges)
    )
    if chord.symbol:
        _symbol(page, chord.symbol, symbol, largest=largest)
    else:
        _holds(page, symbol)
    names = [
        _Word(tone.name, tone.strong, INK if tone.strong else SOFT_INK) for tone in chord.tones
    ]
    _flow(page, names, tones, largest=min(620.0, 0.22 * high))
    if chord.scale and roomy:
        _scale(page, chord.scale, scale)
    if chord.change:
        words = list(_change_words(chord.change))
        _flow(page, words, change, largest=min(500.0, 0.19 * high), to_right=True)


def _scale(page: VectorPage, scale: MapScale, box: Box) -> None:
    """A scale's name over its notes, where the cell is wide enough to read them."""
    widest = max(text_width(word, 100 * READABLE_MM) for word in scale.name.split())
    if widest > box.right - box.left:
        return
    middle = box.top + 0.42 * (box.bottom - box.top)
    name = [_Word(word, False, SOFT_INK) for word in scale.name.split()]
    _flow(page, name, Box(box.left, box.top, box.right, middle), largest=340.0)
    notes = [_Word(note, False, SOFT_INK) for note in scale.notes]
    _flow(page, notes, Box(box.left, middle, box.right, box.bottom), largest=420.0)


def _symbol(page: VectorPage, symbol: ChordText, box: Box, *, largest: float) -> None:
    pieces = chord_pieces(symbol)
    wide = sum(text_width(text, size) + PIECE_GAP for text, size, _ in pieces)
    size = min(
        largest,
        (box.bottom - box.top) / (_SYMBOL_UP + TEXT_DOWN + 0.03),
        (box.right - box.left) / wide,
    )
    x, y = box.left, box.bottom - TEXT_DOWN * size - 0.02 * size
    for text, scale, rise in pieces:
        x += page.text(text, x, y - rise * size, scale * size) + PIECE_GAP * size


def _holds(page: VectorPage, box: Box) -> None:
    """A short stroke: the chord before goes on."""
    y = (box.top + box.bottom) / 2
    page.rectangle(Box(box.left, y - 14, box.left + 420, y + 14), PALE_INK)


@dataclass(frozen=True, slots=True)
class _Word:
    """A text of a flow, with its look."""

    text: str
    bold: bool
    fill: str


def _change_words(change: MapChange) -> Iterator[_Word]:
    yield _Word(f"{change.stays or 'none'} stay" if change.moves else "all stay", False, SOFT_INK)
    yield from (_Word(move.text, move.strong, INK) for move in change.moves)


def _flow(
    page: VectorPage, words: Sequence[_Word], box: Box, *, largest: float, to_right: bool = False
) -> None:
    """Words in as many lines as there is room for, smaller until they fit."""
    if not words:
        return
    size = largest
    wide, high = box.right - box.left, box.bottom - box.top
    while True:
        lines = list(_lines(words, size, wide))
        fits = all(_width(line, size) <= wide for line in lines)
        if fits and (len(lines) - 1) * _LEADING * size + (TEXT_UP + TEXT_DOWN) * size <= high:
            break
        size *= _SMALLER
    for number, line in enumerate(lines):
        y = box.top + (TEXT_UP + number * _LEADING) * size
        if to_right:
            y = box.bottom - (TEXT_DOWN + (len(lines) - 1 - number) * _LEADING) * size
        x = box.right - _width(line, size) if to_right else box.left
        for word in line:
            x += page.text(word.text, x, y, size, fill=word.fill, bold=word.bold)
            x += _GAP * size


_GAP = 0.45
"""Between words of a flow, in ems."""


def _lines(words: Iterable[_Word], size: float, wide: float) -> Iterator[list[_Word]]:
    line: list[_Word] = []
    for word in words:
        if line and _width([*line, word], size) > wide:
            yield line
            line = []
        line.append(word)
    yield line


def _width(line: Sequence[_Word], size: float) -> float:
    return sum(text_width(word.text, size) for word in line) + _GAP * size * (len(line) - 1)
