"""How near may two lines of music stand? What of each reaches how far, column by column.

A chord over one line finds room between what stands under the other; and under each head there is
room for the wedge that marks it.

Conventions
-----------
- Picture units of `halfstep.render.engraver`, counted from the top of the staff downwards and from
  the left end of a line; a column is one staff space wide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import ceil

from halfstep.render.drawn_line import SPACE, Box, DrawnLine, hull

_GAP = 0.3 * SPACE
"""White between two lines, at least."""
WEDGE = 1.0 * SPACE
"""The height of a wedge."""
_WEDGE_GAP = 0.2 * SPACE
"""White between a wedge and what stands over it."""
_WEDGE_REACH = 0.8 * SPACE
"""How far a wedge reaches to both sides."""

HeadPlace = tuple[int, int]
"""A head by its bar in the score and its note in the bar."""


@dataclass(frozen=True)
class LineOutline:
    """What a line of music takes up.

    Attributes
    ----------
    line : DrawnLine
    """

    line: DrawnLine

    @cached_property
    def box(self) -> Box:
        """All that is drawn."""
        return hull(shape.box for shape in self.line.shapes)

    @property
    def left(self) -> float:
        """Where it begins: signs may stand to the left of the staff."""
        return min(0.0, self.box.left)

    @cached_property
    def heads(self) -> dict[HeadPlace, Box]:
        """Its note heads."""
        return dict(self._heads())

    def _heads(self) -> Iterator[tuple[HeadPlace, Box]]:
        for shape in self.line.shapes:
            if shape.kind == "notehead" and shape.owner.startswith("n-"):
                _, bar, note = shape.owner.split("-")
                yield (int(bar), int(note)), shape.box

    @cached_property
    def tops(self) -> list[float]:
        """How far up each column reaches, the staff at least."""
        tops = [0.0] * self._count
        for shape in self.line.shapes:
            for column in self._columns(shape.box.left, shape.box.right):
                tops[column] = min(tops[column], shape.box.top - self.line.staff.top)
        return tops

    @cached_property
    def bottoms(self) -> list[float]:
        """How far down each column reaches, wedges left out, the staff at least."""
        bottoms = [self.line.staff.bottom - self.line.staff.top] * self._count
        for shape in self.line.shapes:
            for column in self._columns(shape.box.left, shape.box.right):
                bottoms[column] = max(bottoms[column], shape.box.bottom - self.line.staff.top)
        return bottoms

    @cached_property
    def wedges(self) -> dict[HeadPlace, float]:
        """Where the wedge under each head begins."""
        return {
            place: max(self.bottoms[column] for column in self._under(head)) + _WEDGE_GAP
            for place, head in self.heads.items()
        }

    @cached_property
    def marked_bottoms(self) -> list[float]:
        """How far down each column reaches, wedges counted."""
        bottoms = list(self.bottoms)
        for place, head in self.heads.items():
            for column in self._under(head):
                bottoms[column] = max(bottoms[column], self.wedges[place] + WEDGE)
        return bottoms

    def _under(self, head: Box) -> range:
        middle = (head.left + head.right) / 2
        return self._columns(middle - _WEDGE_REACH, middle + _WEDGE_REACH)

    @property
    def _count(self) -> int:
        return ceil((self.box.right - self.left) / SPACE) + 2

    def _columns(self, left: float, right: float) -> range:
        first = max(0, int((left - self.left) / SPACE))
        return range(first, min(self._count, int((right - self.left) / SPACE) + 1))


def least_distance(upper: LineOutline, lower: LineOutline) -> float:
    """How far the staves of two lines must be apart, from top to top."""
    pairs = zip(upper.marked_bottoms, lower.tops, strict=False)
    return max(bottom - top for bottom, top in pairs) + _GAP
