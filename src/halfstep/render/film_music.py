"""Where in a film does the music stand? Its lines in pixels, and where their heads and bars are.

Two lines are seen at a time, one above the other: the lines of a score take the upper and the
lower place in turn, and their staves stand on the same two places all the film long.

Conventions
-----------
- Pixels, y pointing down. Boxes of a line are counted from the upper left corner of its place.
- The staff is as large as `FilmSize.staff_space` says, and larger where no line gets fewer bars by
  it; only music that would not fit otherwise is made smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from halfstep.render.engraver import SPACE, Box, DrawnLine, hull
from halfstep.render.film_sizes import FilmSize
from halfstep.render.raster import Drawing
from halfstep.render.score_pictures import EDGE, MM, bar_begins, fewest_lines, fitted_lines
from halfstep.score import Score

PLACES = 2
"""Lines that are seen at a time."""
_LARGER = (1.5, 1.35, 1.2, 1.1)
_OVERLAY = 0.7
"""How large music is that is laid over another film."""
_OVER, _UNDER = 0.3, 1.6
"""Spaces: white above a line, and below it the room for the mark that runs under it."""
_SMALLEST = 0.4
"""Of the staff that is wished, under which none is drawn."""
_MOST_SPARE = 3.0
"""Spaces that a line is given beyond what it needs."""
_SMALLER = (1.0, 0.985, 0.972, 0.96, 0.94, 0.92, 0.89, 0.86, 0.82, 0.77, 0.7, 0.6)
"""Shares of the staff that is wished, tried in turn where music is too high."""
_BEFORE = 1.0
"""Spaces that the first bar of a line begins before its first note or rest."""


@dataclass(frozen=True, slots=True)
class MusicLine:
    """A line of music in its place.

    Attributes
    ----------
    drawing : Drawing
        As large as its place.
    bars : dict of int to Box
        The staff in each bar that it has, by its place in the score; a first one begins behind
        clef and signatures.
    heads : dict of (int, int) to Box
        The note heads, by bar and note.
    """

    drawing: Drawing
    bars: dict[int, Box]
    heads: dict[tuple[int, int], Box]


@dataclass(frozen=True, slots=True)
class FilmMusic:
    """The lines of a score in a film.

    Attributes
    ----------
    lines : tuple of MusicLine
    header_top, header : int
        Where the chords begin, and how high they are.
    tops, heights : tuple of int
        Of the two places.
    staves : tuple of int
        Where the staff stands in each, from its top.
    space : float
        Between two lines of the staff.
    """

    lines: tuple[MusicLine, ...]
    header_top: int
    header: int
    tops: tuple[int, ...]
    heights: tuple[int, ...]
    staves: tuple[int, ...]
    space: float

    @property
    def head_px(self) -> float:
        """The width of its narrowest note head."""
        boxes = (box for line in self.lines for box in line.heads.values())
        return min(box.right - box.left for box in boxes)

    def line_of(self, bar: int) -> int:
        """The line that has a bar."""
        return next(number for number, line in enumerate(self.lines) if bar in line.bars)


def film_music(score: Score, size: FilmSize, *, is_overlay: bool = False) -> FilmMusic:
    """A score in the lines of a film, under its chords, which leave it the room that it needs.

    Over another film the music is smaller and stands at the lower edge, the chords at the upper.
    """
    score = replace(score, bars_a_system=size.bars_a_line)
    most = size.height - size.strip - size.least_header
    if is_overlay:
        least = _OVERLAY * size.staff_space
        return _fitted(score, size, least, round(_OVERLAY * most), is_overlay=True)
    fewest = _fewest(score, size, size.staff_space)
    for larger in _LARGER:
        space = larger * size.staff_space
        if _fewest(score, size, space) > fewest:
            continue
        lines, drawn = _drawn(score, size, space)
        is_whole = drawn == space
        if is_whole and _fit(lines, size, space, most - size.header + size.least_header) >= 1.0:
            return _placed(lines, size, space, is_overlay=False)
    return _fitted(score, size, size.staff_space, most, is_overlay=False)


def _fitted(
    score: Score, size: FilmSize, wished: float, room: int, *, is_overlay: bool
) -> FilmMusic:
    """The lines as large as they are wished, or smaller where they would not fit.

    Smaller music is engraved anew: it has more room aside, and other heights.
    """
    for scale in _SMALLER:
        lines, space = _drawn(score, size, scale * wished)
        if scale == _SMALLER[0]:  # smaller music gets no more bars a line by it
            score = replace(score, bars_a_system=max(len(line.bars) for line in lines))
        if _tall(lines) * space <= room:
            break
    fit = min(1.0, _fit(lines, size, space, room))
    return _placed(lines, size, fit * space, is_overlay=is_overlay)


def _drawn(score: Score, size: FilmSize, space: float) -> tuple[Sequence[DrawnLine], float]:
    """The lines with a staff space that is wished, or a smaller one where a bar has no room."""
    lines, scale = fitted_lines(score, _width_mm(size, space), 1.0, least=_SMALLEST)
    return lines, scale * space


def _width_mm(size: FilmSize, space: float) -> float:
    """The room for a line as the engraver has it, with the white that it keeps free."""
    return (size.music_width / space * SPACE + 3 * EDGE) * MM


def _fewest(score: Score, size: FilmSize, space: float) -> int:
    """Lines that a score takes at least."""
    return fewest_lines(score, width_mm=_width_mm(size, space))


def _fit(lines: Sequence[DrawnLine], size: FilmSize, space: float, room: int) -> float:
    """What the staff is multiplied by so that all lines have room."""
    wide = max(_box(line).right - _box(line).left for line in lines) / SPACE
    return min(size.music_width / (wide * space), room / (_tall(lines) * space))


def _tall(lines: Sequence[DrawnLine]) -> float:
    """How many spaces both places need."""
    return sum(_up(of_place) + _down(of_place) for of_place in _of_places(lines)) / SPACE


def _of_places(lines: Sequence[DrawnLine]) -> list[Sequence[DrawnLine]]:
    """The lines that each place is given; where their number is odd, all lines come to both."""
    if len(lines) % PLACES:
        return [lines] * PLACES
    return [lines[place::PLACES] for place in range(PLACES)]


def _box(line: DrawnLine) -> Box:
    return hull(shape.box for shape in line.shapes)


def _up(lines: Sequence[DrawnLine]) -> float:
    """What is over the staff, at most."""
    return max(line.staff.top - _box(line).top for line in lines) + _OVER * SPACE


def _down(lines: Sequence[DrawnLine]) -> float:
    """What is from the top of the staff downwards, at most."""
    return max(_box(line).bottom - line.staff.top for line in lines) + _UNDER * SPACE


def _placed(
    lines: Sequence[DrawnLine], size: FilmSize, space: float, *, is_overlay: bool
) -> FilmMusic:
    scale = space / SPACE
    ups = [_up(of_place) * scale for of_place in _of_places(lines)]
    downs = [_down(of_place) * scale for of_place in _of_places(lines)]
    needed = sum(ups) + sum(downs)
    header = min(size.header, max(size.least_header, size.height - size.strip - ceil(needed)))
    room = size.height - size.strip - header
    most = 0.0 if is_overlay else _MOST_SPARE * space
    spare = min(most, max(0.0, room - needed) / PLACES)
    heights = [int(up + down + spare) for up, down in zip(ups, downs, strict=True)]
    staves = [round(up + spare / 2) for up in ups]
    left = max(0, room - sum(heights))
    down = size.strip + (0 if is_overlay else left * 2 // 5)
    top = size.height - sum(heights) if is_overlay else down + header
    return FilmMusic(
        tuple(
            _line(line, scale, size, staves[n % PLACES], heights[n % PLACES])
            for n, line in enumerate(lines)
        ),
        header_top=down,
        header=header,
        tops=(top, top + heights[0]),
        heights=tuple(heights),
        staves=tuple(staves),
        space=space,
    )


def _line(line: DrawnLine, scale: float, size: FilmSize, staff: int, height: int) -> MusicLine:
    left = size.margin - min(0.0, _box(line).left) * scale
    down = staff - line.staff.top * scale
    shapes = "".join(shape.svg for shape in line.shapes)

    def box(own: Box) -> Box:
        return Box(
            left + own.left * scale,
            down + own.top * scale,
            left + own.right * scale,
            down + own.bottom * scale,
        )

    bars: dict[int, Box] = {}
    for name, bar in line.bars.items():
        begins = bar.left if bars else max(bar.left, bar_begins(line, name) - _BEFORE * SPACE)
        bars[int(name.removeprefix("b-"))] = box(
            Box(begins, line.staff.top, bar.right, line.staff.bottom)
        )
    heads = {}
    for shape in line.shapes:
        if shape.kind == "notehead" and shape.owner.startswith("n-"):
            _, bar_place, note = shape.owner.split("-")
            heads[int(bar_place), int(note)] = box(shape.box)
    move = f"translate({left:.2f} {down:.2f}) scale({scale:.6f})"
    drawing = Drawing(f'<g transform="{move}">{shapes}</g>', size.width, height)
    return MusicLine(drawing, bars, heads)
