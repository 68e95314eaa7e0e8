"""Where in a film does the music stand? Its lines in pixels, and where their heads and bars are.

Two lines are seen at a time, one above the other, in an upright film more: as they are played, the
lines of a score take the places in turn, and their staves stand on the same places all the film
long, as near to each other as the lines allow that stand there together
(`halfstep.render.film_outlines`).

Conventions
-----------
- Pixels, y pointing down. Boxes of a line are counted from the upper left corner of its drawing.
- Each time a line is played is a visit; visits take the places in turn.
- The staff is as large as `FilmSize.staff_space` says, and larger where no line gets fewer bars by
  it; only music that would not fit otherwise is made smaller.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil, gcd
from typing import NamedTuple

from halfstep.render.drawn_line import SPACE, Box, DrawnLine
from halfstep.render.film_outlines import HeadPlace, LineOutline, least_distance
from halfstep.render.film_sizes import FilmSize
from halfstep.render.raster import Drawing
from halfstep.render.score_pictures import EDGE, MM, bar_begins, fewest_lines, fitted_lines
from halfstep.score import Score

FEWEST_PLACES = 2
"""Lines that are seen at a time, at least."""
_LARGER = (1.5, 1.35, 1.2, 1.1)
_OVERLAY = 0.7
"""How large music is that is laid over another film."""
_AROUND = 0.15 * SPACE
"""White over the upper line and under the lower one."""
_SMALLEST = 0.4
"""Of the staff that is wished, under which none is drawn."""
_MOST_SPARE = 6.0
"""Spaces that each line is given beyond what it needs."""
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
    staff : int
        Where the staff stands in it, from its top.
    bars : dict of int to Box
        The staff in each bar that it has, by its place in the score; a first one begins behind
        clef and signatures.
    heads : dict of (int, int) to Box
        The note heads, by bar and note.
    wedges : dict of (int, int) to float
        Where the wedge under each of them begins, under all that stands there.
    """

    drawing: Drawing
    staff: int
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
    top : int
        Where the music begins.
    staves : tuple of int
        Where the staff stands in each place, from the top one down.
    space : float
        Between two lines of the staff.
    """

    lines: tuple[MusicLine, ...]
    header_top: int
    header: int
    top: int
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

    def top_of(self, place: int, line: int) -> int:
        """Where the drawing of a line begins in one of the places."""
        return self.staves[place] - self.lines[line].staff


class LineVisit(NamedTuple):
    """A line while it is played: which, and from where to where among what is played."""

    line: int
    bars: range


def line_visits(played: Sequence[int], line_of: Callable[[int], int]) -> Iterator[LineVisit]:
    """The lines as they are played, by the bars that are played and the line of each bar.

    >>> [tuple(visit) for visit in line_visits((0, 1, 2, 0, 1, 2), lambda bar: bar // 2)]
    [(0, range(0, 2)), (1, range(2, 3)), (0, range(3, 5)), (1, range(5, 6))]
    """
    first = 0
    for number, bar in enumerate(played, 1):
        following = played[number] if number < len(played) else -1
        if following != bar + 1 or line_of(following) != line_of(bar):
            yield LineVisit(line_of(bar), range(first, number))
            first = number


def film_music(
    score: Score,
    size: FilmSize,
    *,
    choruses: Sequence[Sequence[int]] = (),
    is_overlay: bool = False,
) -> FilmMusic:
    """A score in the lines of a film, under its chords, which leave it the room that it needs.

    Over another film the music is smaller and stands at the lower edge, the chords at the upper.

    Parameters
    ----------
    score : Score
    size : FilmSize
    choruses : sequence of sequences of int
        The bars that are played in each chorus, by their places in the score; all bars once where
        none is given.
    is_overlay : bool
    """
    score = _as_filmed(score, size)
    played = choruses or [range(len(score.bars))]
    most = size.height - size.strip - size.least_header
    if is_overlay:
        least = _OVERLAY * size.staff_space
        return _fitted(score, size, played, least, round(_OVERLAY * most), is_overlay=True)
    fewest = _fewest(score, size, size.staff_space)
    for larger in _LARGER:
        space = larger * size.staff_space
        if _fewest(score, size, space) > fewest:
            continue
        lines, drawn = _drawn(score, size, space)
        room = size.height - size.strip - size.header
        turns = _turns(lines, played, FEWEST_PLACES)
        if drawn == space and turns.tall * space <= room and _wide(lines, size, space) >= 1.0:
            return _placed(turns, size, space, is_overlay=False)
    return _fitted(score, size, played, size.staff_space, most, is_overlay=False)


def _as_filmed(score: Score, size: FilmSize) -> Score:
    """The score with as many bars a line as a size has, and without what is heard: loudness."""
    bars = (
        replace(bar, notes=tuple(replace(note, dynamic=None) for note in bar.notes))
        for bar in score.bars
    )
    return replace(score, bars=tuple(bars), bars_a_system=size.bars_a_line)


def _fitted(
    score: Score,
    size: FilmSize,
    played: Sequence[Sequence[int]],
    wished: float,
    room: int,
    *,
    is_overlay: bool,
) -> FilmMusic:
    """The lines as large as they are wished, or smaller where they would not fit.

    Smaller music is engraved anew: it has more room aside, and other heights.
    """
    for scale in _SMALLER:
        lines, space = _drawn(score, size, scale * wished)
        if scale == _SMALLER[0]:  # smaller music gets no more bars a line by it
            most = max(len(outline.line.bars) for outline in lines)
            score = replace(score, bars_a_system=most)
        turns = _turns(lines, played, FEWEST_PLACES)
        if turns.tall * space <= room:
            break
    fit = min(1.0, _wide(lines, size, space), room / (turns.tall * space))
    return _placed(turns, size, fit * space, is_overlay=is_overlay)


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


@dataclass(frozen=True)
class _Turns:
    """The lines of a score while they take so many places in turn.

    Attributes
    ----------
    lines : sequence of LineOutline
    visits : tuple of int
        The lines as they are played.
    a_chorus : int
        Visits of the first chorus.
    places : int
    """

    lines: Sequence[LineOutline]
    visits: tuple[int, ...]
    a_chorus: int
    places: int

    def _in_place(self, place: int) -> Iterator[LineOutline]:
        """The lines that stand in a place, sooner or later."""
        yield from (self.lines[line] for line in {*self.visits[place :: self.places]})

    @cached_property
    def up(self) -> float:
        """What is over the staff of the first place, at most."""
        return _AROUND - min(min(line.tops) for line in self._in_place(0))

    @cached_property
    def down(self) -> float:
        """What is from the top of the staff of the last place downwards, at most."""
        last = min(self.places, len(self.visits)) - 1
        return max(max(line.marked_bottoms) for line in self._in_place(last)) + _AROUND

    @cached_property
    def apart(self) -> float:
        """How far a staff is from the next one: under a line stands the one that follows it, or,
        where the places have come round, the oldest that is seen.
        """
        pairs = set()
        for number, line in enumerate(self.visits):
            if number % self.places == self.places - 1:
                continue
            pairs.add((line, self.visits[min(number + 1, len(self.visits) - 1)]))
            if number >= self.places - 1:
                pairs.add((line, self.visits[number - self.places + 1]))
        if not pairs:
            return max(self.lines[0].marked_bottoms)
        return max(least_distance(self.lines[upper], self.lines[lower]) for upper, lower in pairs)

    @property
    def tall(self) -> float:
        """How many spaces all places need."""
        return (self.up + (self.places - 1) * self.apart + self.down) / SPACE


def _turns(lines: Sequence[LineOutline], played: Sequence[Sequence[int]], places: int) -> _Turns:
    of_bar = {int(name.removeprefix("b-")): n for n, o in enumerate(lines) for name in o.line.bars}
    bars = [bar for chorus in played for bar in chorus]
    visits = tuple(visit.line for visit in line_visits(bars, of_bar.__getitem__))
    a_chorus = len(list(line_visits(played[0], of_bar.__getitem__)))
    return _Turns(lines, visits, a_chorus, places)


def _filling(turns: _Turns, size: FilmSize, space: float) -> _Turns:
    """As many places as a size has and there is room for.

    Those come first with which lines come back to their places after few choruses: what is seen is
    then the same, and encoded once.
    """
    room = size.height - size.strip - size.header
    visits = turns.a_chorus
    counts = range(FEWEST_PLACES + 1, min(size.places, visits) + 1)
    filled = (
        replace(turns, places=count)
        for count in sorted(counts, key=lambda count: (count // gcd(count, visits), -count))
    )
    return next((more for more in filled if more.tall * space <= room), turns)


def _placed(turns: _Turns, size: FilmSize, space: float, *, is_overlay: bool) -> FilmMusic:
    if not is_overlay:
        turns = _filling(turns, size, space)
    scale, places = space / SPACE, turns.places
    needed = ceil(turns.tall * space)
    header = min(size.header, max(size.least_header, size.height - size.strip - needed))
    room = size.height - size.strip - header
    most_spare = 0 if is_overlay else round(places * _MOST_SPARE * space)
    spare = min(most_spare, max(0, room - needed))
    left = max(0, room - needed - spare)
    header_top = size.strip + (0 if is_overlay else left * 2 // 5)
    top = size.height - needed if is_overlay else header_top + header + spare // (2 * places)
    first = top + turns.up * scale
    apart = turns.apart * scale + spare // places
    return FilmMusic(
        tuple(_line(outline, scale, size) for outline in turns.lines),
        header_top=header_top,
        header=header,
        top=top,
        staves=tuple(ceil(first + place * apart) for place in range(places)),
        space=space,
    )


def _line(outline: LineOutline, scale: float, size: FilmSize) -> MusicLine:
    line = outline.line
    staff = ceil((_AROUND - min(outline.tops)) * scale)
    height = staff + ceil((max(outline.marked_bottoms) + _AROUND) * scale)
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
        staff,
        bars={place: box(bar) for place, bar in _bars(line)},
        heads={place: box(head) for place, head in outline.heads.items()},
        wedges={place: staff + top * scale for place, top in outline.wedges.items()},
    )


def _bars(line: DrawnLine) -> Iterator[tuple[int, Box]]:
    """The staff in each bar; the first one begins a little before its first note or rest."""
    first_notes = bar_begins(line)
    for number, (name, bar) in enumerate(line.bars.items()):
        begins = bar.left if number else max(bar.left, first_notes[name] - _BEFORE * SPACE)
        place = int(name.removeprefix("b-"))
        yield place, Box(begins, line.staff.top, bar.right, line.staff.bottom)
