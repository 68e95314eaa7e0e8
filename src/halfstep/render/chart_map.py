"""How does a whole chart look at once? One page: its keys, its chords, what changes.

The bars stand in a grid. A key is a tinted region with its name where it begins; under
each chord symbol are the chord's tones, guide tones bold; beside the line to the next
chord stand the notes that change there.

Conventions
-----------
- The page is A4, in hundredths of a millimetre, y pointing down.
- All text is outlines, so that no glyph is ever missing; the same text stands as the
  picture's description, for those who cannot see it.
- Every text has a box of its own and is set smaller until it fits there.
- Four bars a line where that can be read, otherwise the number that is read best.
- Tints differ in lightness, and the name and the bold edge where a key begins hold
  without colour at all.

Sources: ISO 216 (A4), SVG 1.1, ISO 14289-1 (PDF/UA-1). Sizes: common practice, no source.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from itertools import pairwise

from halfstep.render.chord_lettering import PIECE_GAP, chord_pieces
from halfstep.render.engraver import Box
from halfstep.render.glyphs import missing_glyphs, printable, settable, text_width
from halfstep.render.page_file import pages_pdf
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

READABLE_MM = 1.7
"""The least size of text that is read with ease, as the em: nearly 5 points."""

_SIDE, _TOP, _BOTTOM = 1300.0, 1300.0, 1300.0
_GRID_TOP, _LEGEND_HIGH = 3300.0, 900.0
_HIGHEST_LINE, _LINE_GAP = 3300.0, 170.0
_BARS_A_LINE = (4, 2, 6, 8, 12, 16, 24, 32)
_SMALLER = 0.94
_LEADING = 1.22
_FAINT = "#aaa"
_TINTS = ("#f7f4ee", "#cbdcec", "#e6f2db", "#f2cdc1", "#f2edfa", "#ead98f", "#def1ef", "#e6cbd9")
"""Light and dark in turn, so that neighbours differ in grey print too."""


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
class MapChord:
    """A chord, or the rest of one, in a bar.

    Attributes
    ----------
    at : Fraction
        Quarter notes from the start of the bar.
    symbol : ChordText or None
        None where the chord before holds on.
    region : int
        Place in `ChartMap.regions`.
    tones : tuple of MapTone
    change : MapChange or None
        Towards the next chord, where this one ends here.
    """

    at: Fraction
    _: KW_ONLY
    symbol: ChordText | None
    region: int
    tones: tuple[MapTone, ...] = ()
    change: MapChange | None = None


@dataclass(frozen=True, slots=True)
class MapBar:
    """A bar: its number as printed, length in quarter notes, chords, a new metre."""

    number: str
    beats: Fraction
    chords: tuple[MapChord, ...]
    _: KW_ONLY
    note: str = ""
    barline: Barline = Barline.SINGLE


@dataclass(frozen=True, slots=True)
class MapRegion:
    """A stretch in one key: the key's name, and which tint it has."""

    name: str
    tint: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartMap:
    """Everything on the page.

    Attributes
    ----------
    title, facts : str
    bars : tuple of MapBar
    regions : tuple of MapRegion
    description : str
        The page in words.
    """

    title: str
    facts: str
    bars: tuple[MapBar, ...]
    regions: tuple[MapRegion, ...]
    description: str = ""


def chart_map_file(chart: ChartMap, suffix: str) -> tuple[bytes, tuple[str, ...]]:
    """The map as a file that ends in ``.svg`` or ``.pdf``, and what should be said of it.

    Notices are of signs that no font has, and of text that is hard to read.
    """
    page = set_chart_map(chart)
    svg = page.svg(title=chart.title, description=chart.description)
    notices = tuple(_notices(page, chart))
    if suffix == ".svg":
        return svg.encode(), notices
    return pages_pdf([svg], title=chart.title, description=chart.description), notices


def _notices(page: VectorPage, chart: ChartMap) -> Iterator[str]:
    missing = "".join(missing_glyphs(dict.fromkeys(_title(chart))))
    if missing:
        yield f"no font here has {missing}; the map has ? in its place"
    if page.smallest_mm < READABLE_MM:
        yield (
            f"{len(chart.bars)} bars on one page make text of {page.smallest_mm:.1f} mm, which is "
            "hard to read; enlarge the page"
        )


# The page


def set_chart_map(chart: ChartMap) -> VectorPage:
    """The page with the number of bars a line that reads best; four where that can be read."""
    best: VectorPage | None = None
    for bars_a_line in _BARS_A_LINE:
        page = _page(chart, bars_a_line)
        if best is None or page.smallest_mm > best.smallest_mm:
            best = page
        if best.smallest_mm >= READABLE_MM:
            break
    assert best is not None
    return best


def _page(chart: ChartMap, bars_a_line: int) -> VectorPage:
    page = VectorPage()
    _header(page, chart)
    lines = [
        chart.bars[start : start + bars_a_line] for start in range(0, len(chart.bars), bars_a_line)
    ]
    room = A4_HIGH - _BOTTOM - _LEGEND_HIGH - _GRID_TOP
    step = min(_HIGHEST_LINE + _LINE_GAP, room / len(lines))
    high = step * _HIGHEST_LINE / (_HIGHEST_LINE + _LINE_GAP)
    wide = (A4_WIDE - 2 * _SIDE) / bars_a_line
    region = -1
    for number, line in enumerate(lines):
        top = _GRID_TOP + number * step
        for place, bar in enumerate(line):
            left = _SIDE + place * wide
            box = Box(left, top, left + wide, top + high)
            _bar(page, chart, bar, box, before=region, opens=place == 0)
            region = bar.chords[-1].region
    _legend(page, _GRID_TOP + len(lines) * step)
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
    ("5 stay", "notes of the scale that both chords have", False),
)


def _legend(page: VectorPage, top: float) -> None:
    """The signs of the map with their meaning, in one line."""
    size, gap = 235.0, 330.0
    x, y = _SIDE, top + 420
    for sign, meaning, bold in _LEGEND:
        x += page.text(sign, x, y, size, bold=bold) + 90
        x += page.text(meaning, x, y, size, fill=SOFT_INK) + gap


# A bar


def _bar(
    page: VectorPage, chart: ChartMap, bar: MapBar, box: Box, *, before: int, opens: bool
) -> None:
    """Draw a bar.

    ``before`` is the region at the end of the bar before; where a bar ``opens`` a line the
    key is named again.
    """
    high = box.bottom - box.top
    strip = min(380.0, 0.2 * high)
    cells = [Box(left, box.top, right, box.bottom) for left, right in _edges(bar, box)]
    for chord, cell in zip(bar.chords, cells, strict=True):
        page.rectangle(cell, _TINTS[chart.regions[chord.region].tint % len(_TINTS)])
    left = _number(page, bar, box, strip)
    for chord, cell, end in zip(bar.chords, cells, _key_ends(bar, cells), strict=True):
        begins = chord.region != before
        if cell.left > box.left:
            page.rectangle(Box(cell.left - 5, box.top + strip, cell.left + 5, box.bottom), _FAINT)
            left = cell.left + 110
        if begins or (opens and cell.left == box.left):
            name = chart.regions[chord.region].name
            _key_name(page, name, Box(left, box.top, end, box.top + strip), begins=begins)
        if begins:
            page.rectangle(Box(cell.left, box.top, cell.left + 70, box.bottom), INK)
        before = chord.region
        _chord(page, chord, Box(cell.left, box.top + strip, cell.right, box.bottom))
    _bar_line(page, bar, box)


def _edges(bar: MapBar, box: Box) -> Iterator[tuple[float, float]]:
    """Left and right of each chord: half by its length, half all alike."""
    count = len(bar.chords)
    ends = [*(chord.at for chord in bar.chords[1:]), bar.beats]
    left = box.left
    for chord, end in zip(bar.chords, ends, strict=True):
        share = float((end - chord.at) / bar.beats) / 2 + 1 / count / 2
        yield left, left + share * (box.right - box.left)
        left += share * (box.right - box.left)


def _key_ends(bar: MapBar, cells: Sequence[Box]) -> list[float]:
    """For each chord how far its region goes in the bar."""
    ends = [cells[-1].right]
    for (chord, following), cell in zip(
        reversed(list(pairwise(bar.chords))), reversed(cells[:-1]), strict=True
    ):
        ends.append(ends[-1] if following.region == chord.region else cell.right)
    return ends[::-1]


def _number(page: VectorPage, bar: MapBar, box: Box, strip: float) -> float:
    """The bar's number and its new metre; returns where they end."""
    size = 0.62 * strip
    x = box.left + 110
    y = box.top + 0.78 * strip
    for text, bold in ((bar.number, False), (bar.note, True)):
        if text:
            x += page.text(text, x, y, size, fill=SOFT_INK, bold=bold) + 0.5 * size
    return x


def _key_name(page: VectorPage, name: str, room: Box, *, begins: bool) -> None:
    """A key's name in the strip above the chords; paler where a line only goes on in it."""
    strip = room.bottom - room.top
    size = fitted_size(name, 0.74 * strip, room.right - room.left - 60)
    y = room.top + 0.78 * strip
    page.text(name, room.left, y, size, fill=INK if begins else PALE_INK, bold=begins)


def _bar_line(page: VectorPage, bar: MapBar, box: Box) -> None:
    page.rectangle(Box(box.left - 8, box.top, box.left + 8, box.bottom), SOFT_INK)
    wide = 60.0 if bar.barline is Barline.FINAL else 16.0
    page.rectangle(Box(box.right - wide / 2, box.top, box.right + wide / 2, box.bottom), SOFT_INK)


# A chord


def _chord(page: VectorPage, chord: MapChord, box: Box) -> None:
    """Symbol, tones and changing notes, each in a band of its own."""
    high = box.bottom - box.top
    left, right = box.left + 130, box.right - 110
    symbol = Box(left, box.top, right, box.top + 0.32 * high)
    tones = Box(left, symbol.bottom, right, symbol.bottom + 0.26 * high)
    change = Box(left, tones.bottom, right, box.bottom - 0.03 * high)
    if chord.symbol:
        _symbol(page, chord.symbol, symbol)
    else:
        _holds(page, symbol)
    names = [
        _Word(tone.name, tone.strong, INK if tone.strong else SOFT_INK) for tone in chord.tones
    ]
    _flow(page, names, tones, largest=min(390.0, 0.22 * high))
    if chord.change:
        words = list(_change_words(chord.change))
        _flow(page, words, change, largest=min(310.0, 0.19 * high), to_right=True)


def _symbol(page: VectorPage, symbol: ChordText, box: Box) -> None:
    pieces = chord_pieces(symbol)
    wide = sum(text_width(text, size) + PIECE_GAP for text, size, _ in pieces)
    size = min(
        720.0, (box.bottom - box.top) / (TEXT_UP + TEXT_DOWN + 0.05), (box.right - box.left) / wide
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
