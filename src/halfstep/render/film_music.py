"""Where in a film does the music stand? Its lines in pixels, and where their heads and bars are.

Two lines are seen at a time, one above the other: the lines of a score take the upper and the
lower place in turn, and their staves stand on the same two places all the film long, as near to
each other as lines that follow one another allow (`halfstep.render.film_outlines`).

Conventions
-----------
- Pixels, y pointing down. Boxes of a line are counted from the upper left corner of its place.
- The staff is as large as `FilmSize.staff_space` says, and larger where no line gets fewer bars by
  it; only music that would not fit otherwise is made smaller.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from halfstep.render.engraver import SPACE, Box, DrawnLine
from halfstep.render.film_outlines import HeadPlace, LineOutline, least_distance
from halfstep.render.film_sizes import FilmSize
from halfstep.render.raster import Drawing
from halfstep.render.score_pictures import EDGE, MM, bar_begins, fewest_lines, fitted_lines
from halfstep.score import Score

PLACES = 2
"""Lines that are seen at a time."""
_LARGER = (1.5, 1.35, 1.2, 1.1)
_OVERLAY = 0.7
"""How large music is that is laid over another film."""
_AROUND = 0.15 * SPACE
"""White over the upper line and under the lower one."""
_SMALLEST = 0.4
"""Of the staff that is wished, under which none is drawn."""
_MOST_SPARE = 6.0
"""Spaces that both lines are given beyond what they need."""
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
    wedges : dict of (int, int) to float
        Where the wedge under each of them begins, under all that stands there.
    """

    drawing: Drawing
    bars: dict[int, Box]
    heads: dict[HeadPlace, Box]
    wedges: dict[HeadPlace, float]


@dataclass(frozen=True, slots=True)
class FilmMusic:
    """The lines of a score in a film.

    Attributes
    ----------
    lines : tuple of MusicLine
    header_top, header : int
        Where the chords begin, and how high they are.
    tops, heights : tuple of int
        Of the two places, which may reach into each other: what stands in them does not.
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
    score = _as_filmed(score, size)
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
        room = size.height - size.strip - size.header
        if drawn == space and _tall(lines) * space <= room and _wide(lines, size, space) >= 1.0:
            return _placed(lines, size, space, is_overlay=False)
    return _fitted(score, size, size.staff_space, most, is_overlay=False)


def _as_filmed(score: Score, size: FilmSize) -> Score:
    """The score with as many bars a line as a size has, and without what is heard: loudness."""
    bars = (
        replace(bar, notes=tuple(replace(note, dynamic=None) for note in bar.notes))
        for bar in score.bars
    )
    return replace(score, bars=tuple(bars), bars_a_system=size.bars_a_line)


def _fitted(
    score: Score, size: FilmSize, wished: float, room: int, *, is_overlay: bool
) -> FilmMusic:
    """The lines as large as they are wished, or smaller where they would not fit.

    Smaller music is engraved anew: it has more room aside, and other heights.
    """
    for scale in _SMALLER:
        lines, space = _drawn(score, size, scale * wished)
        if scale == _SMALLER[0]:  # smaller music gets no more bars a line by it
            most = max(len(outline.line.bars) for outline in lines)
            score = replace(score, bars_a_system=most)
        if _tall(lines) * space <= room:
            break
    fit = min(1.0, _wide(lines, size, space), room / (_tall(lines) * space))
    return _placed(lines, size, fit * space, is_overlay=is_overlay)


def _drawn(score: Score, size: FilmSize, space: float) -> tuple[list[LineOutline], float]:
    """The lines with a staff space that is wished, or a smaller one where a bar has no room."""
    lines, scale = fitted_lines(score, _width_mm(size, space), 1.0, least=_SMALLEST)
    return list(map(LineOutline, lines)), scale * space


def _width_mm(size: FilmSize, space: float) -> float:
    """The room for a line as the engraver has it, with the white that it keeps free."""
    return (size.music_width / space * SPACE + 3 * EDGE) * MM


def _fewest(score: Score, size: FilmSize, space: float) -> int:
    """Lines that a score takes at least."""
    return fewest_lines(score, width_mm=_width_mm(size, space))


def _wide(lines: Sequence[LineOutline], size: FilmSize, space: float) -> float:
    """What the staff is multiplied by so that the widest line has room."""
    wide = max(outline.box.right - outline.left for outline in lines) / SPACE
    return size.music_width / (wide * space)


def _of_places(lines: Sequence[LineOutline]) -> list[Sequence[LineOutline]]:
    """The lines that each place is given; where their number is odd, all lines come to both."""
    if len(lines) % PLACES:
        return [lines] * PLACES
    return [lines[place::PLACES] for place in range(PLACES)]


def _up(lines: Sequence[LineOutline]) -> float:
    """What is over the staff, at most."""
    return _AROUND - min(min(outline.tops) for outline in lines)


def _down(lines: Sequence[LineOutline]) -> float:
    """What is from the top of the staff downwards, at most."""
    return max(max(outline.marked_bottoms) for outline in lines) + _AROUND


def _apart(lines: Sequence[LineOutline]) -> float:
    """How far the staves of the two places are apart: any two lines may stand there that follow
    each other, also from one chorus to the next.
    """
    followers = [*lines[1:], lines[0]]
    is_odd = len(lines) % PLACES
    distances = []
    for number, (line, following) in enumerate(zip(lines, followers, strict=True)):
        if is_odd or number % PLACES == 0:
            distances.append(least_distance(line, following))
        if is_odd or number % PLACES == 1:
            distances.append(least_distance(following, line))
    return max(distances)


def _tall(lines: Sequence[LineOutline]) -> float:
    """How many spaces both places need."""
    upper, lower = _of_places(lines)
    return (_up(upper) + _apart(lines) + _down(lower)) / SPACE


def _placed(
    lines: Sequence[LineOutline], size: FilmSize, space: float, *, is_overlay: bool
) -> FilmMusic:
    scale = space / SPACE
    places = _of_places(lines)
    staves = tuple(ceil(_up(of_place) * scale) for of_place in places)
    heights = tuple(
        staff + ceil(_down(of_place) * scale)
        for staff, of_place in zip(staves, places, strict=True)
    )
    needed = ceil(_tall(lines) * space)
    header = min(size.header, max(size.least_header, size.height - size.strip - needed))
    room = size.height - size.strip - header
    spare = min(0 if is_overlay else round(_MOST_SPARE * space), max(0, room - needed))
    left = max(0, room - needed - spare)
    header_top = size.strip + (0 if is_overlay else left * 2 // 5)
    top = size.height - needed if is_overlay else header_top + header + spare // 4
    lower = min(
        top + staves[0] + round(_apart(lines) * scale) + spare // 2 - staves[1],
        size.height - heights[1],
    )
    return FilmMusic(
        tuple(
            _line(outline, scale, size, staves[n % PLACES], heights[n % PLACES])
            for n, outline in enumerate(lines)
        ),
        header_top=header_top,
        header=header,
        tops=(top, lower),
        heights=heights,
        staves=staves,
        space=space,
    )


def _line(outline: LineOutline, scale: float, size: FilmSize, staff: int, height: int) -> MusicLine:
    line = outline.line
    left = size.margin - outline.left * scale
    down = staff - line.staff.top * scale

    def box(own: Box) -> Box:
        return Box(
            left + own.left * scale,
            down + own.top * scale,
            left + own.right * scale,
            down + own.bottom * scale,
        )

    shapes = "".join(shape.svg for shape in line.shapes)
    move = f"translate({left:.2f} {down:.2f}) scale({scale:.6f})"
    return MusicLine(
        Drawing(f'<g transform="{move}">{shapes}</g>', size.width, height),
        bars={place: box(bar) for place, bar in _bars(line)},
        heads={place: box(head) for place, head in outline.heads.items()},
        wedges={place: staff + top * scale for place, top in outline.wedges.items()},
    )


def _bars(line: DrawnLine) -> Iterator[tuple[int, Box]]:
    """The staff in each bar; the first one begins a little before its first note or rest."""
    for number, (name, bar) in enumerate(line.bars.items()):
        begins = bar.left if number else max(bar.left, bar_begins(line, name) - _BEFORE * SPACE)
        place = int(name.removeprefix("b-"))
        yield place, Box(begins, line.staff.top, bar.right, line.staff.bottom)
