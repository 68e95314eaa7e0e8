"""What stands on a page that we draw ourselves? Rectangles and outlined text -> one SVG.

Conventions
-----------
- Hundredths of a millimetre, y pointing down; a page is as wide as A4.
- All text is outlines, so that no glyph is ever missing. A glyph is stored once.
- Every text leaves its box behind, so that nothing need be set upon another.

Sources: ISO 216 (A4), SVG 1.1.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise

from halfstep.render.drawn_line import Box
from halfstep.render.glyphs import EM, Glyph, placed_glyphs, printable, text_width

A4_WIDE, A4_HIGH = 21000.0, 29700.0

TEXT_UP, TEXT_DOWN = 0.8, 0.24
"""How far text reaches above and below its baseline, in ems."""

INK, SOFT_INK, PALE_INK = "#111", "#4a4a4a", "#585858"
"""For what is read, for what goes with it, for what only says it again."""

_USED = re.compile(r'xlink:href="#g(\d+)"')
_BOLD = 22  # thickness added to bold letters, in thousandths of the em


@dataclass(frozen=True, slots=True)
class PlacedText:
    """A text on the page: what it says, its box, and the size of its em."""

    text: str
    box: Box
    size: float


@dataclass(slots=True)
class VectorPage:
    """A page, with what has been drawn on it.

    Attributes
    ----------
    high : float
        Of the page.
    figures : list of (int, str)
        The shape that each figure begins with, and what a screen reader says for it; what comes
        before the first is the page itself.
    """

    shapes: list[str] = field(default_factory=list)
    figures: list[tuple[int, str]] = field(default_factory=list)
    texts: list[PlacedText] = field(default_factory=list)
    glyphs: dict[Glyph, int] = field(default_factory=dict)
    high: float = A4_HIGH

    @property
    def smallest_mm(self) -> float:
        """The em of the smallest text."""
        return min(text.size for text in self.texts) / 100

    def figure(self, words: str) -> None:
        """Begin a figure: what is drawn from here on is read aloud by itself."""
        self.figures.append((len(self.shapes), words))

    def spoken(self, words: str, *, title: str) -> Iterator[tuple[str, str]]:
        """The page in layers as large as it is, each as an SVG picture with words for it.

        Parameters
        ----------
        words : str
            For what belongs to no figure.
        title : str
        """
        starts = [0, *(start for start, _ in self.figures), len(self.shapes)]
        said = [words, *(words for _, words in self.figures)]
        for layer, (first, end) in zip(said, pairwise(starts), strict=True):
            shapes = self.shapes[first:end]
            yield self._svg(shapes, title=title, description=layer, high=self.high), layer

    def rectangle(self, box: Box, fill: str) -> None:
        """A filled rectangle."""
        self.shapes.append(
            f'<rect x="{box.left:.0f}" y="{box.top:.0f}" width="{box.right - box.left:.0f}" '
            f'height="{box.bottom - box.top:.0f}" fill="{fill}"/>'
        )

    def drawing(self, svg: str, x: float, y: float, scale: float) -> None:
        """A drawing of other units, its origin at a place of the page."""
        self.shapes.append(
            f'<g transform="translate({x:.1f} {y:.1f}) scale({scale:.5f})">{svg}</g>'
        )

    def text(
        self, text: str, x: float, y: float, size: float, *, fill: str = INK, bold: bool = False
    ) -> float:
        """A text from ``x`` on the baseline ``y``; returns its width."""
        wide = text_width(text, size)
        uses = "".join(
            f'<use xlink:href="#g{self._number(glyph)}" transform="translate('
            f"{x + place * size:.1f} {y - rise * size:.1f}) "
            f'scale({scale * size / EM:.4f} {-scale * size / EM:.4f})"{_plain(scale)}/>'
            for glyph, place, rise, scale in placed_glyphs(text)
            if glyph.path
        )
        stroke = f' stroke="{fill}" stroke-width="{_BOLD if bold else 0}"'
        self.shapes.append(f'<g fill="{fill}"{stroke}>{uses}</g>')
        box = Box(x, y - TEXT_UP * size, x + wide, y + TEXT_DOWN * size)
        self.texts.append(PlacedText(text, box, size))
        return wide

    def _number(self, glyph: Glyph) -> int:
        return self.glyphs.setdefault(glyph, len(self.glyphs))

    def svg(self, *, title: str, description: str, high: float = A4_HIGH, decimals: int = 0) -> str:
        """The page as an SVG picture that needs nothing from outside.

        Parameters
        ----------
        title, description : str
            What a screen reader says.
        high : float
            Of the page.
        decimals : int
            Of the height in millimetres.
        """
        paper = ['<rect width="100%" height="100%" fill="#fff"/>']
        return self._svg(
            [*paper, *self.shapes],
            title=title,
            description=description,
            high=high,
            decimals=decimals,
        )

    def _svg(
        self, shapes: Sequence[str], *, title: str, description: str, high: float, decimals: int = 0
    ) -> str:
        drawn = "".join(shapes)
        used = set(map(int, _USED.findall(drawn)))
        glyphs = "".join(
            f'<path id="g{n}" d="{g.path}"/>' for g, n in self.glyphs.items() if n in used
        )
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" '
            f'xmlns:xlink="http://www.w3.org/1999/xlink" width="{A4_WIDE / 100:.0f}mm" '
            f'height="{high / 100:.{decimals}f}mm" '
            f'viewBox="0 0 {A4_WIDE:.0f} {high:.0f}" role="img">'
            f"<title>{escape(printable(title))}</title>"
            f"<desc>{escape(printable(description))}</desc>"
            f"<defs>{glyphs}</defs>{drawn}</svg>\n"
        )


def fitted_size(text: str, size: float, room: float) -> float:
    """The size, or the smaller one at which the text fits into the room."""
    wide = text_width(text, size)
    return size * min(1.0, room / wide) if wide else size


def _plain(scale: float) -> str:
    """Musical signs, which are set at a scale of their own, close up when made bold."""
    return "" if scale == 1.0 else ' stroke="none"'
