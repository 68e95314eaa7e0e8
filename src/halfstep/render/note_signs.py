"""Which sign has a mark? Small polygons at a note, told apart by shape and not by colour.

A changing note has an open lozenge. A note that leads to the next has a flag that points to
it, open inside the scale and filled outside; two notes around a third have two flags that
meet. Sizes: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from halfstep.render.engraver import SPACE, Box
from halfstep.score import Mark

_STROKE = 0.2 * SPACE


@dataclass(frozen=True, slots=True)
class NoteSign:
    """A small sign at a note: polygons around its middle, in staff spaces."""

    polygons: tuple[tuple[tuple[float, float], ...], ...]
    filled: bool = False

    def box(self, x: float, y: float) -> Box:
        """What the sign with its stroke covers."""
        points = [point for polygon in self.polygons for point in polygon]
        wide = max(abs(across) for across, _ in points) * SPACE + _STROKE * 0.6
        high = max(abs(down) for _, down in points) * SPACE + _STROKE * 0.7
        return Box(x - wide, y - high, x + wide, y + high)

    def svg(self, x: float, y: float) -> str:
        """The sign around a point."""
        fill = "#000" if self.filled else "none"
        return "".join(
            f'<polygon points="{self._points(polygon, x, y)}" fill="{fill}" stroke="#000" '
            f'stroke-width="{_STROKE:g}"/>'
            for polygon in self.polygons
        )

    def _points(self, polygon: Sequence[tuple[float, float]], x: float, y: float) -> str:
        return " ".join(f"{x + a * SPACE:.1f},{y + b * SPACE:.1f}" for a, b in polygon)


_FLAG = ((-0.42, -0.46), (0.5, 0.0), (-0.42, 0.46))
_MEETING = (
    ((-0.66, -0.4), (0.0, 0.0), (-0.66, 0.4)),
    ((0.66, -0.4), (0.0, 0.0), (0.66, 0.4)),
)
SIGNS = {
    Mark.CHANGING: NoteSign((((-0.56, 0.0), (0.0, -0.66), (0.56, 0.0), (0.0, 0.66)),)),
    Mark.LEADS: NoteSign((_FLAG,)),
    Mark.LEADS_CHROMATIC: NoteSign((_FLAG,), filled=True),
    Mark.ENCLOSES: NoteSign(_MEETING),
}
"""The sign of each mark that is one, the nearest to the head first."""
