"""What stands in a line of music, and where is there room for more? Shapes with their boxes.

What the engraver drew, and what is set around it, are shapes alike. Questions about places are
asked far more often than shapes are added: so each shape is entered once in the columns that its
box reaches into, and under whose it is.

Conventions
-----------
- Sizes are tenths of the engraver's unit, y pointing down: a staff space is `SPACE`.
- A box and a shape are plain rows of facts: a page has some thousands of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

SPACE = 180.0
"""A staff space, in tenths of the engraver's unit."""

_STEP = 1.0  # beyond what is touched, so that rounding cannot hold a shape in place
_COLUMN = 2 * SPACE
_PASSED = frozenset({"line", "barLine"})
"""What other things may touch: the staff's own lines and bar lines."""


class Box(NamedTuple):
    """A rectangle in picture units, y pointing down."""

    left: float
    top: float
    right: float
    bottom: float

    def lower(self, by: float) -> Box:
        """The box so much lower, or higher where that is below zero."""
        return Box(self.left, self.top + by, self.right, self.bottom + by)

    def meets(self, other: Box, *, gap: float = 0.0) -> bool:
        """True when the two come nearer than ``gap``."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )


_NOWHERE = Box(0, 0, 0, 0)


class DrawnShape(NamedTuple):
    """Something drawn: its SVG, its box, what it is, and whose (an id, or nothing)."""

    svg: str
    box: Box
    kind: str
    owner: str = ""


@dataclass(slots=True)
class DrawnLine:
    """One line of music as shapes, to which more are added and from which none is taken.

    Attributes
    ----------
    shapes : list of DrawnShape
    chord_lefts : dict of str to float
        Where the chords begin, by their ids.
    staff : Box
    bars : dict of str to Box
        The staff of each bar, by its id.
    """

    shapes: list[DrawnShape] = field(default_factory=list)
    chord_lefts: dict[str, float] = field(default_factory=dict)
    staff: Box = _NOWHERE
    bars: dict[str, Box] = field(default_factory=dict)
    _places: _ShapePlaces = field(
        default_factory=lambda: _ShapePlaces(), init=False, repr=False, compare=False
    )

    def copied(self) -> DrawnLine:
        """The same line, to which more can be added."""
        return DrawnLine(list(self.shapes), self.chord_lefts, self.staff, self.bars)

    def of(self, owner: str, kind: str) -> Box | None:
        """The box of one kind of shape of a note, if it has one."""
        boxes = self._entered().owned.get((owner, kind))
        return hull(boxes) if boxes else None

    def add(self, svg: str, box: Box, kind: str, owner: str = "") -> None:
        """Draw something more."""
        self.shapes.append(DrawnShape(svg, box, kind, owner))

    def touched(self, box: Box, *, gap: float) -> list[Box]:
        """What a box comes too near to, the staff's own lines and bar lines left out.

        What is wide may be named more than once.
        """
        left, top = box.left - gap, box.top - gap
        right, bottom = box.right + gap, box.bottom + gap
        columns = self._entered().columns
        return [
            other
            for column in range(int(left // _COLUMN), int(right // _COLUMN) + 1)
            for other in columns.get(column, ())
            if other[0] < right and left < other[2] and other[1] < bottom and top < other[3]
        ]

    def cleared(self, box: Box, *, down: bool, gap: float) -> Box:
        """The box moved outwards until it touches nothing."""
        while obstacles := self.touched(box, gap=gap):
            high = box.bottom - box.top
            if down:
                top = max(obstacle.bottom for obstacle in obstacles) + gap + _STEP
            else:
                top = min(obstacle.top for obstacle in obstacles) - gap - high - _STEP
            box = Box(box.left, top, box.right, top + high)
        return box

    def way_out(self, boxes: Sequence[Box], *, down: bool, gap: float) -> float:
        """How far several boxes go outwards together until none touches anything; up is negative.

        What one of them was clear of may be touched once another has moved them all.
        """
        way, before = 0.0, 1.0
        while way != before:
            before = way
            for box in boxes:
                moved = box.lower(way)
                way += self.cleared(moved, down=down, gap=gap).top - moved.top
        return way

    def _entered(self) -> _ShapePlaces:
        """The places of all shapes; those that came since the last question are entered."""
        places = self._places
        if places.count < len(self.shapes):
            places.enter(self.shapes)
        return places


@dataclass(slots=True)
class _ShapePlaces:
    """Where the shapes of a line stand.

    Attributes
    ----------
    count : int
        Shapes that have been entered.
    columns : dict of int to list of Box
        What reaches into each column.
    owned : dict of (str, str) to list of Box
        By owner and kind.
    """

    count: int = 0
    columns: dict[int, list[Box]] = field(default_factory=dict)
    owned: dict[tuple[str, str], list[Box]] = field(default_factory=dict)

    def enter(self, shapes: Sequence[DrawnShape]) -> None:
        """Enter the shapes that are new."""
        columns, owned = self.columns, self.owned
        for _, box, kind, owner in shapes[self.count :]:
            owned.setdefault((owner, kind), []).append(box)
            if kind not in _PASSED:
                for column in range(int(box[0] // _COLUMN), int(box[2] // _COLUMN) + 1):
                    columns.setdefault(column, []).append(box)
        self.count = len(shapes)


def hull(boxes: Iterable[Box]) -> Box:
    """The box around several boxes."""
    whole = list(boxes)
    if len(whole) == 1:
        return whole[0]
    lefts, tops, rights, bottoms = zip(*whole, strict=True)
    return Box(min(lefts), min(tops), max(rights), max(bottoms))
