"""How large is a player's music printed, how many bars on a line, and on which tint?

Large print is set anew, not blown up: the staff is larger and has fewer bars, the page stays the
page. Words grow with the staff; in large print none are smaller than the text, and none are grey.
A tint lies behind a whole page, so light that black ink keeps its contrast, and says nothing.

Sources: WCAG 2.2, 1.4.6 (contrast of 7 to 1) and its definition of large print's 18 points as
large-scale text; 16 points for large print is common practice, from memory. Whether tints help a
reader is in dispute: it is the reader's choice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from types import MappingProxyType

from halfstep.errors import BriefError, did_you_mean
from halfstep.render.score_pictures import STAFF_MM
from halfstep.render.typesetting import Paper
from halfstep.score import Score

LARGE = "large"
LARGE_STAFF_MM = 10.6
"""Of large print: the text that goes with it has 16 points."""
LEAST_STAFF_MM, MOST_STAFF_MM = 5.0, 16.0
MOST_BARS = 8
TINTS = MappingProxyType(
    {
        "cream": "#fdf5dc",
        "yellow": "#fff6b8",
        "green": "#e3f3df",
        "blue": "#e0eefb",
        "rose": "#fbe6e8",
        "grey": "#ececec",
    }
)
"""Colours of the page by name, as sRGB."""

_LARGE_FROM_MM = 8.5  # a staff from which on a page is large print
_MOST_TEXT = 2.2  # words grow with the staff, up to 22 points
_LARGE_BARS = 2
_FOOT_MM = 14.0  # more room at the foot of a page whose words are twice as large
_WORD = re.compile(r"(\d+(?:\.\d+)?)\s*mm\b|(\d+)\s*bars?\b|([^\s,]+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PrintSetting:
    """How the pages of a player are set.

    Attributes
    ----------
    staff_mm : float or None
        Height of a staff; None is the usual one, which may be a little lower where that saves a
        page.
    bars : int or None
        The most bars on a line; None as many as usual, in large print two.
    tint : str
        A name of `TINTS`; empty for white.
    """

    staff_mm: float | None = None
    bars: int | None = None
    tint: str = ""

    @property
    def is_large(self) -> bool:
        """Whether this is large print: nothing small, nothing grey."""
        return self.staff_mm is not None and self.staff_mm >= _LARGE_FROM_MM

    @property
    def text_scale(self) -> float:
        """How much larger than usual words are."""
        return min(_MOST_TEXT, max(1.0, (self.staff_mm or STAFF_MM) / STAFF_MM))

    @property
    def bars_a_line(self) -> int | None:
        """The most bars on a line; None as many as usual."""
        return self.bars or (_LARGE_BARS if self.is_large else None)

    def on_lines(self, score: Score) -> Score:
        """A part with as many bars on a line as are wanted."""
        bars = self.bars_a_line
        return replace(score, bars_a_system=bars) if bars else score

    def on(self, paper: Paper) -> Paper:
        """A sheet with room at its foot for words of this size."""
        return replace(paper, bottom_mm=paper.bottom_mm + _FOOT_MM * (self.text_scale - 1.0))

    def __str__(self) -> str:
        """As it is written: ``10.6mm, 2 bars, cream``; empty for the usual."""
        size = "" if self.staff_mm is None else f"{self.staff_mm:g}mm"
        size = LARGE if self.staff_mm == LARGE_STAFF_MM else size
        bars = f"{self.bars} bar{'s' * (self.bars > 1)}" if self.bars else ""
        return ", ".join(filter(None, (size, bars, self.tint)))


USUAL = PrintSetting()


def print_setting(text: str, *, field: str = "print_setting") -> PrintSetting:
    """A setting as it is written: ``large``, ``9mm 3 bars cream``; empty for the usual.

    Raises
    ------
    BriefError
        When a word of it is none.
    """
    staff_mm: float | None = None
    bars: int | None = None
    tint = ""
    for size, count, word in _WORD.findall(text):
        if size:
            staff_mm = _staff(float(size), field)
        elif count:
            bars = _bars(int(count), field)
        elif word.lower() == LARGE:
            staff_mm = LARGE_STAFF_MM
        elif word.lower() in TINTS:
            tint = word.lower()
        else:
            known = (LARGE, *TINTS)
            raise BriefError(
                f"`{field}` {word!r}{did_you_mean(word, known) or ':'} choose from "
                f"{', '.join(known)}, a staff such as 9mm, and 1 to {MOST_BARS} bars"
            )
    return PrintSetting(staff_mm, bars, tint)


def _staff(staff_mm: float, field: str) -> float:
    if not LEAST_STAFF_MM <= staff_mm <= MOST_STAFF_MM:
        raise BriefError(
            f"`{field}`: a staff of {staff_mm:g}mm; give {LEAST_STAFF_MM:g}mm to "
            f"{MOST_STAFF_MM:g}mm"
        )
    return staff_mm


def _bars(count: int, field: str) -> int:
    if not 1 <= count <= MOST_BARS:
        raise BriefError(f"`{field}`: {count} bars on a line; give 1 to {MOST_BARS} bars")
    return count


def setting_data(setting: PrintSetting) -> dict[str, object]:
    """A setting as a template takes it."""
    return {
        "scale": setting.text_scale,
        "large": setting.is_large,
        "tint": TINTS.get(setting.tint, ""),
    }
