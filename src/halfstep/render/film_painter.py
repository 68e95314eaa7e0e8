"""How is a frame of a film painted? Scenes -> pixels, in ink on paper with one accent.

Nothing moves but the mark: the bar that sounds is tinted and begins with a strong line, the head
that sounds has a disc behind it and a wedge under it. Each says it by its shape and by its shade,
so that a film without colour says the same.

Conventions
-----------
- Pixels are uint8, shape (rows, columns, 3), or 4 with a fourth for how much is seen of what is
  laid over another film.
- What is laid over another film stands on paper that the other one shines through a little.

Source of the contrasts: WCAG 2.2, 4.5 : 1 for what is read; the palette of ``docs/design.md``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from math import ceil, floor
from typing import TYPE_CHECKING, NamedTuple

from halfstep.render.chord_lettering import chord_run
from halfstep.render.drawn_line import SPACE, Box
from halfstep.render.film_music import FilmMusic, MusicLine
from halfstep.render.film_outlines import WEDGE
from halfstep.render.film_scene import Scene, SceneCard, SceneHeader, SceneLine, SceneMove
from halfstep.render.film_sizes import FilmSize
from halfstep.render.glyphs import settable, text_run, text_width
from halfstep.render.raster import Drawing, coverages
from halfstep.score import ChordText

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from halfstep.render.raster import Coverage

    Pixels = npt.NDArray[np.uint8]

Colour = tuple[int, int, int]
PAPER: Colour = (251, 250, 246)
INK: Colour = (31, 28, 24)
QUIET: Colour = (93, 87, 78)
RULE: Colour = (205, 198, 184)
ACCENT: Colour = (156, 47, 27)
TINT: Colour = (239, 232, 216)
"""Of the bar that sounds, multiplied with the paper."""
DISC: Colour = (240, 176, 158)
"""Behind the head that sounds."""
_FADED: Colour = (132, 129, 124)
_PAPER_SEEN = 225
"""How much of the paper is seen over another film, of 255."""

_NOW_WIDE, _MOVES_FROM, _MOVES_TO = 0.40, 0.41, 0.65
"""Shares of the width: the chord that sounds, and the room for what changes."""
_NEXT_EM, _MOVE_EM, _WORDS_EM, _STRIP_EM = 0.72, 0.45, 0.33, 0.62
"""Of the em of the chord that sounds; the last of the height of the strip."""
_LINE_WIDE, _THIN = 0.005, 0.4
"""A strong line, of the width; a thin one, of that."""
_MOVES_OVER, _WORDS_UNDER = 0.2, 0.47
"""Where no note is new, in the em of the chord: moves over the middle, and words under it."""
_LOW = 0.95
"""A header is low that is less than so many ems of its chord high."""
_ROW_EM, _ROW_GAP = 0.62, 0.16
"""Of notes that stand beside their line, in the em of the chord, and the white beside it."""
_COLUMN_GAP = 0.55
"""Between notes that change, in their em."""
_CARD_SCALES = (1.0, 0.85, 0.7, 0.58, 0.48)
_TITLE_SCALES, _TITLE_LINES = (1.0, 0.85, 0.7, 0.58, 0.5), 3
_GONE = 0.5
"""Of the turn from one line to another, when nothing of either is seen."""
_AROUND = 2
"""Pixels around what is drawn."""


class FramePainter:
    """Paints the scenes of one film.

    Parameters
    ----------
    size : FilmSize
    music : FilmMusic
    scenes : iterable of Scene
        All that will be painted: what stands in them is made into pixels at once.
    is_overlay : bool
        To be laid over another film.
    """

    def __init__(
        self, size: FilmSize, music: FilmMusic, scenes: Iterable[Scene], *, is_overlay: bool = False
    ) -> None:
        self.size = size
        self.music = music
        self.is_overlay = is_overlay
        wanted = list(dict.fromkeys(scenes))
        pieces = _Pieces(size, music.header)
        self._lines = [pieces.add(line.drawing) for line in music.lines]
        self._headers = {s.header: pieces.header(s.header) for s in wanted if not s.card}
        self._strips = {key: pieces.strip(*key) for key in dict.fromkeys(map(_strip_key, wanted))}
        self._cards = {s.card: pieces.card(s.card) for s in wanted if s.card}
        self._drawings = pieces.drawings
        self._coverages = coverages(pieces.drawings)
        self._line_pixels = lru_cache(maxsize=64)(self._painted_line)
        self._top_pixels = lru_cache(maxsize=256)(self._painted_top)
        self._empty = self._paper(size.height) if not is_overlay else _nothing(size)

    def pixels(self, scene: Scene) -> Pixels:
        """A scene as pixels."""
        frame = self._empty.copy()
        if scene.card:
            if not self.is_overlay:
                self._ink(frame, self._cards[scene.card])
            return frame
        top = self._top_pixels(scene.header, _strip_key(scene))
        frame[: len(top)] = top
        if self.is_overlay:
            frame[self.music.top :] = self._paper(1)
        for place, line in enumerate(scene.lines):
            if line is not None:
                drawn = self._line(line)
                start = self.music.top_of(place, self._seen(line))
                rows = frame[start : start + len(drawn)]
                _set_upon(rows, drawn[: len(rows)])
                if line.is_playing:
                    self._mark(rows, scene, self.music.lines[line.line])
        return frame

    def _paper(self, rows: int) -> Pixels:
        import numpy as np

        channels = (*PAPER, _PAPER_SEEN)[: 4 if self.is_overlay else 3]
        pixels = np.empty((rows, self.size.width, len(channels)), np.uint8)
        pixels[:] = channels
        return pixels

    # Lines of music

    def _line(self, line: SceneLine) -> Pixels:
        """A line; where it takes the place of another, that one goes first."""
        if line.instead_of is None:
            return self._line_pixels(line.line, line.is_playing)
        import numpy as np

        seen = self._line_pixels(self._seen(line), line.is_playing)
        share = np.float32(abs(line.share - _GONE) / _GONE)
        paper = self._paper(1).astype(np.float32)
        return (paper + (seen - paper) * share).astype(np.uint8)

    @staticmethod
    def _seen(line: SceneLine) -> int:
        """Which line is seen: the one that goes, until nothing of it is left."""
        return line.line if line.instead_of is None or line.share >= _GONE else line.instead_of

    def _painted_line(self, line: int, is_playing: bool) -> Pixels:
        pixels = self._paper(self.music.lines[line].drawing.height)
        coverage = self._coverages[self._lines[line]]
        _lay(pixels, coverage, INK if is_playing else _FADED)
        return pixels

    def _mark(self, rows: Pixels, scene: Scene, music: MusicLine) -> None:
        """The bar and the head that sound, where this line has them."""
        space = self.music.space
        bar = music.bars.get(scene.bar) if scene.bar is not None else None
        if bar:
            high = Box(bar.left, bar.top - 0.5 * space, bar.right, bar.bottom + 0.5 * space)
            _multiply(rows, high, TINT)
            strong = max(3.0, _LINE_WIDE * self.size.width)
            _fill(rows, Box(bar.left - strong / 2, bar.top, bar.left + strong / 2, bar.bottom), INK)
        head = music.heads.get(scene.head) if scene.head is not None else None
        if head and scene.head is not None:
            self._mark_head(rows, head, music.wedges[scene.head])

    def _mark_head(self, rows: Pixels, head: Box, wedge_top: float) -> None:
        space = self.music.space
        across, down = (head.left + head.right) / 2, (head.top + head.bottom) / 2
        radius = 0.62 * (head.right - head.left) + 0.25 * space
        disc = _disc(radius)
        _multiply_by(rows, disc, round(across - radius), round(down - radius), DISC)
        wedge = _wedge(WEDGE / SPACE * space)
        _paste(rows, wedge, round(across - wedge.shape[1] / 2), round(wedge_top), ACCENT)

    # Strip and header

    def _painted_top(self, header: SceneHeader, strip: tuple[str, str, str]) -> Pixels:
        pixels = self._paper(self.music.header_top + self.music.header)
        self._ink(pixels[: self.size.strip], self._strips[strip])
        self._ink(pixels[self.music.header_top :], self._headers[header])
        return pixels

    def _ink(self, pixels: Pixels, pieces: Sequence[_InkedDrawing]) -> None:
        for piece in pieces:
            drawing = self._drawings[piece.number]
            _paste(pixels, self._coverages[piece.number], drawing.left, drawing.top, piece.colour)


def _strip_key(scene: Scene) -> tuple[str, str, str]:
    return scene.left, scene.right, scene.finding


class _InkedDrawing(NamedTuple):
    """A drawing by its number, and the colour of its ink."""

    number: int
    colour: Colour


class _Pieces:
    """Everything that is made into pixels: drawings, and which of them stand together."""

    def __init__(self, size: FilmSize, header: int) -> None:
        self.size = size
        self.high = header
        self.is_low = header < _LOW * size.now_share * size.width
        self.drawings: list[Drawing] = []
        self._numbers: dict[Drawing, int] = {}

    def add(self, drawing: Drawing) -> int:
        """The number of a drawing; equal ones have one."""
        if drawing not in self._numbers:
            self._numbers[drawing] = len(self.drawings)
            self.drawings.append(drawing)
        return self._numbers[drawing]

    def strip(self, left: str, right: str, finding: str) -> list[_InkedDrawing]:
        """Title and bar, or what was found."""
        size = self.size
        left, right, finding = map(settable, (left, right, finding))
        em = _STRIP_EM * size.strip
        base, room = 0.72 * size.strip, size.music_width
        say = _fitted(right, em, 0.5 * room)
        wide = text_width(right, say)
        pieces = self._text(right, say, size.width - size.margin - wide, base, QUIET)
        rest, shown = room - wide - em, finding or left
        say = _fitted(shown, em, rest)
        colour = ACCENT if finding else QUIET
        return [*pieces, *self._text(_cut(shown, say, rest), say, size.margin, base, colour)]

    def header(self, header: SceneHeader) -> list[_InkedDrawing]:
        """The chord that sounds or the count, what changes, and the chord that follows."""
        size = self.size
        em = min(size.now_share * size.width, (0.95 if self.is_low else 0.8) * self.high)
        base = self.high / 2 + 0.32 * em
        pieces: list[_InkedDrawing] = []
        if header.count:
            pieces += self._text(str(header.count), 1.15 * em, size.margin, base, INK)
        elif header.now:
            room = _NOW_WIDE * size.width - size.margin
            pieces += self._chord(header.now, em, size.margin, base, room, INK)
        if header.following:
            left = _MOVES_TO * size.width + 0.3 * em
            room = size.width - size.margin - left
            pieces += self._chord(header.following, _NEXT_EM * em, left, base, room, QUIET)
            pieces += self._between(header, em)
        return pieces

    def _between(self, header: SceneHeader, em: float) -> list[_InkedDrawing]:
        """What stands between two chords."""
        if not header.moves:
            return self._thin_line(header, em)
        if self.is_low:
            return self._row(header, em, self.high / 2)
        if header.words:
            moves = self._row(header, em, self.high / 2 - _MOVES_OVER * em)
            return [*moves, *self._words(header.words, em)]
        return self._moves(header, em)

    def _row(self, header: SceneHeader, em: float, middle: float) -> list[_InkedDrawing]:
        """Old and new beside their line: where there is little height, or words stand below.

        Where no note is new the line is thin, and nothing has the accent.
        """
        left, right = _MOVES_FROM * self.size.width, _MOVES_TO * self.size.width
        more = f"+{header.more}" if header.more else ""
        strong = (_THIN if header.words else 1.0) * max(3.0, _LINE_WIDE * self.size.width)
        stroke, new = (QUIET, INK) if header.words else (INK, ACCENT)
        say = _ROW_EM * em
        texts = [text for move in header.moves for text in (move.old, move.new) if text]
        gaps = 2 * _ROW_GAP * len(header.moves) + _COLUMN_GAP * (len(header.moves) - 1 + bool(more))
        wide = sum(text_width(text, say) for text in (*texts, more)) + gaps * say
        shrink = min(1.0, (right - left - strong * len(header.moves)) / wide)
        say *= shrink
        x = (left + right - wide * shrink - strong * len(header.moves)) / 2
        base = middle + 0.32 * say
        pieces: list[_InkedDrawing] = []
        for move in header.moves:
            pieces += self._text(move.old, say, x, base, QUIET)
            x += text_width(move.old, say) + _ROW_GAP * say
            line = Box(x, middle - 0.5 * say, x + strong, middle + 0.5 * say)
            pieces.append(self._bar(line, stroke))
            x += strong + _ROW_GAP * say
            pieces += self._text(move.new, say, x, base, new)
            x += text_width(move.new, say) + _COLUMN_GAP * say
        return [*pieces, *self._text(more, say, x, base, QUIET)]

    def _thin_line(self, header: SceneHeader, em: float) -> list[_InkedDrawing]:
        """The bar line between two chords where nothing changes."""
        middle = (_MOVES_FROM + _MOVES_TO) / 2 * self.size.width
        thin = max(2.0, _THIN * _LINE_WIDE * self.size.width)
        end = self.high / 2 + 0.1 * em if header.words else 0.86 * self.high
        rule = Box(middle - thin / 2, 0.14 * self.high, middle + thin / 2, end)
        return [self._bar(rule, RULE), *self._words(header.words, em)]

    def _words(self, words: str, em: float) -> list[_InkedDrawing]:
        """What is said between two chords."""
        left, right = _MOVES_FROM * self.size.width, _MOVES_TO * self.size.width
        say = _fitted(words, (0.42 if self.is_low else _WORDS_EM) * em, right - left)
        x = (left + right - text_width(words, say)) / 2
        return self._text(words, say, x, self.high / 2 + _WORDS_UNDER * em, QUIET)

    def _moves(self, header: SceneHeader, em: float) -> list[_InkedDrawing]:
        """The bar line between two chords, in as many strokes as notes change on it."""
        left, right = _MOVES_FROM * self.size.width, _MOVES_TO * self.size.width
        more = f"+{header.more}" if header.more else ""
        say = _MOVE_EM * em
        wide = _columns_wide(header.moves, more, say)
        shrink = min(1.0, (right - left) / wide)
        say, wide = say * shrink, wide * shrink
        x, middle_y = (left + right) / 2 - wide / 2, self.high / 2 - 0.12 * say
        up, down = middle_y - 0.42 * say, middle_y + 0.42 * say
        strong = max(3.0, _LINE_WIDE * self.size.width)
        pieces: list[_InkedDrawing] = []
        for move in header.moves:
            column = _column_wide(move, say)
            middle = x + column / 2
            old, new = (middle - text_width(text, say) / 2 for text in (move.old, move.new))
            pieces += self._text(move.old, say, old, up - 0.16 * say, QUIET)
            pieces += self._text(move.new, say, new, down + 0.88 * say, ACCENT)
            stroke = Box(middle - strong / 2, up, middle + strong / 2, down)
            pieces.append(self._bar(stroke, INK))
            x += column + _COLUMN_GAP * say
        return [*pieces, *self._text(more, 0.8 * say, x, middle_y + 0.28 * say, QUIET)]

    def card(self, card: SceneCard) -> list[_InkedDrawing]:
        """The title over a strong line, and texts under it, smaller where they are long."""
        size = self.size
        room = size.music_width - 2 * size.margin
        usual = min(0.085 * size.width, 0.13 * size.height)
        for scale in _CARD_SCALES:
            em = scale * usual
            title_em, titles = _title(card.title, em, room)
            texts = list(_under_title(card, em, room))
            high = 1.2 * title_em * len(titles) + em + sum(1.45 * say for _, say in texts)
            if high <= 0.88 * size.height:
                break
        x, y = 2 * size.margin, (size.height - high) / 2 + title_em
        pieces: list[_InkedDrawing] = []
        for line in titles:
            pieces += self._text(line, title_em, x, y, INK)
            y += 1.2 * title_em
        y -= 0.55 * title_em
        strong = max(3.0, _LINE_WIDE * size.width)
        pieces.append(self._bar(Box(x, y, x + 0.16 * size.width, y + strong), ACCENT))
        y += 0.45 * em
        for line, say in texts:
            pieces += self._text(line, say, x, y + say, QUIET)
            y += 1.45 * say
        return pieces

    # What they are made of

    def _text(
        self, text: str, em: float, x: float, base: float, colour: Colour
    ) -> list[_InkedDrawing]:
        if not text:
            return []
        run = text_run(text, em, x=x, y=base)
        return [self._inked(run.svg, Box(x, base - em, x + run.width, base + 0.4 * em), colour)]

    def _chord(
        self, chord: ChordText, em: float, x: float, base: float, room: float, colour: Colour
    ) -> list[_InkedDrawing]:
        """A chord symbol, smaller where it would be too wide."""
        run = chord_run(chord, em)
        scale = min(1.0, room / run.width)
        move = f"translate({x:.1f} {base:.1f}) scale({scale:.4f})"
        box = Box(x, base - 1.2 * em, x + run.width * scale, base + 0.4 * em)
        return [self._inked(f'<g transform="{move}">{run.svg}</g>', box, colour)]

    def _bar(self, box: Box, colour: Colour) -> _InkedDrawing:
        wide, high = box.right - box.left, box.bottom - box.top
        return self._inked(
            f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{wide:.1f}" height="{high:.1f}"/>',
            box,
            colour,
        )

    def _inked(self, shapes: str, box: Box, colour: Colour) -> _InkedDrawing:
        left, top = floor(box.left) - _AROUND, floor(box.top) - _AROUND
        width, height = ceil(box.right) + _AROUND - left, ceil(box.bottom) + _AROUND - top
        return _InkedDrawing(self.add(Drawing(shapes, width, height, left, top)), colour)


# Shapes


def _column_wide(move: SceneMove, em: float) -> float:
    return max(text_width(move.old, em), text_width(move.new, em))


def _columns_wide(moves: Sequence[SceneMove], more: str, em: float) -> float:
    columns = [_column_wide(move, em) for move in moves]
    rest = _COLUMN_GAP * em + text_width(more, 0.8 * em) if more else 0.0
    return sum(columns) + _COLUMN_GAP * em * (len(columns) - 1) + rest


def _fitted(text: str, em: float, room: float, least: float = 0.7) -> float:
    """The em at which a text fits, not under a share of the one that is wished."""
    wide = text_width(text, em) if text else 0.0
    return em * max(least, min(1.0, room / wide)) if wide else em


def _cut(text: str, em: float, room: float) -> str:
    """The text, its end left out where it has no room."""
    if not text or text_width(text, em) <= room:
        return text
    while text and text_width(text + "…", em) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def _under_title(card: SceneCard, em: float, room: float) -> Iterator[tuple[str, float]]:
    """The texts of a card in lines, each with its em."""
    for number, text in enumerate(card.texts):
        say = (0.6 if number == 0 else 0.42) * em
        for line in _wrapped(text, say, room, most=4):
            yield line, _fitted(line, say, room)


def _title(text: str, em: float, room: float) -> tuple[float, list[str]]:
    """A title in lines, smaller where it is long, and how large it is."""
    for scale in _TITLE_SCALES:
        titles = _wrapped(text, scale * em, room, most=_TITLE_LINES + 1)
        if len(titles) <= _TITLE_LINES:
            break
    titles = _wrapped(text, scale * em, room, most=_TITLE_LINES)
    return min([scale * em, *(_fitted(line, scale * em, room) for line in titles)]), titles


def _wrapped(text: str, em: float, room: float, *, most: int) -> list[str]:
    """A text in lines; what is more than the most is left out, and a long word is cut."""
    lines: list[str] = []
    least = em * 0.7
    for word in settable(text).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, em) <= room:
            lines[-1] = longer
        else:
            lines.append(_cut(word, least, room))
    if len(lines) > most:
        lines = [*lines[: most - 1], _cut(" ".join(lines[most - 1 :]), least, room)]
    return lines


# Pixels


def _set_upon(rows: Pixels, line: Pixels) -> None:
    """A line set upon what stands there, ink upon paper: what is darker stays."""
    import numpy as np

    np.minimum(rows[..., :3], line[..., :3], out=rows[..., :3])
    np.maximum(rows[..., 3:], line[..., 3:], out=rows[..., 3:])


def _nothing(size: FilmSize) -> Pixels:
    """A frame in which the other film is seen."""
    import numpy as np

    return np.zeros((size.height, size.width, 4), np.uint8)


def _lay(pixels: Pixels, coverage: Coverage, colour: Colour) -> None:
    import numpy as np

    share = coverage[..., None].astype(np.uint16)
    inked = np.array(colour, np.uint16)
    seen = pixels[..., :3]
    seen[:] = ((seen * (255 - share) + inked * share) // 255).astype(np.uint8)
    if pixels.shape[-1] == 4:
        np.maximum(pixels[..., 3], coverage, out=pixels[..., 3])


def _paste(pixels: Pixels, coverage: Coverage, x: int, y: int, colour: Colour) -> None:
    """Ink laid at a place, cut where it would stand out of the picture."""
    window, part = _window(pixels, coverage, x, y)
    _lay(window, part, colour)


def _multiply(pixels: Pixels, box: Box, colour: Colour) -> None:
    """A tint under what is drawn."""
    import numpy as np

    rows, columns = pixels.shape[:2]
    left, right = (min(columns, max(0, round(x))) for x in (box.left, box.right))
    top, bottom = (min(rows, max(0, round(y))) for y in (box.top, box.bottom))
    inside = pixels[top:bottom, left:right, :3]
    inside[:] = (inside * np.array(colour, np.uint16) // 255).astype(np.uint8)


def _multiply_by(pixels: Pixels, coverage: Coverage, x: int, y: int, colour: Colour) -> None:
    """A tint of a shape."""
    import numpy as np

    window, part = _window(pixels, coverage, x, y)
    missing = (255 - np.array(colour, np.uint16)) * part[..., None].astype(np.uint16) // 255
    seen = window[..., :3]
    seen[:] = (seen * (255 - missing) // 255).astype(np.uint8)


def _window(pixels: Pixels, coverage: Coverage, x: int, y: int) -> tuple[Pixels, Coverage]:
    rows, columns = pixels.shape[:2]
    top, left = max(0, y), max(0, x)
    bottom, right = min(rows, y + coverage.shape[0]), min(columns, x + coverage.shape[1])
    return pixels[top:bottom, left:right], coverage[top - y : bottom - y, left - x : right - x]


def _fill(pixels: Pixels, box: Box, colour: Colour) -> None:
    left, right, top, bottom = map(round, (box.left, box.right, box.top, box.bottom))
    inside = pixels[max(0, top) : bottom, max(0, left) : right]
    inside[..., :3] = colour
    if pixels.shape[-1] == 4:
        inside[..., 3] = 255


@lru_cache(maxsize=64)
def _disc(radius: float) -> Coverage:
    """A disc with soft edges."""
    import numpy as np

    across = np.arange(2 * round(radius) + 1) - round(radius)
    away = np.hypot(across[:, None], across[None, :])
    return (255 * np.clip(radius + 0.5 - away, 0.0, 1.0)).astype(np.uint8)


@lru_cache(maxsize=64)
def _wedge(high: float) -> Coverage:
    """A wedge that points upwards."""
    import numpy as np

    rows = round(high)
    middle = round(0.6 * high)
    away = np.abs(np.arange(2 * middle + 1) - middle)[None, :]
    wide = (np.arange(rows)[:, None] + 0.5) / rows * middle
    return (255 * np.clip(wide + 0.5 - away, 0.0, 1.0)).astype(np.uint8)
