"""What of a printed page overlaps? Letters by the boxes of their outlines, pictures by their own.

Reference: PDFium, which reads the page back.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from typing import NamedTuple

import pypdfium2
import pypdfium2.raw as pdfium_c

SHARE = 0.05
"""Of the smaller box, from which on two overlap."""


_NO_LETTER = -9


class PlacedBox(NamedTuple):
    """What stands where, in points from the lower left corner."""

    what: str
    left: float
    bottom: float
    right: float
    top: float
    place: int = _NO_LETTER
    """Of a letter in the text: neighbours may lean over each other."""

    @property
    def is_drawing(self) -> bool:
        """Whether it is no letter."""
        return self.place == _NO_LETTER

    @property
    def area(self) -> float:
        """Square points."""
        return (self.right - self.left) * (self.top - self.bottom)

    def shared(self, other: PlacedBox) -> float:
        """The area that both cover."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.top, other.top) - max(self.bottom, other.bottom)
        return max(0.0, wide) * max(0.0, high)


def overlaps(pdf: bytes) -> list[str]:
    """Each pair that overlaps, with its page; letters beyond the edge of the page, too."""
    document = pypdfium2.PdfDocument(pdf)
    found = [
        f"page {number}: {fault}"
        for number, page in enumerate(document, 1)
        for fault in _faults(page)
    ]
    document.close()
    return found


def _faults(page: pypdfium2.PdfPage) -> Iterator[str]:
    wide, high = page.get_size()
    letters, pictures = list(_letters(page)), list(_pictures(page))
    for letter in letters:
        if letter.left < 0 or letter.bottom < 0 or letter.right > wide or letter.top > high:
            yield f"{letter.what} is beyond the edge"
    boxes = sorted((*letters, *pictures), key=lambda box: box.left)
    for place, one in enumerate(boxes):
        for other in boxes[place + 1 :]:
            if other.left >= one.right:
                break
            if one.is_drawing and other.is_drawing:
                continue  # `crowded_scores.collisions` knows which of these may touch
            if abs(one.place - other.place) != 1 and one.shared(other) > SHARE * min(
                one.area, other.area
            ):
                yield f"{one.what} and {other.what} at {one.left:.0f}, {one.top:.0f}"


def _letters(page: pypdfium2.PdfPage) -> Iterator[PlacedBox]:
    text = page.get_textpage()
    for place in range(text.count_chars()):
        letter = chr(pdfium_c.FPDFText_GetUnicode(text.raw, place))
        if not letter.isspace():
            box = PlacedBox(letter, *text.get_charbox(place), place)
            if box.area > 0:
                yield box


def _pictures(page: pypdfium2.PdfPage) -> Iterator[PlacedBox]:
    """What is filled on the page, such as notes; its tint left out."""
    most = page.get_width() * page.get_height() / 4
    for thing in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH]):
        filled, stroked = ctypes.c_int(), ctypes.c_int()
        pdfium_c.FPDFPath_GetDrawMode(thing.raw, filled, stroked)
        box = PlacedBox("a drawing", *thing.get_bounds())
        if filled.value and box.area < most:
            yield box
