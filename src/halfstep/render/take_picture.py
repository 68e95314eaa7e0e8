"""How does a take look at once? Pitch over time, one bar for each note that was heard.

Conventions
-----------
- Pages are as wide as A4 and at most as high, in hundredths of a millimetre, y down. A take
  that needs more is drawn on several.
- A line through the middle of each white key; a note that is sharp lies above its line by
  its cents, a flat one below. The fainter a bar, the less certain the note; its thin edge
  stays dark, so that it is seen in any print.
- All text is outlines, so that no glyph is ever missing; the same notes stand as the
  picture's description, for those who cannot see it.

Sources: ISO 216 (A4), SVG 1.1, Portable Network Graphics (through typst). Sizes: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from halfstep.pitch import LETTERS, NATURAL_SEMITONES, Pitch
from halfstep.render.engraver import Box
from halfstep.render.glyphs import EM, settable, text_width
from halfstep.render.vector_page import A4_HIGH, A4_WIDE, INK, SOFT_INK, VectorPage, fitted_size

_SIDE, _TOP, _BOTTOM = 1300.0, 1300.0, 1200.0
_LEFT = 900.0
"""Room for the names of notes."""
_AXIS, _LEGEND = 700.0, 700.0
"""Room under a row for its seconds, and for the legend."""
_SEMITONE, _LEAST_SEMITONE, _TALLEST_ROW = 170.0, 95.0, 4200.0
_ROW_S = (5, 10, 15)
_MOST_ROWS = 12
_NAME, _SECONDS, _FACTS, _TITLE = 215.0, 235.0, 300.0, 620.0
_GRID, _KEY = "#c4c4c4", "#f0f0f0"
_BAR = "#12355b"


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureNote:
    """A bar of the picture.

    Attributes
    ----------
    onset_s, offset_s : float
    pitch : Pitch
        As it is named.
    cents : float
    certainty : float
        0 to 1.
    """

    onset_s: float
    offset_s: float
    pitch: Pitch
    cents: float
    certainty: float


@dataclass(frozen=True, slots=True)
class TakePicture:
    """Everything on the pages.

    Attributes
    ----------
    title : str
    facts : tuple of str
        Lines under the title.
    length_s : float
    notes : tuple of PictureNote
        In order.
    """

    title: str
    facts: tuple[str, ...]
    length_s: float
    notes: tuple[PictureNote, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How a take is shared out.

    Attributes
    ----------
    low, high : int
        MIDI numbers of the lowest and highest line.
    semitone : float
    row_s : int
        Seconds in a row.
    rows : int
        In all.
    rows_a_page : int
    """

    low: int
    high: int
    semitone: float
    row_s: int
    rows: int
    rows_a_page: int

    @property
    def row_high(self) -> float:
        """A row without its axis."""
        return (self.high - self.low + 1) * self.semitone

    @property
    def second(self) -> float:
        """The width of a second."""
        return (A4_WIDE - 2 * _SIDE - _LEFT) / self.row_s

    def y(self, top: float, midi: float) -> float:
        """The middle of a pitch in the row that begins at ``top``."""
        return top + (self.high - midi + 0.5) * self.semitone


def take_svgs(take: TakePicture) -> tuple[str, ...]:
    """The pages as SVG pictures that need nothing from outside."""
    header = _header_high(take)
    layout = _layout(take, A4_HIGH - header - _BOTTOM - _LEGEND)
    pages = ceil(layout.rows / layout.rows_a_page)
    return tuple(_page_svg(take, layout, number, pages) for number in range(pages))


def _layout(take: TakePicture, room: float) -> _Layout:
    midis = [note.pitch.midi for note in take.notes] or [60, 72]
    low, high = min(midis) - 2, max(midis) + 3
    semitone = max(_LEAST_SEMITONE, min(_SEMITONE, _TALLEST_ROW / (high - low + 1)))
    rows_a_page = int(min(_MOST_ROWS, room // ((high - low + 1) * semitone + _AXIS)))
    row_s = _ROW_S[-1]
    if take.length_s <= _ROW_S[0]:
        row_s = _ROW_S[0]
    elif take.length_s <= _ROW_S[1] * rows_a_page:
        row_s = _ROW_S[1]
    rows = max(1, ceil(take.length_s / row_s))
    return _Layout(
        low=low, high=high, semitone=semitone, row_s=row_s, rows=rows, rows_a_page=rows_a_page
    )


def _page_svg(take: TakePicture, layout: _Layout, number: int, pages: int) -> str:
    first = number * layout.rows_a_page
    last = min(first + layout.rows_a_page, layout.rows)
    page = VectorPage()
    span_s = (first * layout.row_s, min(take.length_s, last * layout.row_s))
    _header(page, take, _span_text(span_s, take, number, pages))
    top = _header_high(take)
    for row in range(first, last):
        _row(page, take, layout, row=row, top=top)
        top += layout.row_high + _AXIS
    _legend(page, top + 0.35 * _LEGEND)
    notes = [note for note in take.notes if span_s[0] <= note.onset_s < span_s[1]]
    return page.svg(
        title=settable(take.title),
        description=_in_words(notes),
        high=top + _LEGEND + _BOTTOM,
        decimals=2,
    )


def _span_text(span_s: tuple[float, float], take: TakePicture, number: int, pages: int) -> str:
    if pages == 1:
        return ""
    return (
        f"{clock_text(span_s[0])} to {clock_text(span_s[1])} of {clock_text(take.length_s)}, "
        f"page {number + 1} of {pages}"
    )


def clock_text(time_s: float, digits: int = 0) -> str:
    """A time as minutes and seconds.

    >>> clock_text(75), clock_text(75.26, 1)
    ('1:15', '1:15.3')
    """
    whole = round(time_s * 10**digits)
    minutes, rest = divmod(whole, 60 * 10**digits)
    width = 3 + digits if digits else 2
    return f"{minutes}:{rest / 10**digits:0{width}.{digits}f}"


def _in_words(notes: Sequence[PictureNote]) -> str:
    names = (f"{clock_text(note.onset_s, 2)} {note.pitch}" for note in notes)
    return f"The notes that were heard: {'; '.join(names)}."


# Around the rows


def _header_high(take: TakePicture) -> float:
    return _TOP + 750 + 420 * (len(take.facts) + 1) + 150


def _header(page: VectorPage, take: TakePicture, span_text: str) -> None:
    _line(page, settable(take.title), _TOP + 550, _TITLE, fill=INK)
    y = _TOP + 750
    for fact in (*take.facts, span_text):
        y += 420
        _line(page, settable(fact), y - 120, _FACTS, fill=SOFT_INK)


def _line(page: VectorPage, text: str, y: float, size: float, *, fill: str) -> None:
    """A line of text, set smaller where it is too long."""
    if text:
        page.text(text, _SIDE, y, fitted_size(text, size, A4_WIDE - 2 * _SIDE), fill=fill)


def _legend(page: VectorPage, y: float) -> None:
    x = _SIDE + _LEFT
    x += page.text("certainty", x, y, _SECONDS, fill=SOFT_INK) + 200
    for certainty in (1.0, 0.75, 0.5):
        _bar(page, Box(x, y - 140, x + 500, y), certainty)
        x += 580
        x += page.text(f"{certainty * 100:.0f} %", x, y, _SECONDS, fill=SOFT_INK) + 300
    page.text(
        "above the middle of its line or band: sharp, below: flat", x, y, _SECONDS, fill=SOFT_INK
    )


# A row


def _row(page: VectorPage, take: TakePicture, layout: _Layout, *, row: int, top: float) -> None:
    begin_s, end_s = row * layout.row_s, (row + 1) * layout.row_s
    _staff(page, layout, row, top)
    for place, note in enumerate(take.notes):
        if note.offset_s <= begin_s or note.onset_s >= end_s:
            continue
        box = _note_box(note, layout, begin_s, top)
        _bar(page, box, note.certainty)
        following = take.notes[place + 1 : place + 2]
        until_s = following[0].onset_s if following else end_s
        if note.onset_s >= begin_s:
            _note_name(page, note, box, (until_s - note.onset_s) * layout.second)


def _note_box(note: PictureNote, layout: _Layout, begin_s: float, top: float) -> Box:
    left = max(0.0, note.onset_s - begin_s) * layout.second
    right = min(float(layout.row_s), note.offset_s - begin_s) * layout.second
    middle = layout.y(top, note.pitch.midi + note.cents / 100)
    half = 0.4 * layout.semitone
    start = _SIDE + _LEFT
    return Box(start + left, middle - half, start + max(right, left + 25), middle + half)


def _bar(page: VectorPage, box: Box, certainty: float) -> None:
    opacity = min(1.0, max(0.1, 1.6 * certainty - 0.6))
    page.shapes.append(
        f'<rect x="{box.left:.0f}" y="{box.top:.0f}" width="{box.right - box.left:.0f}" '
        f'height="{box.bottom - box.top:.0f}" rx="20" fill="{_BAR}" fill-opacity="{opacity:.2f}" '
        f'stroke="{_BAR}" stroke-width="14"/>'
    )


def _note_name(page: VectorPage, note: PictureNote, box: Box, room: float) -> None:
    """The note's name over its bar, where it reaches over no other."""
    name = str(note.pitch)
    if text_width(name, _NAME) < room - 30 and box.left + text_width(name, _NAME) < A4_WIDE - _SIDE:
        page.text(name, box.left, box.top - 55, _NAME)


def _staff(page: VectorPage, layout: _Layout, row: int, top: float) -> None:
    """What lies under the bars: keys, seconds, and their names."""
    left, right = _SIDE + _LEFT, A4_WIDE - _SIDE
    bottom = top + layout.row_high
    for midi in range(layout.low, layout.high + 1):
        middle = layout.y(top, midi)
        if midi % 12 not in NATURAL_SEMITONES:
            half = layout.semitone / 2
            page.rectangle(Box(left, middle - half, right, middle + half), _KEY)
        else:
            thick = 8 if midi % 12 == 0 else 3
            page.rectangle(Box(left, middle - thick, right, middle + thick), _GRID)
    for midi in _named(layout):
        name = f"{LETTERS[NATURAL_SEMITONES.index(midi % 12)]}{midi // 12 - 1}"
        x = left - text_width(name, _NAME) - 120
        page.text(name, x, layout.y(top, midi) + 0.33 * _NAME, _NAME, fill=SOFT_INK)
    for second in range(layout.row_s + 1):
        x = left + second * layout.second
        page.rectangle(Box(x - 4, top, x + 4, bottom + 70), _GRID)
        text = clock_text(row * layout.row_s + second)
        page.text(text, x - text_width(text, _SECONDS) / 2, bottom + 330, _SECONDS, fill=SOFT_INK)


def _named(layout: _Layout) -> Iterator[int]:
    """White keys whose names have room beside the row."""
    every = [0, 2, 4, 7, 9] if layout.semitone * 2 > _NAME * EM / 1000 else [0, 4, 7]
    yield from (midi for midi in range(layout.low, layout.high + 1) if midi % 12 in every)
